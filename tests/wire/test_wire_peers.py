"""Bad peers: a smaller number of frames than ``python -m tests.bench peers``, which takes a million."""

from __future__ import annotations

import pytest

from tests.wire.bad_peers import fuzzed

pytestmark = pytest.mark.usefixtures("either_session")


@pytest.mark.parametrize("seed", [11, 12])
def test_neither_end_is_harmed_by_bad_peers(seed: int) -> None:
    counts = fuzzed(20_000, seed)
    assert counts["frames for the display"] == counts["frames for the host"] == 20_000
    assert counts["true sessions and pushes after it"] == 2
