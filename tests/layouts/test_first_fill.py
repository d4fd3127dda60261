"""Every screen of the examples shows all its values soon after it came up, on a slow line too."""

from __future__ import annotations

import pytest

from tests.bench.fill import fills


@pytest.mark.parametrize("screens", [("chart", "cells"), ("drive", "motor", "music")], ids=" ".join)
def test_a_screen_of_the_recorded_drive_is_there_within_its_time(screens: tuple[str, ...]) -> None:
    for each in fills("dunlin", screens):
        assert 0 < each.seconds <= 0.6, each


def test_a_screen_of_the_small_example_is_there_within_its_time() -> None:
    assert all(0 < each.seconds <= 0.1 for each in fills("roost"))
