"""The reference's picture of each widget is what its own sentence paints."""

from __future__ import annotations

import re

import pytest

from hmic.arrange.widgets import WIDGETS
from tests.tools import golden
from tests.tools.widget_pictures import FOLDER, REFERENCE, painted, sentences


@pytest.mark.parametrize("kind", sorted(sentences()))
def test_picture_of_a_widget(kind: str) -> None:
    golden.compare(painted(kind, sentences()[kind]), FOLDER / f"{kind}.png")


def test_every_widget_has_a_picture() -> None:
    assert set(sentences()) == set(WIDGETS)
    linked = re.findall(r"!\[\w+\]\(pictures/(\w+)\.png\)", REFERENCE.read_text(encoding="utf-8"))
    assert sorted(linked) == sorted(WIDGETS)
