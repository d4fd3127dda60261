"""Kept pictures: each operation, each doubt, figures at sizes."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.paint import moving_scenes, scenes
from tests.tools import golden

KEPT = Path(__file__).parent / "golden"
STATES = {"unseen": 0, "stale": 1, "out_of_range": 2, "live": 3 + 152}
MOVING = {"unseen": (0, 0), "stale": (1, 0), "out_of_range": (2, 0), "live": (3 + 61, 700), "still": (3, 700)}


@pytest.mark.parametrize("name", STATES)
def test_operations(name: str) -> None:
    golden.compare(scenes.operations_scene(STATES[name]).picture(), KEPT / f"operations_{name}.png")


def test_operations_by_day_on_sixteen_bits() -> None:
    picture = scenes.operations_scene(STATES["live"]).picture(theme=1, depth=16)
    golden.compare(picture, KEPT / "operations_day_16.png")


@pytest.mark.parametrize("name", MOVING)
def test_what_moves_and_comes_over_the_line(name: str) -> None:
    raw, clock = MOVING[name]
    golden.compare(moving_scenes.moving_scene(raw).picture(clock=clock), KEPT / f"moving_{name}.png")


def test_moving_by_day_on_sixteen_bits() -> None:
    picture = moving_scenes.moving_scene(3 + 20).picture(theme=1, depth=16, clock=1500)
    golden.compare(picture, KEPT / "moving_day_16.png")


@pytest.mark.parametrize(
    ("name", "path", "heights", "width"),
    [
        ("regular_small", scenes.REGULAR, (9, 12, 16, 24), 650),
        ("bold_small", scenes.BOLD, (9, 12, 16, 24), 650),
        ("fallback_small", scenes.FALLBACK, (9, 12, 16, 24), 650),
        ("bold_large", scenes.BOLD, (40, 80), 1960),
    ],
)
def test_figures(name: str, path: Path, heights: tuple[int, ...], width: int) -> None:
    golden.compare(scenes.figures_scene(path, heights, width).picture(), KEPT / f"figures_{name}.png")


def test_a_difference_says_where_and_how_to_accept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv(golden.ACCEPT, raising=False)
    picture = scenes.Scene(20, 10).picture()
    kept = tmp_path / "paint" / "golden" / "trial.png"
    with pytest.raises(AssertionError, match="HMIC_ACCEPT=1"):
        golden.compare(picture, kept)
    monkeypatch.setenv(golden.ACCEPT, "1")
    golden.compare(picture, kept)
    monkeypatch.delenv(golden.ACCEPT)
    golden.compare(picture, kept)
    changed = picture.copy()
    changed.putpixel((4, 2), (255, 0, 0))
    with pytest.raises(AssertionError, match=r"1 pixels within \(4, 2, 5, 3\)"):
        golden.compare(changed, kept)
