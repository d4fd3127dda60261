"""The widgets, one file each.

A widget module has ``SUBJECT`` (what follows its name: ``none``, ``text``, ``value``, ``signal`` or
``pictogram``), ``PHRASES`` (the kinds of phrases it takes) and ``draw(widget, box, canvas)``.
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
    shape,
    slider,
    stepper,
    switch,
    symbol,
    words,
)

WIDGETS: dict[str, ModuleType] = {
    "label": label,
    "reading": reading,
    "words": words,
    "clock": clock,
    "bar": bar,
    "level": level,
    "dial": dial,
    "lamp": lamp,
    "symbol": symbol,
    "cells": cells,
    "chart": chart,
    "list": list,
    "picture": picture,
    "shape": shape,
    "button": button,
    "switch": switch,
    "choice": choice,
    "stepper": stepper,
    "slider": slider,
}
