"""The example designs as packs."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from hmic.arrange.compose import arrange
from hmic.model.load import load
from hmic.pack.writer import write
from hmic.paint.operations import Drawing

LAYOUTS = Path(__file__).parents[2] / "layouts"

SMALL = """\
name: Made up
panel: {pixels: [800, 480], size: [154.1 mm, 92.5 mm], eye distance: 700 mm, colour depth: 16, baud: 115200,
  flash: 2 MB, memory: 512 kB}
fonts: {text: B612-Regular, figures: B612-Bold}
start: all
dbc: car.dbc
"""
"""The design.yaml of a design that a test makes: start screen `all`, messages in car.dbc."""


@cache
def example_pack(name: str) -> bytes:
    """The pack of ``layouts/NAME``."""
    return write(design_drawing(LAYOUTS / name))


def design_drawing(folder: Path) -> Drawing:
    """What a design draws."""
    design, findings = load(folder)
    assert design is not None, findings
    arranged, findings = arrange(design)
    assert arranged is not None, findings
    return arranged.drawing
