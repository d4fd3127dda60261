"""What counts as a sign of life, and what does not: dead values must not stay live."""

from __future__ import annotations

import pytest

from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.display_session import BROKEN_OFF, DOUBT_AFTER, HOST_SILENT_AFTER, DisplaySession
from hmic.wire.events import DisplayFacts, Silent, Values
from hmic.wire.host_session import HostSession
from hmic.wire.states import Display
from tests.wire.bad_line import MemoryStore

pytestmark = pytest.mark.usefixtures("either_session")

SEAL = updates.session_seal(1, 7, 1)
NO_LIFE = [
    messages.HostBeat(),
    messages.Heard(0),
    messages.Greet(messages.VERSION, 1, 1),
    messages.Turn(),
    messages.Compare(1, 0),
    messages.Drop(1),
]


def greeted() -> DisplaySession:
    """A display that has met host 1 at 0 s."""
    display = DisplaySession(DisplayFacts(7, 9, 9, 1, None, 99, 9, 1), MemoryStore())
    display.receive(frames.encode(messages.encode(messages.Greet(messages.VERSION, 1, 1))), 0.0)
    return display


def sealed(message: messages.Message) -> bytes:
    """A frame of the session."""
    plain = isinstance(message, messages.Greet | messages.Turn)
    return frames.encode(messages.encode(message), START if plain else SEAL)


@pytest.mark.parametrize("message", NO_LIFE, ids=lambda message: type(message).__name__)
def test_nothing_but_values_and_pulses_keeps_values_live(message: messages.Message) -> None:
    display = greeted()
    display.receive(sealed(messages.Show(1, 0, True, 0, 0, 80, 1)), 0.0)
    for tick in range(1, 10):
        assert not display.receive(sealed(message), tick * HOST_SILENT_AFTER / 10)
        assert display.state == Display.SHOWING
    events = display.receive(sealed(message), HOST_SILENT_AFTER)
    assert [type(event) for event in events] == [Silent, Values]
    assert display.state == Display.SILENT


@pytest.mark.parametrize(
    "body", [updates.PULSE, b"\x9f", b"\x08\x00\x09\x00", b"\x03\x00\x00", b"\x03\x02\x00", b"\x77"]
)
def test_what_does_not_follow_keeps_nothing_live(body: bytes) -> None:
    """Sealed with other values than those held. The display asks at once, doubts, and falls silent."""
    display = greeted()
    display.receive(sealed(messages.Show(1, 0, True, 0, 0, 80, 1)), 0.0)
    display.outgoing(0.0)
    alien = frames.encode(body, updates.value_seal(SEAL, 1, 1, 0, [9]))
    assert display.receive(alien, 0.1) == []
    assert b"".join(each.body for each in frames.FrameDecoder().receive(display.outgoing(0.1))) == b"\x44\1\0"
    assert display.receive(alien, 0.1 + DOUBT_AFTER - 0.01) == []
    assert display.receive(alien, 0.1 + DOUBT_AFTER) == [Values((1,))]
    assert display.receive(alien, HOST_SILENT_AFTER) == [Silent()]


def test_a_frame_broken_off_is_asked_for() -> None:
    display = greeted()
    display.receive(sealed(messages.Show(1, 0, True, 0, 0, 80, 1)), 0.0)
    display.outgoing(0.0)
    pulse = frames.encode(updates.PULSE, updates.value_seal(SEAL, 1, 0, 0, [0]))
    display.receive(pulse[:-1], 0.1)
    assert display.outgoing(0.1) == b""
    assert (display.next_deadline() or 9.0) <= 0.1 + BROKEN_OFF + 1e-9
    display.receive(b"", 0.1 + BROKEN_OFF)
    assert frames.FrameDecoder().receive(display.outgoing(0.1 + BROKEN_OFF))[0].kind == messages.Kind.WANT
    resume = messages.encode(messages.Resume(1, 0))
    display.receive(b"\0" + frames.encode(resume, updates.value_seal(SEAL, 1, 1, 0, [0])), 0.2)
    assert display.outgoing(0.2) == b"" and display._held.number == 1


def test_a_beat_holds_a_meeting() -> None:
    display = greeted()
    for tick in range(1, 30):
        display.receive(sealed(messages.HostBeat()), tick / 10)
    assert display.state == Display.MET
    display.receive(b"", 2.9 + HOST_SILENT_AFTER)
    assert display.state == Display.ALONE


def test_a_pulse_keeps_values_live() -> None:
    display = greeted()
    display.receive(sealed(messages.Show(1, 0, True, 0, 0, 80, 1)), 0.0)
    pulse = frames.encode(updates.PULSE, updates.value_seal(SEAL, 1, 0, 0, [0]))
    for tick in range(1, 30):
        display.receive(pulse, tick / 10)
    assert display.state == Display.SHOWING


def test_scenes_go_on_over_sessions() -> None:
    """So that what is left over of an earlier session is older."""
    host, scenes = HostSession(1), []
    host.show(0, 0, 80, 1)
    host.update([5], 0.0)
    facts = DisplayFacts(7, 9, 9, 1, None, 99, 9, 1)
    for session in (1, 2, 3):
        host.outgoing(session * 10.0)
        answer = messages.encode(messages.Answer(messages.VERSION, 1, session, facts))
        host.receive(frames.encode(answer), session * 10.0)
        said = frames.FrameDecoder().receive(host.outgoing(session * 10.0))
        scenes += [
            told.scene
            for told in map(messages.decode, (f.body for f in said))
            if isinstance(told, messages.Show)
        ]
        host.receive(frames.encode(messages.encode(messages.Alone())), session * 10.0 + 1)
    assert scenes == sorted(set(scenes)) and len(scenes) == 3


MET_SIGNS = ("Greet of the next session", "Host Beat", "Rate that is agreed to")
SHOWING_SIGNS = ("Show", "Pulse", "Fill", "Resume", "Rate that is agreed to")


def comings(scene: int) -> dict[str, bytes]:
    """Frames by what a person would call them, after a Show of ``scene`` if it is not 0."""
    held = [0] * min(scene, 1)
    fill = updates.encode_fill([0], [5], 0, 1, 0, limit=99)[0]
    return {
        "Greet of the next session": sealed(messages.Greet(messages.VERSION, 1, 2)),
        "the same Greet": sealed(messages.Greet(messages.VERSION, 1, 1)),
        "Greet of another version": sealed(messages.Greet(9, 1, 2)),
        "Host Beat": sealed(messages.HostBeat()),
        "Rate that is agreed to": sealed(messages.Rate(19200)),
        "Rate beyond what it can": sealed(messages.Rate(38400)),
        "Show": sealed(messages.Show(scene + 1, 0, True, 0, 0, 80, 1)),
        "Show of no screen": sealed(messages.Show(scene + 1, 0, True, 7, 0, 80, 1)),
        "Pulse": frames.encode(updates.PULSE, updates.value_seal(SEAL, scene, 0, 0, held)),
        "Pulse of other values": frames.encode(updates.PULSE, updates.value_seal(SEAL, scene, 0, 0, [9])),
        "Fill": frames.encode(fill, updates.value_seal(SEAL, scene, 1, 0, held)),
        "Resume": frames.encode(
            messages.encode(messages.Resume(1, 0)), updates.value_seal(SEAL, scene, 1, 0, held)
        ),
        "Heard": sealed(messages.Heard(0)),
        "Turn": sealed(messages.Turn()),
        "Compare": sealed(messages.Compare(1, 0)),
        "Finish": sealed(messages.Finish(1)),
        "Drop": sealed(messages.Drop(1)),
        "noise": b"\x09\x09\0",
    }


@pytest.mark.parametrize("name", comings(1))
@pytest.mark.parametrize("shown", [False, True])
def test_signs_of_life_are_those_and_no_others(name: str, shown: bool) -> None:
    """Whatever comes at 0.6 s: only these make a display wait for longer than a second from the start."""
    display = DisplaySession(DisplayFacts(7, 9, 9, 1, None, 99, 9, 1, fastest=19200), MemoryStore())
    display.receive(sealed(messages.Greet(messages.VERSION, 1, 1)), 0.0)
    display.outgoing(0.0)
    if shown:
        display.receive(sealed(messages.Show(1, 0, True, 0, 0, 80, 1)), 0.0)
    elif name == "Show":
        pytest.skip("leaves the state")
    display.receive(comings(int(shown))[name], 0.6)
    display.receive(b"", 1.1)
    signs = SHOWING_SIGNS if shown else MET_SIGNS
    moved = shown and name == "Greet of the next session"
    assert display.state == (
        Display.MET if moved or (name in signs and not shown)
        else Display.SHOWING if name in signs
        else Display.SILENT if shown
        else Display.ALONE
    )  # fmt: skip
