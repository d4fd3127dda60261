"""The reference's picture of each widget is what its own sentence paints."""

from __future__ import annotations

import re

import pytest

from hmic.arrange.widgets import WIDGETS
from hmic.model.themes_file import REQUIRED_ROLES
from hmic.paint import pictograms
from tests.tools import golden
from tests.tools.widget_pictures import (
    BLOCKS,
    FOLDER,
    REFERENCE,
    SCREENS,
    block,
    painted,
    readings,
    screen,
    sentences,
    sheet,
)


@pytest.mark.parametrize("kind", sorted(sentences()))
def test_picture_of_a_widget(kind: str) -> None:
    golden.compare(painted(kind, sentences()[kind]), FOLDER / f"{kind}.png")


def test_every_widget_has_a_picture() -> None:
    assert set(sentences()) == set(WIDGETS)
    linked = re.findall(r"!\[\w+\]\(pictures/(\w+)\.png\)", REFERENCE.read_text(encoding="utf-8"))
    assert sorted(linked) == sorted(WIDGETS)


@pytest.mark.parametrize("area", BLOCKS)
def test_picture_of_a_block(area: str) -> None:
    name = BLOCKS[area][0]
    golden.compare(block(area), FOLDER / f"{name}.png")
    assert f"(pictures/{name}.png)" in REFERENCE.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", SCREENS)
def test_picture_of_a_screen(name: str) -> None:
    golden.compare(screen(name), FOLDER / f"{name}.png")
    assert f"(pictures/{name}.png)" in REFERENCE.read_text(encoding="utf-8")


def test_picture_of_texts_side_by_side() -> None:
    golden.compare(readings(), FOLDER / "readings.png")
    assert "(pictures/readings.png)" in REFERENCE.read_text(encoding="utf-8")


def test_picture_of_the_pictograms() -> None:
    golden.compare(sheet(), FOLDER / "pictograms.png")


def section(title: str) -> str:
    return REFERENCE.read_text(encoding="utf-8").split(f"## {title}\n")[1].split("\n## ")[0]


def test_every_pictogram_is_listed_with_its_meaning() -> None:
    listed = dict(re.findall(r"`(\w+)` \| ([^|]+?) \|", section("Pictograms")))
    assert listed == {name: pictograms.words(name) for name in pictograms.names()}
    assert "(pictures/pictograms.png)" in section("Pictograms")


def test_every_colour_role_is_listed() -> None:
    listed = re.findall(r"^\| `(\w+)` \|", section("Colour roles"), re.MULTILINE)
    assert tuple(listed) == REQUIRED_ROLES
