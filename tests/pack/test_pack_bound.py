"""A pack is never larger than it was said to be at most."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hmic.arrange.compose import arrange
from hmic.model.load import load
from hmic.pack import planes
from hmic.pack.bound import _coded, size_bound
from hmic.pack.writer import write
from tests.tools.drawings import drawings

ROOT = Path(__file__).parents[2]


@given(drawings(), st.integers(0, 10_000))
@settings(max_examples=60)
def test_no_pack_is_larger_than_its_bound(drawing, enough):
    assert len(write(drawing)) <= size_bound(drawing, enough)


@given(st.integers(1, 200), st.integers(1, 40), st.data())
def test_no_mask_is_larger_than_its_bound(width, height, data):
    # Every run is a row's own at worst: rows that are all alike, all soft, or of every other pixel.
    kind = st.sampled_from([b"\0", b"\17", b"\7", b"\0\17", b"\0\7", b"\7\17\0", b"\7\7\0"])
    rows = data.draw(st.lists(kind, min_size=height, max_size=height))
    coverage = b"".join((row * width)[:width] for row in rows)
    form, coded = planes.encode_mask(coverage, width)
    assert form == planes.PLAIN or len(coded) <= _coded(coverage, height)


@pytest.mark.parametrize(("name", "times"), [("dunlin", 1.8), ("roost", 1.8)])
def test_the_bound_is_near_the_size(name, times):
    design, _ = load(ROOT / "layouts" / name)
    arranged, _ = arrange(design)
    size = len(write(arranged.drawing))
    assert size <= size_bound(arranged.drawing, 0) <= times * size
