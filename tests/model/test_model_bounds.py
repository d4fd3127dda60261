"""The document says how large a design may be, in the numbers of the program."""

from __future__ import annotations

import re
from pathlib import Path

from hmic.language import design_bounds


def test_the_document_gives_the_limits() -> None:
    text = (Path(__file__).parents[2] / "hmic/model/DESIGN.md").read_text(encoding="utf-8")
    table = text.partition("## How large a design may be")[2].partition("\n## ")[0]
    said = {int(number.replace(",", "")) for number in re.findall(r"\d[\d,]*", table)}
    limits = {value for name, value in vars(design_bounds).items() if name.isupper()}
    assert limits <= said, limits - said
