"""Designs of any size, generated, that are right or have every line wrong."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from tests.check.good_design import FILES

ROAD = FILES["road.layout"]


def signals(count: int, wrong: bool = False) -> dict[str, str]:
    """A good design with so many more signals; ``wrong``: each has a key that nothing knows."""
    odd = ", colour: red" if wrong else ""
    more = "".join(
        f"  more.value_{n}: {{unit: V, range: [0, 100], from: pipe, stale: 1 s{odd}}}\n" for n in range(count)
    )
    before, outputs, after = FILES["signals.yaml"].partition("outputs:")
    return FILES | {"signals.yaml": before + more + outputs + after}


def screens(count: int, wrong: bool = False) -> dict[str, str]:
    """A good design with so many more screens of seven areas; ``wrong``: each line shows a signal that is
    not there."""
    lines = []
    for n in range(count):
        lines.append(f'screen more_{n} "More {n}"\n')
        body = ROAD.partition("\n")[2]
        lines.append(body.replace("pack.", "wrong.").replace("vehicle.", "wrong.") if wrong else body)
    return FILES | {"more.layout": "".join(lines)}


def layout_lines(count: int, line: str) -> dict[str, str]:
    """A good design with one more screen that holds a line so many times; ``{n}`` in it is its number."""
    body = "".join(f"    {line.format(n=n)}\n" for n in range(count))
    return FILES | {"more.layout": f'screen more "More"\n{body}'}


def written(folder: Path, files: Mapping[str, str | bytes]) -> Path:
    """The folder, made, with the files in it."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content.encode() if isinstance(content, str) else content)
    return folder
