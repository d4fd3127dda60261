"""The push loop against a display in a thread, over a pseudo terminal."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from hmic.cli.push_command import summed_up
from hmic.diagnostics import DesignError, error
from hmic.display.display import Display, Glass
from hmic.display.flash import MemoryFlash
from hmic.display.serve import Server
from hmic.link.any_link import Link, LinkLost
from hmic.link.half_duplex import SHARE, HalfDuplexDisplay, HalfDuplexHost
from hmic.link.pseudo_terminal import PseudoTerminal
from hmic.link.push import Pushed, answering_rate, push
from hmic.link.serial_port import open_port
from hmic.wire.events import DisplayFacts, Outcome, Progress
from tests.display.power_cuts import EDITED, OLD

BAUD = 921600


@contextmanager
def serving(half_duplex: bool = False) -> Iterator[tuple[Display, str]]:
    terminal = PseudoTerminal()
    display = Display(MemoryFlash(), Glass(40, 20, 24), 5)
    link: Link = HalfDuplexDisplay(terminal, BAUD) if half_duplex else terminal
    server = Server(display, lambda: link, lambda text: None)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield display, terminal.path
    finally:
        server.stop()
        thread.join(5)


def sent(path: str, pack: bytes, dry: bool = False) -> Pushed:
    return push(lambda: open_port(path, BAUD), pack, BAUD, lambda facts: None, dry=dry)


def test_a_push_tells_what_it_did() -> None:
    with serving() as (display, path):
        steps: list[Progress] = []
        first = push(lambda: open_port(path, BAUD), OLD, BAUD, lambda facts: None, on_progress=steps.append)
        assert first.outcome is Outcome.ACTIVATED and first.survey is not None
        assert steps[-1] == Progress(len(OLD), len(OLD)) and first.baud == BAUD
        before = display.identity
        dry = sent(path, EDITED, dry=True)
        assert display.identity == before
        assert dry.survey is not None and dry.survey.travels is not None
        assert dry.survey.reused == len(EDITED) - 1024 and dry.survey.travels < 1024
        text = summed_up(dry, len(EDITED))
        assert f"the display has {dry.survey.reused} in its old pack; 1024 would be sent" in text
        assert "nothing was changed" in text
        second = sent(path, EDITED)
        assert second.survey is not None and second.survey.reused == dry.survey.reused
        assert second.bytes_sent < first.bytes_sent / 2 and display.identity != before
        text = summed_up(second, len(EDITED))
        assert f"it had {second.survey.reused} in its old pack; {second.bytes_sent} went over" in text
        assert text.endswith(f"would take {len(EDITED) * 10 / BAUD:.1f} s at {BAUD} Bd")
        assert sent(path, EDITED).outcome is Outcome.UNCHANGED


def test_a_display_may_be_refused() -> None:
    refusal = error("W654", "another panel", None, "build for it")

    def fits(facts: DisplayFacts) -> object:
        assert (facts.width, facts.height) == (40, 20)
        return refusal

    with serving() as (display, path):
        with pytest.raises(DesignError) as raised:
            push(lambda: open_port(path, BAUD), OLD, BAUD, fits)  # type: ignore[arg-type]
        assert raised.value.findings == (refusal,)
        assert display.identity is None


def test_two_wires() -> None:
    with serving(half_duplex=True) as (display, path):
        done = push(
            lambda: HalfDuplexHost(open_port(path, BAUD), BAUD), OLD, BAUD, lambda facts: None, share=SHARE
        )
        assert done.outcome is Outcome.ACTIVATED and display.identity is not None


class Deaf:
    """A line whose display hears one rate only."""

    def __init__(self, path: str, rate: int, right: int) -> None:
        self._line = open_port(path, BAUD)
        self._right = rate == right

    def read(self) -> bytes:
        return self._line.read()

    def write(self, data: bytes) -> int:
        return self._line.write(data) if self._right else len(data)

    def close(self) -> None:
        self._line.close()

    def set_rate(self, baud: int) -> None:
        raise LinkLost("not asked for")

    def descriptor(self) -> int | None:
        return self._line.descriptor()


def test_the_rate_of_a_display_is_found() -> None:
    asked: list[int] = []

    def opened(rate: int) -> Link:
        asked.append(rate)
        if rate == 19200:
            raise DesignError([error("W643", "cannot", None, "choose another")])
        return Deaf(path, rate, 38400)

    with serving() as (_, path):
        assert answering_rate(opened, 9600) == 38400
    assert asked == [115200, 19200, 38400]


def test_no_answer_is_told_soon_enough() -> None:
    terminal = PseudoTerminal()
    with pytest.raises(DesignError) as raised:
        push(lambda: open_port(terminal.path, BAUD), OLD, BAUD, lambda facts: None, answer_within=0.3)
    terminal.close()
    assert raised.value.findings[0].code == "W650"
