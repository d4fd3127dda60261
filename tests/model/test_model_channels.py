"""From a value to the integer on the wire."""

import decimal
import math

from hypothesis import given
from hypothesis import strategies as st

from hmic.model.channels import LIVE, Bands, Channel, FirstTrue, Listed, Scaled, raw_value
from hmic.model.expressions import Doubt, Typed
from hmic.model.values import read


def value(name="a", kind="number", count=None):
    return Typed(kind, None, count, 0.0, 0.0, (), frozenset({name}), read(name, count, lambda item: item))


def raw(channel, **values):
    return raw_value(channel, values.__getitem__)


def test_scaled_rounds_halves_up_and_keeps_to_the_scale():
    channel = Channel(value(), Scaled(10.0, 0.5, 5))
    steps = {10.0: 0, 10.24: 0, 10.25: 1, 10.5: 1, 10.74: 1, 10.75: 2, 11.9: 4, 99.0: 4, -99.0: 0}
    assert {number: raw(channel, a=number) - LIVE for number in steps} == steps


def test_bands_count_the_limits_reached():
    channel = Channel(value(), Bands((10.0, 20.0), (2, 1, 0), 3))
    assert [raw(channel, a=a) - LIVE for a in (9.9, 10.0, 19.9, 20.0, 30.0)] == [2, 1, 1, 0, 0]


def test_listed():
    words = Channel(value(kind="word"), Listed(("P", "R")))
    assert [raw(words, a=a) for a in ("P", "R", "X")] == [LIVE, LIVE + 1, Doubt.OUT_OF_RANGE]
    flag = Channel(value(kind="flag"), Listed((False, True)))
    assert [raw(flag, a=a) for a in (False, True)] == [LIVE, LIVE + 1]


def test_doubts_are_the_raw_values():
    channel = Channel(value(), Scaled(0.0, 1.0, 5))
    assert [raw(channel, a=doubt) for doubt in Doubt] == [0, 1, 2]
    assert raw(channel) == Doubt.UNSEEN
    assert raw(Channel(None, Scaled(0.0, 1.0, 5))) == Doubt.UNSEEN


def test_the_first_true_condition_wins_unless_an_earlier_one_is_in_doubt():
    channel = Channel(None, FirstTrue((value("a", "flag"), value("b", "flag"))))
    assert raw(channel, a=False, b=False) == LIVE
    assert raw(channel, a=True, b=Doubt.STALE) == LIVE + 1
    assert raw(channel, a=False, b=True) == LIVE + 2
    assert raw(channel, a=Doubt.STALE, b=True) == Doubt.STALE
    assert raw(channel, a=Doubt.STALE, b=Doubt.UNSEEN) == Doubt.UNSEEN
    assert raw(channel, a=False, b=Doubt.OUT_OF_RANGE) == Doubt.OUT_OF_RANGE


def test_elements_and_their_distance_from_the_mean():
    array = value(count=3)
    second = Channel(array, Scaled(-10.0, 1.0, 21), element=1)
    apart = Channel(array, Scaled(-10.0, 1.0, 21), element=1, centred=True)
    assert raw(second, a=(1.0, 3.0, 8.0)) == LIVE + 13
    assert raw(apart, a=(1.0, 3.0, 8.0)) == LIVE + 9
    assert raw(second, a=(Doubt.STALE, 3.0, 8.0)) == LIVE + 13
    assert raw(apart, a=(Doubt.STALE, 3.0, 8.0)) == Doubt.STALE
    assert raw(apart, a=(Doubt.UNSEEN, Doubt.OUT_OF_RANGE, 8.0)) == Doubt.OUT_OF_RANGE
    assert raw(Channel(array, Scaled(0.0, 1.0, 9), element=3), a=(1.0, 3.0, 8.0)) == Doubt.UNSEEN


items = st.one_of(
    st.floats(), st.booleans(), st.sampled_from(["P", ""]), st.sampled_from(list(Doubt)), st.just(1e308)
)
steps = st.one_of(
    st.builds(Scaled, st.floats(), st.floats(), st.integers(1, 1000)),
    st.just(Bands((1.0, 2.0), (0, 1, 0), 2)),
    st.just(Bands((), (0,), 1)),
    st.just(Listed(("P", "D"))),
    st.just(Listed((False, True))),
    st.just(FirstTrue((value("a", "flag"), value("b", "flag")))),
)


@given(steps, items | st.tuples(items, items, items), items, st.none() | st.integers(-1, 4), st.booleans())
def test_every_value_gives_a_raw_value_of_the_channel(steps, a, b, element, centred):
    count = 3 if isinstance(a, tuple) else None
    channel = Channel(value(count=count), steps, element, centred)
    result = raw_value(channel, {"a": a, "b": b}.__getitem__)
    assert type(result) is int and 0 <= result < LIVE + steps.count
    if isinstance(a, float) and math.isnan(a) and isinstance(steps, Scaled):
        assert result == Doubt.OUT_OF_RANGE


# Halves, as people count them -------------------------------------------------------------------


def half_up(number, step):
    """The shown integer: the nearest whole number of steps, of two as near the upper one."""
    exact = decimal.Decimal(str(number)) / decimal.Decimal(str(step))
    return int((exact + decimal.Decimal("0.5")).to_integral_value(decimal.ROUND_FLOOR))


@given(
    st.integers(0, 4),
    st.integers(-30_000, 30_000),
    st.integers(0, 30_000),
    st.sampled_from([10, 100, 1000]),
    st.data(),
)
def test_halves_round_up_wherever_the_scale_begins(decimals, first, more, finer, data):
    """A value written in decimals, to a half of a step and finer, on scales of decimal steps."""
    step = 1 / 10**decimals
    steps = Scaled(first * step, step, more + 1)
    whole = data.draw(st.integers(first * finer, (first + more) * finer) | halves(first, more, finer))
    number = float(decimal.Decimal(whole).scaleb(-decimals) / finer)
    shown = raw(Channel(value(), steps), a=number) - LIVE + first
    assert shown == min(half_up(number, f"1e-{decimals}"), first + more)
    if number >= 0 and shown < first + more:
        exact = decimal.Decimal(str(number)).quantize(
            decimal.Decimal(1).scaleb(-decimals), decimal.ROUND_HALF_UP
        )
        assert shown == int(exact.scaleb(decimals))


def halves(first, more, finer):
    return st.integers(first, first + more).map(lambda step: step * finer + finer // 2)


def test_one_half_is_shown_the_same_on_every_scale():
    shown = {
        low: raw(Channel(value(), Scaled(low, 0.1, 100)), a=0.05) - LIVE + round(low * 10)
        for low in (-4.7, -0.7, -0.3, -0.1, 0.0)
    }
    assert set(shown.values()) == {1}


@given(st.integers(0, 5), st.integers(-(10**6), 10**6))
def test_the_ends_of_a_format_round_as_the_values_do(decimals, thousandths):
    from hmic.arrange.formats import extent, parse_format
    from hmic.diagnostics import Span

    number = float(decimal.Decimal(thousandths).scaleb(-decimals - 1))
    form = parse_format("0." + "0" * decimals if decimals else "0", Span("a", 1, 1, 1, 2))
    assert extent(form, number, number).offset == half_up(number, f"1e-{decimals}")
