"""What a display does with what a host should not send, or sends too late: PROTOCOL.md's answers, each on
both displays."""

from __future__ import annotations

from typing import Any

import pytest

from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.pack.writer import write
from hmic.paint.operations import LIVE, STALE, Drawing
from hmic.wire import frames, messages, updates
from hmic.wire.crc import START
from hmic.wire.frames import FrameDecoder
from tests.display.test_display_line import two_screens
from tests.tools.changed import replace

pytestmark = pytest.mark.usefixtures("either_display")
HOST, SESSION = 5, 1


class Met:
    """A display that a host has greeted, and frames for it that have a right seal."""

    def __init__(self, greet: bool = True) -> None:
        self.drawing: Drawing = two_screens()
        glass = Glass(self.drawing.width, self.drawing.height, self.drawing.depth)
        self.display: Any = Display(MemoryFlash(1 << 18), glass, 77)
        assert self.display.install(write(self.drawing))
        self.now, self.seal, self.said = 0.0, START, []
        self.step(b"")
        if greet:
            (answer, *_) = self.step(sealed(messages.Greet(messages.VERSION, HOST, SESSION), START))
            assert isinstance(answer, messages.Answer) and answer.facts is not None
            self.seal = updates.session_seal(HOST, answer.facts.nonce, SESSION)

    def step(self, data: bytes, seconds: float = 0.01) -> list[object]:
        """Gives it bytes; what it says."""
        self.now += seconds
        self.display.receive(data, self.now)
        out = FrameDecoder().receive(self.display.outgoing(self.now))
        return [messages.decode(frame.body) for frame in out]

    def tell(self, message: messages.Message) -> list[object]:
        """Gives it a message."""
        return self.step(sealed(message, self.seal))

    def value(self, body: bytes, number: int, held: list[int], scene: int = 1) -> list[object]:
        """Gives it a value frame that follows on values held."""
        return self.step(frames.encode(body, updates.value_seal(self.seal, scene, number, 0, held)))

    def dropped(self) -> int:
        """What its next beat tells."""
        for _ in range(40):
            for told in self.step(b""):
                if isinstance(told, messages.DisplayBeat):
                    return told.dropped
        raise AssertionError("no beat")

    def listed(self) -> list[int]:
        """What is shown for the list of the screen in sight."""
        moment = self.display.moment(self.now)
        return [moment.raw[channel] for channel in self.drawing.screens[moment.screen].channels]


def sealed(message: messages.Message, seal: int) -> bytes:
    return frames.encode(messages.encode(message), seal)


def show(scene: int, screen: int = 0, theme: int = 0, count: int = 2, number: int = 0) -> messages.Show:
    return messages.Show(scene, number, True, screen, theme, 33, count)


def test_before_the_first_show_the_start_screen_is_there_and_nothing_live() -> None:
    for greet in (False, True):
        met = Met(greet)
        moment = met.display.moment(met.now)
        assert (moment.screen, moment.theme, met.display.brightness) == (met.drawing.start, 0, 80)
        assert all(value < LIVE for value in met.listed())


def test_until_a_host_speaks_the_pack_says_which_theme_is_shown() -> None:
    drawing = two_screens()
    for first, brightness in enumerate((80, 20)):
        display = Display(MemoryFlash(1 << 18), Glass(drawing.width, drawing.height, drawing.depth), 77)
        assert display.install(write(replace(drawing, first_theme=first)))
        assert (display.moment(0.0).theme, display.brightness) == (first, brightness)


def test_an_older_scene_or_number_is_a_leftover() -> None:
    met = Met()
    met.tell(show(7, screen=1))
    met.value(updates.encode_fill((0, 0), (5, 6), 0, 2, 0, limit=99)[0], 1, [0, 0], 7)
    for leftover in (show(6), show(1), show(7)):
        met.tell(leftover)
        assert met.display.moment(met.now).screen == 1 and met.listed() == [5, 6]
    assert met.dropped() == 0


def test_a_theme_that_the_pack_lacks_leaves_the_present_one() -> None:
    met = Met()
    met.tell(show(1, theme=1))
    met.tell(show(2, screen=1, theme=9))
    moment = met.display.moment(met.now)
    assert (moment.screen, moment.theme, met.display.brightness) == (1, 1, 33)


def test_a_count_unlike_the_packs_makes_all_stale() -> None:
    met = Met()
    met.tell(show(1, count=3))
    met.value(updates.encode_fill((0, 0, 0), (5, 6, 7), 0, 3, 0, limit=99)[0], 1, [0, 0, 0])
    assert met.listed() == [STALE, STALE]


@pytest.mark.parametrize(
    "body",
    [
        b"\x9f",
        b"\xbf",
        updates.encode_changes([0, 0, 0], [0, 0, 4], 99)[0],
        b"\x08\x00\x00\x8c\x00",
        b"\x08\x87",
    ],
)
def test_a_value_frame_that_leads_to_no_values_is_dropped_and_asked_about(body: bytes) -> None:
    """A Change of no items, one beyond the list; a Fill beyond it, and of nothing."""
    met = Met()
    met.tell(show(1))
    assert messages.Want(1, 0) in met.value(body, 1, [0, 0])
    assert met.dropped() == 1


def test_a_value_frame_twice_or_while_asking_is_not_dropped() -> None:
    met = Met()
    met.tell(show(1))
    for _ in range(2):
        met.value(updates.encode_fill((0, 0), (5, 6), 0, 2, 0, limit=99)[0], 1, [0, 0])
    assert met.dropped() == 0
    met.value(b"\x80", 9, [9, 9])
    met.value(updates.encode_changes([5, 6], [6, 6], 99)[0], 2, [5, 6])
    assert met.dropped() == 1 and met.listed()[0] in (5, STALE)


@pytest.mark.parametrize(
    ("data", "most"),
    [
        (b"\1\2\3\4\5\6\7\0", 1),
        (b"\5\0", 1),
        (b"\7" * 600 + b"\0", 1),
        (b"\0\0\0", 0),
        (sealed(messages.HostBeat(), 0x1234), 1),
        (sealed(messages.Turn(), START), 0),
    ],
)
def test_what_is_no_frame_or_fails_its_check_is_dropped(data: bytes, most: int) -> None:
    met = Met()
    met.step(data)
    assert met.dropped() == most


@pytest.mark.parametrize(
    "body",
    [
        b"\x11\1\1\0",  # a Block without bytes
        b"\x19\1\1\1\0",
        b"\x04\0",  # more than the message
        b"\x02\1",
        b"\x0f",  # unknown
        b"\x42\1\0\0\0",  # a display's own
        messages.encode(show(1, screen=2)),
        messages.encode(show(1, count=5000)),
    ],
)
def test_what_is_no_message_is_dropped(body: bytes) -> None:
    met = Met()
    met.step(frames.encode(body, met.seal))
    assert met.dropped() == 1
    assert not met.display.moment(met.now).screen


def test_another_version_is_answered_in_ones_own_and_makes_no_session() -> None:
    met = Met(greet=False)
    greet = bytes((messages.Kind.GREET, 9)) + (6).to_bytes(4, "little") + (3).to_bytes(2, "little")
    (answer,) = met.step(frames.encode(greet))
    assert isinstance(answer, messages.Answer)
    assert (answer.version, answer.host, answer.session) == (messages.VERSION, 6, 3) and answer.facts
    met.seal = updates.session_seal(6, answer.facts.nonce, 3)
    met.tell(show(1, screen=1))
    assert met.display.moment(met.now).screen == 0
