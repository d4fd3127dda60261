"""What values take on the line beside the floor of the bench."""

from __future__ import annotations

import pytest

from tests.bench.drive import drive
from tests.bench.wire import entropy, floor


@pytest.mark.parametrize(
    ("screen", "most"), [("motor", 1.48), ("charging", 1.44), ("drive", 1.43), ("cells", 1.2)]
)
def test_a_minute_of_a_screen_is_near_the_floor(screen: str, most: float) -> None:
    """What moves most stands near the start of the list, where it takes fewest bits."""
    played = drive(60.0, screen)
    updates = [(0,) * len(played.updates[-1][1])] + [raw for _, raw in played.updates]
    assert played.wire < most * floor(played.counts.frames, entropy(updates)[1])
