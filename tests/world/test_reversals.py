"""Each kind of defect that was mended is found again when its mend is taken out."""

from __future__ import annotations

import pytest

from tests.world.demonstrations import DEMONSTRATIONS
from tests.world.reversals import REVERSALS, Reversal, mended
from tests.world.world import live

PAIRS = [(reversal, name) for reversal in REVERSALS for name in reversal.demonstrations()]


@pytest.mark.parametrize(("reversal", "name"), PAIRS, ids=[name for _, name in PAIRS])
def test_without_its_mend_a_defect_is_found(reversal: Reversal, name: str) -> None:
    with reversal.taken_out():
        outcome = live(DEMONSTRATIONS[name])
    assert reversal.found(outcome), f"'{reversal.what}' and no oracle says no"


def test_every_mend_has_a_reversal() -> None:
    assert {name for _, name in PAIRS} == mended()
