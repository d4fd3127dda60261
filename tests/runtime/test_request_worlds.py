"""Each field of a frame on the bus is what the vehicle reads, or asked by a touch whose conditions hold."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from request_worlds import World

EACH = int(os.environ.get("HMIC_REQUEST_WORLDS", "40")) // 4
"""Random designs in each of four rows; thousands by hand."""
ACTS = 60


@pytest.mark.timeout(0 if EACH > 10 else 300)
@pytest.mark.parametrize("row", range(4))
def test_what_is_sent_was_read_or_asked(row: int, tmp_path: Path) -> None:
    frames = refused = 0
    for seed in range(row * EACH, (row + 1) * EACH):
        world = World(tmp_path / f"car{seed}", seed)
        world.pass_time(1.0)
        for _ in range(ACTS):
            world.act()
        assert not world.faults, "\n".join([f"seed {seed}", *world.faults[:5]])
        frames += world.frames
        refused += world.refused
    # An oracle that sees no frame, or no refusal, proves nothing.
    assert frames > 5 * EACH and refused > 5 * EACH
