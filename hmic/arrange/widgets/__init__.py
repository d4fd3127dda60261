"""The widgets, one file each.

A widget module has ``SUBJECT`` (what follows its name), ``PHRASES`` (the kinds of phrases it takes) and
``draw(widget, box, canvas)``, which gives a ``SymbolFact`` if it paints a pictogram.
"""

from __future__ import annotations

from types import ModuleType

from hmic.arrange.widgets import (
    bar,
    button,
    cells,
    chart,
    choice,
    clock,
    dial,
    label,
    lamp,
    level,
    list,
    picture,
    reading,
    screens_row,
    shape,
    slider,
    stepper,
    switch,
    symbol,
    words,
)

WIDGETS: dict[str, ModuleType] = {
    module.__name__.rpartition(".")[2]: module
    for module in (
        label, reading, words, clock, bar, level, dial, lamp, symbol, cells, chart, list, picture, shape,
        button, switch, choice, stepper, slider,
    )
} | {"screens": screens_row}  # fmt: skip
