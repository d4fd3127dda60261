"""The intervals of PROTOCOL.md at both ends: nothing a millisecond before, and on time.

Both displays are held to them, the software one and the player; the figures are the document's.
"""

from __future__ import annotations

import pytest

from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import (
    Connected,
    Disconnected,
    DisplayFacts,
    Mismatched,
    Phase,
    RateChanged,
    Shown,
    Touched,
    TouchesLost,
)
from hmic.wire.host_session import HostSession
from hmic.wire.states import Display, Host
from tests.wire.bad_line import MemoryStore

MS = 0.001
ON_TIME = 1e-6
"""Added to a time that is meant to have come, so that no sum of floats falls short of it."""
FACTS = DisplayFacts(7, 9, 9, 1, None, 99, 9, 1)
SEAL = updates.session_seal(1, 7, 1)
SHOW = messages.Show(1, 0, True, 0, 0, 80, 1)
NO_FRAME = b"\x09\x09\0"


def said(data: bytes) -> list[messages.Message | None]:
    """The messages in some bytes of the line."""
    return [messages.decode(frame.body) for frame in frames.FrameDecoder().receive(data)]


def sealed(message: messages.Message, seal: int = SEAL) -> bytes:
    """A frame of the session."""
    plain = isinstance(message, messages.Greet | messages.Answer | messages.Alone)
    return frames.encode(messages.encode(message), START if plain else seal)


# The display -------------------------------------------------------------------------------------


class Near:
    """A display that has met host 1 at 0 s and shows a screen since then."""

    def __init__(self, shown: bool = True) -> None:
        self.session = DisplaySession(FACTS, MemoryStore())
        self.take(messages.Greet(messages.VERSION, 1, 1), 0.0)
        if shown:
            self.take(SHOW, 0.0)
        self.session.outgoing(ON_TIME)

    def take(self, message: messages.Message, now: float) -> list[object]:
        return list(self.session.receive(sealed(message), now + ON_TIME))

    def at(self, now: float) -> list[messages.Message | None]:
        """What it says when only time has passed."""
        self.session.receive(b"", now + ON_TIME)
        return said(self.session.outgoing(now + ON_TIME))

    def kinds(self, now: float) -> set[str]:
        return {type(each).__name__ for each in self.at(now)}


def deadline(session: DisplaySession | HostSession) -> float:
    found = session.next_deadline()
    assert found is not None
    return found


@pytest.mark.usefixtures("either_session")
def test_a_display_alone_says_so_each_quarter_of_a_second() -> None:
    session = DisplaySession(FACTS, MemoryStore())
    for at in (0.0, 0.25, 0.5):
        session.receive(b"", at)
        assert said(session.outgoing(at)) == [messages.Alone()]
        assert session.outgoing(at + 0.25 - MS) == b""


@pytest.mark.usefixtures("either_session")
def test_a_display_beats_each_quarter_of_a_second() -> None:
    near = Near()
    assert near.at(0.25 - MS) == []
    assert near.at(0.25) == [messages.DisplayBeat(1, 0, 0)]
    assert near.at(0.5 - MS) == []
    assert near.at(0.5) == [messages.DisplayBeat(1, 0, 0)]


@pytest.mark.usefixtures("either_session")
@pytest.mark.parametrize(("shown", "after"), [(True, Display.SILENT), (False, Display.ALONE)])
def test_a_host_is_silent_after_one_second(shown: bool, after: Display) -> None:
    near = Near(shown)
    before = near.session.state
    near.at(1.0 - MS)
    assert near.session.state == before
    near.at(1.0)
    assert near.session.state == after


@pytest.mark.usefixtures("either_session")
def test_what_was_no_frame_is_asked_for_at_once_and_again_after_a_twentieth() -> None:
    near = Near()
    near.session.receive(NO_FRAME, 0.1)
    want = [messages.Want(1, 0)]
    assert near.at(0.1) == want
    assert near.at(0.15 - MS) == []
    assert near.at(0.15) == want
    assert near.at(0.2 - MS) == [] and near.at(0.2) == want


@pytest.mark.usefixtures("either_session")
def test_values_are_in_doubt_when_a_display_has_asked_for_a_fifth_of_a_second() -> None:
    near = Near()
    near.session.receive(NO_FRAME, 0.1)
    assert list(near.session.receive(b"", 0.3 - MS)) == []
    (event,) = near.session.receive(b"", 0.3 + ON_TIME)
    assert event.raw == (1,)  # type: ignore[union-attr]
    assert list(near.session.receive(b"", 0.4)) == []
    # A fresh scene has values anew: 0, never seen.
    assert near.take(messages.Show(2, 0, True, 0, 0, 80, 1), 0.5)[-1].raw == (0,)  # type: ignore[attr-defined]
    assert near.kinds(0.55) <= {"DisplayBeat"}


@pytest.mark.usefixtures("either_session")
def test_a_frame_that_does_not_go_on_is_asked_for_after_thirty_milliseconds() -> None:
    near = Near()
    near.session.receive(b"\x09\x09", 0.1)
    assert near.at(0.13 - MS) == []
    assert near.at(0.13) == [messages.Want(1, 0)]


def test_a_touch_that_is_not_heard_is_said_again_after_a_while() -> None:
    near = Near()
    assert near.session.touch(0, Phase.PRESS, 3, 4, 0.1)
    assert near.at(0.1) == [messages.Touch(0, 0, 0, Phase.PRESS, 3, 4, 0)]
    assert near.session.touch(0, Phase.RELEASE, 3, 4, 0.15)
    assert near.at(0.15) == [messages.Touch(1, 0, 0, Phase.RELEASE, 3, 4, 0)]
    # The first is said again a while after it was said, and with it all that is unheard; their age in 0.01 s.
    assert near.kinds(0.25 - MS) <= {"DisplayBeat"}
    again = [each for each in near.at(0.25 + MS) if isinstance(each, messages.Touch)]
    assert [(each.number, each.age) for each in again] == [(0, 15), (1, 10)]
    near.take(messages.Heard(1), 0.3)
    again = [each for each in near.at(0.4 + 2 * MS) if isinstance(each, messages.Touch)]
    assert [(each.number, each.age) for each in again] == [(1, 25)]
    near.take(messages.Heard(2), 0.45)
    assert near.kinds(0.55) <= {"DisplayBeat"}


@pytest.mark.usefixtures("either_session")
def test_a_display_keeps_thirty_two_touches() -> None:
    near = Near()
    for number in range(32):
        assert near.session.touch(0, Phase.PRESS, number, 0, 0.1)
    assert not near.session.touch(0, Phase.RELEASE, 0, 0, 0.1)
    assert [each.x for each in near.at(0.1) if isinstance(each, messages.Touch)] == list(range(32))
    assert not near.session.touch(0, Phase.RELEASE, 0, 0, 0.1)
    near.take(messages.Heard(1), 0.12)
    assert near.session.touch(0, Phase.RELEASE, 9, 0, 0.12)
    assert not near.session.touch(0, Phase.RELEASE, 0, 0, 0.12)


def test_of_slides_that_wait_the_last_counts() -> None:
    near = Near()
    for phase, x in (
        (Phase.PRESS, 1),
        (Phase.SLIDE, 2),
        (Phase.SLIDE, 3),
        (Phase.RELEASE, 4),
        (Phase.SLIDE, 5),
    ):
        assert near.session.touch(0, phase, x, 0, 0.1)
    told = [each for each in near.at(0.1) if isinstance(each, messages.Touch)]
    assert [(each.number, each.x) for each in told] == [(0, 1), (1, 3), (2, 4), (3, 5)]
    # One that was said is not taken back.
    near.session.touch(0, Phase.SLIDE, 6, 0, 0.11)
    told = [each for each in near.at(0.11) if isinstance(each, messages.Touch)]
    assert [(each.number, each.x) for each in told] == [(4, 6)]


@pytest.mark.parametrize(
    ("show", "taken"),
    [
        (messages.Show(2, 0, True, 0, 0, 80, 9), True),
        (messages.Show(2, 0, True, 0, 0, 80, 10), False),
        (messages.Show(2, 0, True, 1, 0, 80, 1), False),
        (messages.Show(2, 0, True, 0, 0, 100, 1), True),
        (messages.Show(0, 0, True, 0, 0, 40, 1), False),
        (messages.Show(1, 0, True, 0, 0, 40, 1), True),
        (messages.Show(2, 0, False, 0, 0, 40, 1), True),
        (messages.Show(3, 0, False, 0, 0, 40, 1), False),
        (messages.Show(2, 0, False, 0, 0, 40, 2), False),
    ],
)
def test_a_show_is_taken_if_it_is_newer_and_fits_and_misses_none(show: messages.Show, taken: bool) -> None:
    """Of the one screen, with 9 channels at most; one that keeps the values is of the scene after, and as
    it was."""
    near = Near()
    shown = [event for event in near.take(show, 0.1) if isinstance(event, Shown)]
    assert [event.brightness for event in shown] == [show.brightness] * taken
    # A sign of life only if it was taken.
    near.at(1.0)
    assert (near.session.state == Display.SHOWING) == taken
    near.at(1.1)
    assert near.session.state == Display.SILENT


@pytest.mark.parametrize(
    ("given", "fits"),
    [
        ({"max_body": 128}, True),
        ({"max_body": 127}, False),
        ({"max_body": 512}, True),
        ({"max_body": 513}, False),
        ({"window": 1}, True),
        ({"window": 0}, False),
        ({"identity": bytes(8)}, True),
        ({"identity": bytes(7)}, False),
        ({"identity": bytes(9)}, False),
    ],
)
def test_a_display_is_what_the_protocol_allows(given: dict[str, object], fits: bool) -> None:
    from dataclasses import replace

    facts = replace(FACTS, **given)  # type: ignore[arg-type]
    if fits:
        assert DisplaySession(facts, MemoryStore()).facts == facts
    else:
        with pytest.raises(ValueError, match=r"max_body|identity"):
            DisplaySession(facts, MemoryStore())


@pytest.mark.usefixtures("either_session")
@pytest.mark.parametrize(("baud", "agreed"), [(0, 0), (115200, 115200), (115201, 0)])
def test_a_display_agrees_to_a_rate_that_it_can(baud: int, agreed: int) -> None:
    from dataclasses import replace

    session = DisplaySession(replace(FACTS, fastest=115200), MemoryStore())
    session.receive(sealed(messages.Greet(messages.VERSION, 1, 1)), 0.0)
    session.outgoing(0.0)
    session.receive(sealed(messages.Rate(baud)), 0.1)
    told = said(session.outgoing(0.1))
    assert messages.Rated(agreed) in told
    session.outgoing(0.1)
    assert session.take_rate() == (agreed or None)
    assert session.take_rate() is None


# The host ----------------------------------------------------------------------------------------


class Host1:
    """A host that met the display at 10 s."""

    def __init__(self, look: bool = False, fastest: int = 0, facts: DisplayFacts = FACTS) -> None:
        self.session = HostSession(1, 1e6, fastest)
        if look:
            self.session.show(0, 0, 80, 1)
        self.session.outgoing(10.0)
        self.events = self.answer(10.0, facts)
        self.first = said(self.session.outgoing(10.0))
        self.scene = next((each.scene for each in self.first if isinstance(each, messages.Show)), 0)

    def answer(
        self, now: float, facts: DisplayFacts = FACTS, session: int = 1, lost: int = 0
    ) -> list[object]:
        message = messages.Answer(messages.VERSION, 1, session, facts, lost)
        return list(self.session.receive(sealed(message), now))

    def take(self, message: messages.Message, now: float) -> list[object]:
        return list(self.session.receive(sealed(message), now + ON_TIME))

    def at(self, now: float) -> list[str]:
        """The kinds of what it says when only time has passed; values and pulses by their first byte."""
        self.session.receive(b"", now + ON_TIME)
        told = []
        for frame in frames.FrameDecoder().receive(self.session.outgoing(now + ON_TIME)):
            message = messages.decode(frame.body) if frame.kind < updates.CHANGE else None
            told.append(type(message).__name__ if message is not None else f"{frame.kind:02x}")
        return told


def test_a_host_greets_each_quarter_of_a_second_with_the_same_session() -> None:
    session = HostSession(1)
    for at in (5.0, 5.25, 5.5):
        assert said(session.outgoing(at)) == [messages.Greet(messages.VERSION, 1, 1)]
        assert session.outgoing(at + 0.25 - MS) == b""
        assert deadline(session) == pytest.approx(at + 0.25)


def test_a_display_is_silent_after_five_beats() -> None:
    host = Host1()
    assert [type(event) for event in host.events] == [Connected]
    assert list(host.session.receive(b"", 11.25 - MS)) == [] and host.session.state == Host.TOGETHER
    assert list(host.session.receive(b"", 11.25)) == [Disconnected()]
    assert said(host.session.outgoing(11.25)) == [messages.Greet(messages.VERSION, 1, 2)]
    # An answer to the attempt before begins nothing.
    assert host.answer(11.3, session=1) == []
    assert [type(event) for event in host.answer(11.3, session=2)] == [Connected]


@pytest.mark.parametrize("beat", [messages.DisplayBeat(0, 0, 0), messages.Want(0, 0), messages.Rated(0)])
def test_whatever_a_display_says_is_a_sign_of_its_life(beat: messages.Message) -> None:
    host = Host1()
    host.take(beat, 11.0)
    host.at(12.25 - MS)
    assert host.session.state == Host.TOGETHER
    host.at(12.25)
    assert host.session.state == Host.GREETING


def test_alone_ends_a_session_at_once() -> None:
    host = Host1()
    assert host.take(messages.Alone(), 10.1) == [Disconnected()]
    assert host.take(messages.Alone(), 10.1) == []
    assert said(host.session.outgoing(10.1)) == [messages.Greet(messages.VERSION, 1, 2)]


def test_a_host_gives_a_sign_of_life_each_three_tenths_of_a_second() -> None:
    host = Host1()
    assert "HostBeat" not in host.first
    for at in (10.3, 10.6 + MS, 10.9 + 2 * MS):
        assert host.at(at - 2 * MS) == [] and host.at(at) == ["HostBeat"]
    shown = Host1(look=True)
    shown.session.update([0], 10.0)
    assert [type(each).__name__ for each in shown.first] == ["Show"]
    assert shown.at(10.3 - MS) == [] and shown.at(10.3 + MS) == ["ff"]
    # A value is one too.
    shown.session.update([5], 10.4)
    assert shown.at(10.4) != ["ff"]
    assert shown.at(10.7 - MS) == [] and shown.at(10.7 + MS) == ["ff"]


def test_a_display_that_tells_of_another_scene_is_shown_it_again_after_a_while() -> None:
    host = Host1(look=True)
    other = messages.DisplayBeat(0, 0, 0)
    host.take(other, 10.3 - MS)
    assert "Show" not in host.at(10.3 - MS)
    host.take(other, 10.3)
    assert "Show" in host.at(10.3)
    host.take(messages.DisplayBeat(host.scene + 1, 0, 0), 10.7)
    assert "Show" not in host.at(10.7)


def test_a_rate_is_asked_for_three_times_and_then_left_alone() -> None:
    from dataclasses import replace

    fast = replace(FACTS, fastest=20_000_000)
    host = Host1(fastest=15_000_000, facts=fast)
    assert host.first == [messages.Rate(15_000_000)]
    assert host.at(10.25 - MS) == [] and host.at(10.25) == ["Rate"]
    host.take(messages.DisplayBeat(0, 0, 0), 10.5 - MS)
    assert host.at(10.5 - MS) == [] and "Rate" in host.at(10.5)
    assert "Rate" not in host.at(10.75) and "Rate" not in host.at(11.2)
    # A reply after that is none.
    assert host.take(messages.Rated(15_000_000), 11.3) == []
    host = Host1(fastest=15_000_000, facts=fast)
    assert host.take(messages.Rated(15_000_000), 10.1) == [RateChanged(15_000_000)]
    assert host.take(messages.Alone(), 10.2) == [Disconnected(), RateChanged(10_000_000)]
    # The line has 10 MBd as it is: nothing less is asked for, nor what the display cannot.
    assert Host1(fastest=10_000_000, facts=fast).first == []
    assert Host1(fastest=10_000_001, facts=fast).first == [messages.Rate(10_000_001)]
    assert Host1(fastest=15_000_000, facts=replace(FACTS, fastest=12_000_000)).first == [
        messages.Rate(12_000_000)
    ]


def test_a_want_is_answered_once_while_its_resume_is_under_way() -> None:
    host = Host1(look=True)
    host.session.update([0], 10.0)
    want = messages.Want(host.scene, 0)
    host.take(want, 10.1)
    host.take(want, 10.1)
    assert host.at(10.1) == ["Resume"]
    host.take(want, 10.13)
    assert host.at(10.13) == []
    host.take(want, 10.14)
    assert host.at(10.14) == ["Resume"]


def test_touches_are_told_once_and_heard_each_time() -> None:
    host = Host1()
    for number, told in ((0, True), (0, False), (2, False), (1, True), (2, True), (1, False)):
        touch = messages.Touch(number, 0, 3, Phase.PRESS, 5, 6, 25)
        expected = [Touched(0, 3, Phase.PRESS, 5, 6, 0.25)] if told else []
        assert host.take(touch, 10.1) == expected
        assert host.at(10.1) == ["Heard"]


def test_lost_touches_and_other_versions_are_told() -> None:
    host = Host1()
    host.take(messages.Alone(), 10.1)
    assert host.answer(10.2, session=2, lost=3)[-1] == TouchesLost(3)
    session = HostSession(1)
    for version, told in ((9, True), (9, False), (8, True)):
        answer = messages.Answer(version, 1, 1, None)
        events = session.receive(sealed(answer), 1.0)
        assert events == ([Mismatched(version)] if told else [])
        assert session.state == Host.GREETING


@pytest.mark.parametrize(
    ("brightness", "count", "fits"),
    [(0, 0, True), (100, 65535, True), (-1, 0, False), (101, 0, False), (0, -1, False), (0, 65536, False)],
)
def test_what_is_shown_is_within_its_bounds(brightness: int, count: int, fits: bool) -> None:
    session = HostSession(1)
    if fits:
        session.show(0, 0, brightness, count)
    else:
        with pytest.raises(ValueError, match="outside"):
            session.show(0, 0, brightness, count)


@pytest.mark.parametrize(
    ("raw", "fits"),
    [([0, 65535], True), ([-1, 0], False), ([0, 65536], False), ([0], False), ([0, 0, 0], False)],
)
def test_values_are_words_and_as_many_as_shown(raw: list[int], fits: bool) -> None:
    session = HostSession(1)
    with pytest.raises(ValueError, match="no screen"):
        session.update([], 0.0)
    session.show(0, 0, 80, 2)
    if fits:
        session.update(raw, 0.0)
    else:
        with pytest.raises(ValueError, match=r"outside|the screen has 2"):
            session.update(raw, 0.0)
