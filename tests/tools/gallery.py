"""The page of every form of every widget, with the sentence that makes it:
``python -m tests.tools.gallery`` writes GALLERY.md and its pictures out of ``gallery/forms.txt``."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

from PIL import Image

from hmic.language.parser import parse
from hmic.language.syntax import Phrase, Pipe, Widget, pieces
from tests.tools.widget_pictures import ROOT, alone, one_screen, paint

PAGE = ROOT / "hmic" / "language" / "GALLERY.md"
FOLDER = PAGE.parent / "gallery"
FORMS = FOLDER / "forms.txt"
_SIZE = re.compile(r"(\w+), (\d+) by (\d+) mm")
_HEAD = """# Every form of every widget

Each picture is painted by the tool from the sentence below it, on a piece of the example's panel, by day.
What the words mean is told in [LANGUAGE.md](LANGUAGE.md). This page is written by
`python -m tests.tools.gallery`, out of [forms.txt](gallery/forms.txt).
"""


class Form(NamedTuple):
    """A sentence with its lines below, of which ``kind``, the number it has there, and the size in mm of its
    picture."""

    kind: str
    number: int
    text: str
    size: tuple[int, int]

    @property
    def file(self) -> Path:
        """Its picture."""
        return FOLDER / f"{self.kind}-{self.number}.png"

    @property
    def layout(self) -> str:
        """A screen that shows nothing else."""
        first, *rest = self.text.split("\n")
        if first == "plan":
            return "\n".join(['screen only "Only"', *(f"    {line}" for line in (first, *rest))]) + "\n"
        place = " freely" if first == "freely" else f"    {first}"
        head = one_screen("").rstrip().removesuffix("in place").rstrip()
        if self.kind == "screens":
            head = head.replace('only "Only"', 'drive "Drive"')
        return "\n".join([head, f"    in place{place}", *(f"    {line}" for line in rest)]) + "\n"


@cache
def forms() -> tuple[Form, ...]:
    """All of them, in the order of the page."""
    found: list[Form] = []
    kind, size = "", (0, 0)
    lines = FORMS.read_text(encoding="utf-8").split("\n")
    text = "\n".join(line for line in lines if not line.startswith("#"))
    for block in text.strip().split("\n\n"):
        first, _, rest = block.partition("\n")
        headed = _SIZE.fullmatch(first)
        if headed is not None:
            kind, size = headed[1], (int(headed[2]), int(headed[3]))
        number = sum(form.kind == kind for form in found) + 1
        found.append(Form(kind, number, rest if headed else block, size))
    return tuple(found)


def said(form: Form) -> list[tuple[str, Phrase]]:
    """The phrases of a form, each with the kind of what says it."""
    layout, findings = parse(form.layout, FORMS.name)
    assert not findings, findings
    found: list[tuple[str, Phrase]] = []
    for piece in (piece for area in layout.screens[0].areas for piece in pieces(area.body)):
        if isinstance(piece, Widget):
            for widget in (piece, *piece.children):
                found += [(widget.kind, phrase) for phrase in widget.phrases]
        elif isinstance(piece, Pipe):
            found += [("pipe", phrase) for phrase in piece.phrases]
    return found


def painted(form: Form) -> Image.Image:
    """Its picture."""
    return paint(alone(form.layout, form.size), **{"inverter.temperature": 64.0})


def page() -> str:
    """The text of GALLERY.md."""
    lines = [_HEAD]
    kind = ""
    for form in forms():
        if form.kind != kind:
            kind = form.kind
            lines.append(f"## {kind}\n")
        lines.append(f"![{kind} {form.number}](gallery/{form.file.name})\n\n```layout\n{form.text}\n```\n")
    return "\n".join(lines)


def main() -> None:
    for old in FOLDER.glob("*.png"):
        old.unlink()
    for form in forms():
        painted(form).save(form.file, optimize=True)
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
