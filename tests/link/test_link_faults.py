"""Random schedules of trouble on the line: no wrong pixel, right again in two seconds, touches once."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.link.bad_days import bad_day


@settings(max_examples=20, derandomize=True)
@given(st.integers(0, 1 << 30))
def test_no_wrong_pixel_on_a_bad_line(seed: int) -> None:
    counts = bad_day(seed).counts
    assert counts.live > 100
    assert counts.wrong == 0, counts
    assert counts.old == 0, counts
