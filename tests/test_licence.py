"""What is passed on says under which terms."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_the_licence_texts_are_named_and_there() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    files = [path for pattern in project["license-files"] for path in ROOT.glob(pattern)]
    assert project["license"] == "MIT" and ROOT / "hmic" / "LICENSE" in files
    assert "WITHOUT WARRANTY OF ANY KIND" in (ROOT / "hmic" / "LICENSE").read_text()
    # Each font has the licence that its name begins with.
    for font in (ROOT / "fonts_open").glob("*.?tf"):
        family = re.split(r"[-S]", font.name)[0]
        assert ROOT / "fonts_open" / f"{family}-LICENCE.txt" in files, font.name


def test_published_figures_are_cited_by_document() -> None:
    """Neither the reference values nor the limits name a private page."""
    pages = re.compile(r"\b[\w-]+\.(?:com|net|de|co\.uk)\b|\bwww\.")
    for path in [*(ROOT / "tests" / "reference").glob("*.csv"), ROOT / "hmic" / "model" / "limits.py"]:
        assert not pages.search(path.read_text()), path.name
