"""Builds the design of a page's example and says what hmic finds in it."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from hmic.cli.pages import BASE, MARK, Block, Page
from hmic.compile.compiling import compile_design
from hmic.diagnostics import Finding

STUB = 'screen drive "Drive"\n    plan\n        here\n\n'


@dataclass(frozen=True)
class Place:
    """Where the mark stands: file, line, column and end column (on the same line)."""

    file: str
    line: int
    column: int
    end: int | None


def build(page: Page, role: str, folder: Path) -> Place | None:
    """Writes the design with the page's blocks of a role into ``folder``; gives the marked place."""
    shutil.copytree(BASE, folder)
    place = None
    blocks = page.of(role) or (page.of("wrong") if role == "right" else ())
    for block in (*page.of("with"), *blocks):
        place = _write(block, folder) or place
    return place


def _write(block: Block, folder: Path) -> Place | None:
    if block.target in ("$", "!"):
        return None
    if block.target == "folder":
        _folder(block, folder)
        return None
    name, text = block.target, block.text
    if block.target == "here":
        name = "drive.layout"
        text = STUB + "".join(
            f"    {line}\n" if line else "\n" for line in block.text.rstrip("\n").split("\n")
        )
    elif block.way == "more":
        brought = tuple(f"{line.split(':')[0]}:" for line in text.split("\n") if line[:1].isalpha())
        base = (folder / name).read_text(encoding="utf-8").splitlines(keepends=True)
        text = "".join(line for line in base if not brought or not line.startswith(brought)) + text
    elif block.way == "swap":
        text = _swapped((folder / name).read_text(encoding="utf-8"), text)
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    encoding = block.way.removeprefix("as ") if block.way.startswith("as ") else "utf-8"
    (folder / name).write_bytes(text.replace(MARK, "").encode(encoding))
    return _marked(text, name)


def _folder(block: Block, folder: Path) -> None:
    names = block.text.split()
    for path in list(folder.iterdir()):
        if path.name not in names:
            path.unlink()
    for name in names:
        path = folder / name
        if name.endswith("/"):
            path.unlink(missing_ok=True)
            path.mkdir()
        elif not path.exists():
            path.write_text((BASE / "drive.layout").read_text(encoding="utf-8"), encoding="utf-8")


def _swapped(base: str, swap: str) -> str:
    """Each line in place of the first with its key and depth; a new key goes below the line before."""
    lines = base.split("\n")
    last = 0
    for line in swap.rstrip("\n").split("\n"):
        found = re.match(rf"[ {MARK}]*[\w. ]+{MARK}?:", line)
        key = found.group().replace(MARK, "") if found else line
        at = next((at for at, other in enumerate(lines) if other.startswith(key)), None)
        if at is None:
            lines.insert(last + 1, line)
            last += 1
        else:
            lines[at] = line
            last = at
    return "\n".join(lines)


def _marked(text: str, name: str) -> Place | None:
    if MARK not in text:
        return None
    before, token, *_ = text.split(MARK)
    line = before.count("\n") + 1
    column = len(before) - before.rfind("\n")
    # A sentence that ends too early is pointed at behind its last letter.
    return Place(name, line, column, column + len(token) if token and "\n" not in token else None)


def found_in(folder: Path) -> list[Finding]:
    """Everything that checking the design finds, notes too."""
    return list(compile_design(folder).findings)
