"""A flow that can turn round is seen to: its marks go backwards below zero, and at the same pace."""

import pytest
from good_design import arranged_in, spoiled

from hmic.check.rules import check
from hmic.model.channels import raw_value
from hmic.model.expressions import Doubt
from hmic.paint.operations import Axis, Flow, Moment
from hmic.paint.painter import Painter

VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
AMPS = 'reading pack.current as "0.0 A", text 36 arcmin, called "Current"'
PIPE = """freely
        symbol pump named pump at 8 mm across 12 mm down, sized 10 mm
        symbol motor named motor at 40 mm across 12 mm down, sized 10 mm
        pipe from pump.right to motor.left
            colour quiet, flowing by pack.rate"""
CHANGES = [
    ("battery.layout", VOLTS, PIPE),
    ("battery.layout", "volts  amps   heater", "volts  volts  heater"),
    ("battery.layout", f"    in amps     {AMPS}\n", ""),
]


def piped(folder, ends):
    rate = f"  pack.rate: {{unit: l/min, range: {ends}, from: pipe, stale: 1 s}}\n  pack.fault:"
    design, arranged, _ = arranged_in(folder, spoiled(*CHANGES, ("signals.yaml", "  pack.fault:", rate)))
    assert check(design, arranged) == []
    number = next(at for at, screen in enumerate(arranged.screens) if screen.name == "battery")
    return arranged, number


def seen(arranged, number, rate, clock):
    """The pixels along the middle of the pipe."""
    raw = tuple(
        raw_value(channel, {"pack.rate": rate}.get)
        if channel.value is None or channel.value.signals == {"pack.rate"}
        else 0
        for channel in arranged.channels
    )
    flow = next(item for item in arranged.drawing.screens[number].operations if isinstance(item, Flow))
    image = Painter(arranged.drawing).paint(Moment(number, 0, raw, clock))
    middle = flow.box.top + flow.box.height // 2
    return [image.getpixel((x, middle)) for x in range(flow.box.left + 2, flow.box.left + flow.box.width - 2)]


def moved(before, after, by):
    """Whether ``after`` is ``before`` moved to the right by some pixels."""
    if by < 0:
        return moved(after, before, -by)
    return after[by:] == before[: len(before) - by]


def test_a_flow_below_zero_goes_backwards(tmp_path):
    arranged, number = piped(tmp_path, "[-14, 14]")
    pitch = next(i for i in arranged.drawing.screens[number].operations if isinstance(i, Flow)).pitch
    pace = next(i for i in arranged.drawing.screens[number].operations if isinstance(i, Flow)).pace
    for rate, steps in ((14.0, 7), (4.0, 2), (0.0, 0), (-4.0, -2), (-14.0, -7)):
        before = seen(arranged, number, rate, 1000)
        after = seen(arranged, number, rate, 1040)
        assert len(set(before)) == 2, "the marks are seen"
        travelled = [(c * abs(steps) * pace // 1000) % pitch for c in (1000, 1040)]
        way = (travelled[1] - travelled[0]) * (1 if steps >= 0 else -1)
        assert moved(before, after, way), rate
        assert (before != after) == (way % pitch != 0)


@pytest.mark.parametrize("doubt", list(Doubt))
def test_a_flow_in_doubt_has_no_marks(tmp_path, doubt):
    arranged, number = piped(tmp_path, "[-14, 14]")
    assert len(set(seen(arranged, number, doubt, 1000))) == 1


def test_a_flow_that_cannot_turn_round_is_one(tmp_path):
    arranged, number = piped(tmp_path, "[0, 14]")
    flows = [item for item in arranged.drawing.screens[number].operations if isinstance(item, Flow)]
    assert [(flow.axis, flow.when) for flow in flows] == [(Axis.RIGHTWARD, None)]
