"""Power that fails during a push over the line leaves the old pack or the new one, never neither."""

from __future__ import annotations

import pytest

from tests.display.power_cuts import EDITED, OLD, PUSHES, WAYS, CutFlash, cut_everywhere, pushed

pytestmark = pytest.mark.usefixtures("either_display")


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("push", PUSHES)
def test_power_cut_in_a_push(push: str, way: str) -> None:
    counts = cut_everywhere(push, way, 9 if push in ("full", "difference") else 1, WAYS.index(way))
    print(push, way, dict(counts))
    assert counts["cuts"] == counts["pushes after"] >= (10 if push in ("full", "difference") else 2)
    assert counts["came up old"] > 0
    if way == "after" and push == "switch":
        assert counts["came up new"] > 0


def test_the_difference_push_copies() -> None:
    flash = CutFlash()
    pushed(flash, OLD)
    before = flash.count
    _, reused = pushed(flash, EDITED)
    assert reused >= len(EDITED) - 2 * 1024
    assert flash.count > before
