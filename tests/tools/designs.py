"""The example designs as packs."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hmic.arrange.compose import arrange
from hmic.model.load import load
from hmic.pack.writer import write

LAYOUTS = Path(__file__).parents[2] / "layouts"


@cache
def example_pack(name: str) -> bytes:
    """The pack of ``layouts/NAME``."""
    design, findings = load(LAYOUTS / name)
    assert design is not None, findings
    arranged, findings = arrange(design)
    assert arranged is not None, findings
    return write(arranged.drawing)
