"""What is graver is never hidden by what is less grave: limits of one value, states of one lamp."""

import itertools

import pytest
from good_design import arranged_in, spoiled

from hmic.model.channels import LIVE, Bands, Channel, FirstTrue, raw_value
from hmic.model.expressions import Doubt
from hmic.paint.operations import ink_of

VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'
LAMP = "lamp battery, danger while pack.fault, means"


def shown(folder, widget):
    """What the widget's place shows on the battery screen: the design, its operations and channels."""
    design, arranged, found = arranged_in(folder, spoiled(("battery.layout", VOLTS, widget)))
    screen = next(number for number, one in enumerate(arranged.screens) if one.name == "battery")
    line = spoiled_line(design, widget)
    piece = next(one for one in arranged.screens[screen].pieces if one.widget.head.line == line)
    own = arranged.drawing.screens[screen].operations[piece.first : piece.last]
    return design, arranged, own, found


def spoiled_line(design, widget):
    lines = design.sources["battery.layout"].split("\n")
    return next(number for number, text in enumerate(lines, 1) if widget.split("\n")[0] in text)


def colour_of(folder, widget, charge):
    """The role in whose colour the widget shows a charge."""
    design, arranged, own, _ = shown(folder, widget)
    inks = [ink for ink in map(ink_of, own) if ink is not None]
    ink = next(one for one in inks if one.tint < len(arranged.channels))
    channel = arranged.channels[ink.tint]
    assert isinstance(channel.steps, Bands)
    step = raw_value(channel, {"pack.charge": charge}.__getitem__) - LIVE
    colour = arranged.drawing.themes[0].colours[ink.first + step]
    return next(role for role, value in design.themes[0].roles.items() if value == colour)


@pytest.mark.parametrize(
    ("limits", "charge", "role"),
    [
        ("danger below 40 %, caution below 20 %", 10.0, "danger"),
        ("caution below 20 %, danger below 40 %", 10.0, "danger"),
        ("danger below 20 %, caution above 10 %", 15.0, "danger"),
        ("danger below 20 %, caution above 10 %", 5.0, "danger"),
        ("danger below 20 %, caution above 10 %", 30.0, "caution"),
        ("danger above 60 %, caution above 80 %", 90.0, "danger"),
        ("caution below 20 %, notice above 10 %", 15.0, "caution"),
        ("notice above 10 %, good above 50 %", 70.0, "notice"),
        ("caution below 20 %, danger below 10 %", 5.0, "danger"),
        ("caution below 20 %, danger below 10 %", 15.0, "caution"),
    ],
)
def test_the_gravest_limit_that_holds_colours_the_value(limits, charge, role, tmp_path):
    widget = f'reading pack.charge as "0 %", text 36 arcmin, {limits}'
    assert colour_of(tmp_path, widget, charge) == role


def test_a_dial_is_banded_by_the_gravest(tmp_path):
    widget = "dial pack.charge from 0 % to 100 %, danger below 40 %, caution below 20 %"
    design, arranged, own, _ = shown(tmp_path, widget)
    colours = {arranged.drawing.themes[0].colours[ink.first] for ink in map(ink_of, own) if ink is not None}
    roles = design.themes[0].roles
    assert roles["danger"] in colours and roles["caution"] not in colours


# Lamps -----------------------------------------------------------------------------------------


def lamp(folder, states):
    _, arranged, own, _ = shown(folder, f'lamp heater, {states}, means "Warm"')
    ink = ink_of(own[0])
    channel = arranged.channels[ink.tint]
    assert isinstance(channel.steps, FirstTrue)
    return channel


LOW = "caution while pack.charge < 20 %"
FAULT = "danger while pack.fault"


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("charge", "fault", "state"),
    [
        (10.0, True, FAULT),
        (Doubt.STALE, True, FAULT),
        (Doubt.UNSEEN, True, FAULT),
        (10.0, False, LOW),
        (50.0, False, None),
        (10.0, Doubt.STALE, Doubt.STALE),
        (50.0, Doubt.STALE, Doubt.STALE),
        (Doubt.UNSEEN, False, Doubt.UNSEEN),
        (Doubt.UNSEEN, Doubt.STALE, Doubt.UNSEEN),
    ],
)
def test_the_gravest_state_of_a_lamp_wins_in_either_order(turned, charge, fault, state, tmp_path):
    order = [FAULT, LOW] if turned else [LOW, FAULT]
    channel = lamp(tmp_path, ", ".join(order))
    raw = raw_value(channel, {"pack.charge": charge, "pack.fault": fault}.__getitem__)
    wanted = state if isinstance(state, Doubt) else LIVE if state is None else LIVE + 1 + order.index(state)
    assert raw == wanted


def test_of_states_as_grave_the_first_counts_and_doubt_hides_none_that_is_known(tmp_path):
    channel = lamp(tmp_path, f"{FAULT}, danger while motor.temperature > 90 °C")

    def raw(fault, heat):
        return raw_value(channel, {"pack.fault": fault, "motor.temperature": heat}.__getitem__)

    assert raw(True, 100.0) == LIVE + 1
    assert raw(False, 100.0) == LIVE + 2
    assert raw(Doubt.STALE, 100.0) == LIVE + 2
    assert raw(Doubt.STALE, 20.0) == Doubt.STALE


def test_no_lamp_shows_less_than_the_gravest_that_is_known():
    """Every rank, value and doubt of three conditions, against the rule as it is said."""
    values = [True, False, *Doubt]
    for ranks in itertools.product((0, 1, 2), repeat=3):
        channel = Channel(None, FirstTrue(tuple(condition(name) for name in "abc"), ranks))
        for three in itertools.product(values, repeat=3):
            raw = raw_value(channel, dict(zip("abc", three, strict=True)).__getitem__)
            held = [rank for rank, value in zip(ranks, three, strict=True) if value is True]
            doubted = [rank for rank, value in zip(ranks, three, strict=True) if isinstance(value, Doubt)]
            if doubted and max(doubted) > max(held, default=-1):
                assert raw < LIVE
            elif held:
                assert three[raw - LIVE - 1] is True and ranks[raw - LIVE - 1] == max(held)
            else:
                assert raw == LIVE


def condition(name):
    from hmic.model.expressions import Typed
    from hmic.model.values import flag_check, read

    return Typed("flag", None, None, 0.0, 0.0, (), frozenset({name}), read(name, None, flag_check))


def test_words_take_the_colour_of_the_gravest_state(tmp_path):
    widget = f"words heat.mode, text 30 arcmin, {LOW}, {FAULT}"
    design, arranged, own, _ = shown(tmp_path, widget)
    roles = design.themes[0].roles
    for charge, fault, role in ((50.0, False, "ink"), (10.0, False, "caution"), (10.0, True, "danger")):
        told = []
        for item in own:
            ink = ink_of(item)
            if ink is not None and ink.tint < len(arranged.channels):
                values = {"pack.charge": charge, "pack.fault": fault}
                step = raw_value(arranged.channels[ink.tint], values.__getitem__) - LIVE
                told.append(arranged.drawing.themes[0].colours[ink.first + step])
        assert told and set(told) == {roles[role]}


# Limits that make no difference ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("limits", "remedy"),
    [
        ("danger below 200 %", "use a limit from 0 to 100 %"),
        ("danger above 400 %", "use a limit from 0 to 100 %"),
        ("caution above -10 %", "use a limit from 0 to 100 %"),
        ("caution below 0 %", "use a limit from 0 to 100 %"),
        ("danger below 40 %, caution below 20 %", "set the limit of caution above 40 %"),
        ("caution above 80 %, danger above 60 %", "set the limit of caution below 60 %"),
    ],
)
@pytest.mark.parametrize(
    "widget",
    [
        'reading pack.charge as "0 %", text 36 arcmin',
        'level pack.charge from 0 % to 100 %, as "0 %", text 20 arcmin',
        'dial pack.charge from 0 % to 100 %, as "0 %"',
    ],
)
def test_a_limit_that_makes_no_difference_is_told_once(widget, limits, remedy, tmp_path):
    *_, found = shown(tmp_path, f"{widget}, {limits}")
    told = [(item.severity.value, item.remedy) for item in found if item.code == "M211"]
    assert told == [("warning", remedy)]


@pytest.mark.parametrize(
    "limits", ["danger above 100 %", "caution below 100 %", "caution below 20 %, danger below 10 %"]
)
def test_a_limit_that_counts_is_none(limits, tmp_path):
    *_, found = shown(tmp_path, f'reading pack.charge as "0 %", text 36 arcmin, {limits}')
    assert [item for item in found if item.code == "M211"] == []
