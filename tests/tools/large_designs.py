"""Designs of any size, generated, that are right or have everything wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from tests.check.good_design import FILES

Files = dict[str, str]

ROAD = FILES["road.layout"].partition("\n")[2]


def signals(count: int, more: str = "", unit: str = "V", source: str = "pipe") -> Files:
    """A good design with so many more signals; ``more`` and the others may spoil each of them. A ``{n}``
    is its number."""
    line = f"  more.value_{{n}}: {{unit: {unit}, range: [0, 100], from: {source}, stale: 1 s{more}}}\n"
    return with_signals("".join(line.replace("{n}", str(n)) for n in range(count)))


def with_signals(lines: str, outputs: str = "") -> Files:
    """A good design with more lines in its signals.yaml."""
    before, _, after = FILES["signals.yaml"].partition("outputs:\n")
    return FILES | {"signals.yaml": f"{before}{lines}outputs:\n{after}{outputs}"}


def derived(count: int, formula: str = "pack.voltage + {n} V") -> Files:
    """A good design with so many more signals that are worked out."""
    line = f'  more.value_{{n}}: {{unit: V, range: [-9999, 9999], is: "{formula}"}}\n'
    return with_signals("".join(line.replace("{n}", str(n)) for n in range(count)))


def from_can(count: int, message: str = "More{n}") -> Files:
    """A good design with so many more messages, each with a signal of its own."""
    files = signals(count, source=f"{message}.Value")
    field = ' SG_ Value : 0|8@1+ (1,0) [0|255] "V" Vector__XXX\n'
    added = "".join(f"BO_ {2147483648 + 4096 + n} More{n}: 8 Pack\n{field}" for n in range(count))
    return files | {"car.dbc": f"{FILES['car.dbc']}\n{added}"}


def outputs(count: int, name: str = "more.value_{n}") -> Files:
    """A good design with so many more signals, and outputs of them."""
    lines = signals(count)["signals.yaml"].split("stale: 1 s")
    asked = "".join(f"  {name}: {{to: pipe}}\n".replace("{n}", str(n)) for n in range(count))
    return {**FILES, "signals.yaml": "stale: 1 s".join(lines) + asked}


def screens(count: int, old: str = "", new: str = "") -> Files:
    """A good design with so many more screens, no two with the same lines; a word of each may be
    spoilt."""
    text = "".join(
        f'screen more_{n} "More {n}"\n'
        + ROAD.replace("Power", f"Power {n}").replace("Battery", f"Battery {n}")
        for n in range(count)
    )
    return FILES | {"more.layout": text.replace(old, new) if old else text}


def shown(count: int, signal: str = "more.value_{n}") -> Files:
    """A good design with so many more signals, each shown on one of the screens that hold ten."""
    texts = []
    for n in range(count):
        if n % 10 == 0:
            texts.append(f'screen more_{n} "More {n}"\n    plan\n        all\n    in all across\n')
        texts.append(f'        reading {signal} as "0 V", text 16 arcmin\n'.replace("{n}", str(n)))
    return signals(count) | {"more.layout": "".join(texts)}


def themed(count: int) -> Files:
    """A good design with so many more colour roles in every theme."""
    roles = "    roles:\n" + "".join(f'      role_{n}: "#{n:06x}"\n' for n in range(count))
    return FILES | {"themes.yaml": FILES["themes.yaml"].replace("    roles:\n", roles)}


def spoken(count: int) -> Files:
    """A good design with so many lines in a table of words, none of a text that stands anywhere."""
    text = "".join(f'"Text {n}": "Wort {n}"\n' for n in range(count))
    return FILES | {"words/de.yaml": text, "design.yaml": FILES["design.yaml"] + "language: de\n"}


DESIGNS: dict[str, tuple[Callable[[int], Files], int]] = {
    "signals": (signals, 250),
    "signals with a key that nothing knows": (lambda count: signals(count, ", colour: red"), 250),
    "signals with a key misspelt": (
        lambda count: signals(count).copy() | _swapped(count, "stale", "stael"),
        500,
    ),
    "signals with an unknown unit": (lambda count: signals(count, unit="knots{n}"), 250),
    "signals twice": (
        lambda count: with_signals("  a.b: {flag: true, from: pipe, stale: 1 s}\n" * count),
        500,
    ),
    "signals from CAN": (from_can, 250),
    "signals from messages that are not there": (lambda count: from_can(count, "Other{n}"), 250),
    "signals worked out": (derived, 250),
    "signals worked out from each other": (lambda count: derived(count, "more.value_{n} * 2"), 250),
    "signals worked out from none": (lambda count: derived(count, "more.other_{n} * 2"), 250),
    "outputs": (outputs, 250),
    "outputs of nothing": (lambda count: outputs(count, "more.other_{n}"), 250),
    "signals shown": (shown, 80),
    "signals shown that are not there": (lambda count: shown(count, "more.other_{n}"), 100),
    "screens": (screens, 12),
    "screens with signals that are not there": (lambda count: screens(count, "pack.", "pakc."), 12),
    "screens with areas that are not there": (lambda count: screens(count, "    in ", "    in x"), 12),
    "screens with words that are not known": (lambda count: screens(count, "caution", "cuation"), 12),
    "screens that lead nowhere": (lambda count: screens(count, "goes to", "goes to x"), 12),
    "colour roles": (themed, 250),
    "words": (spoken, 250),
}
"""By name, with the size of a small one. Eight times as much is a large one."""


def _swapped(count: int, old: str, new: str) -> Files:
    return {"signals.yaml": signals(count)["signals.yaml"].replace(old, new)}


def written(folder: Path, files: Mapping[str, str | bytes]) -> Path:
    """The folder, made, with the files in it."""
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return folder
