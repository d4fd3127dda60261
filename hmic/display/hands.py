"""Touches in words, a line each, for a display without glass: ``hmic display --hands``."""

from __future__ import annotations

import os
import re
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from hmic.diagnostics import DesignError, Finding, did_you_mean, error
from hmic.display.display import Display
from hmic.display.serve import Server, save_picture

FORMS = {
    "tap": "tap 120 300",
    "hold": "hold 120 300 2 s",
    "slide": "slide 10 10 400 10",
    "turn": "turn left",
    "wait": "wait 1 s",
    "picture": "picture now.png",
    "controls": "controls",
    "help": "help",
}
"""What a line can be, by its first word, each as an example."""
TAP = 0.1
"""Seconds that a finger rests on the glass in a tap (common practice, no source)."""
SLIDE = 0.3
"""Seconds from one end of a slide to the other (common practice, no source)."""
LONGEST = 600.0
"""Seconds that a line can hold or wait: more is a slip."""

Place = tuple[int, int]


@dataclass(frozen=True)
class Deed:
    """What a line asks for: its first word, the places it names, a time, and any other word."""

    word: str
    places: tuple[Place, ...] = ()
    seconds: float = 0.0
    name: str = ""


def read(line: str) -> Deed | None:
    """A line in its parts; None for an empty one or a comment. Raises ``DesignError`` W664."""
    words = line.partition("#")[0].split()
    if not words:
        return None
    word, rest = words[0].lower(), words[1:]
    if word not in FORMS:
        known = did_you_mean(word, FORMS, "words")
        raise _unread(f"'{words[0]}' is nothing that a hand does here", known)
    if word == "picture" and rest:
        return Deed(word, name=line.split(None, 1)[1].strip())
    if word == "turn" and len(rest) == 1 and rest[0].lower() in ("left", "right"):
        return Deed(word, name=rest[0].lower())
    pattern, count = _NUMBERS.get(word, ("", 0))
    found = re.fullmatch(pattern, " ".join(rest))
    if found is None or word in ("picture", "turn"):
        raise _unread(f"'{line.strip()}' is no whole line", f"write it like `{FORMS[word]}`")
    numbers = [int(each) for each in found.groups()[: 2 * count]]
    seconds = _seconds(*found.groups()[2 * count :]) if word in ("hold", "wait") else 0.0
    return Deed(word, tuple(zip(numbers[::2], numbers[1::2], strict=True)), seconds)


_PLACE, _TIME = r"(\d{1,5}),? (\d{1,5})", r"(\d{1,6}(?:\.\d{1,6})?) ?(s|ms)"
_NUMBERS = {
    "tap": (_PLACE, 1),
    "hold": (f"{_PLACE},? {_TIME}", 1),
    "slide": (f"{_PLACE},? {_PLACE}", 2),
    "wait": (_TIME, 0),
}


def _seconds(number: str, unit: str) -> float:
    seconds = float(number) / (1000 if unit == "ms" else 1)
    if seconds > LONGEST:
        raise _unread(f"{seconds:g} s is longer than a hand waits", f"write {LONGEST:g} s or less")
    return seconds


def _unread(message: str, remedy: str) -> DesignError:
    return DesignError([error("W664", message, None, remedy)])


class Hands:
    """Does what lines say to the display of a server, one after the other. ``tell`` gets sentences,
    ``complain`` findings; neither ends it."""

    def __init__(
        self, server: Server, tell: Callable[[str], None], complain: Callable[[Finding], None]
    ) -> None:
        self._server = server
        self._tell = tell
        self._complain = complain

    def follow(self, lines: Iterable[str]) -> None:
        """Until the lines end; the display goes on."""
        for line in lines:
            try:
                deed = read(line)
                if deed is not None:
                    self._do(deed)
            except DesignError as unread:
                for finding in unread.findings:
                    self._complain(finding)

    def _do(self, deed: Deed) -> None:
        match deed.word:
            case "wait":
                time.sleep(deed.seconds)
            case "help":
                self._tell("lines: " + ", ".join(FORMS.values()))
            case "controls":
                self._ask(lambda display, now: self._tell(controls(display)))
            case "picture":
                self._ask(lambda display, now: self._save(display, now, Path(deed.name)))
            case "turn":
                self._heard(deed, self._ask(lambda display, now: display.turn(deed.name == "right", now)))
            case _:
                rests = {"tap": TAP, "slide": SLIDE}.get(deed.word, deed.seconds)
                self._touch(deed, deed.places[0], deed.places[-1], rests)

    def _touch(self, deed: Deed, first: Place, last: Place, seconds: float) -> None:
        self._ask(lambda display, now: _inside(display, deed.places))
        control = self._ask(lambda display, now: display.feels(*first))
        heard = self._ask(lambda display, now: display.press(*first, now))
        time.sleep(seconds)
        heard = self._ask(lambda display, now: display.release(*last, now)) and heard
        self._heard(deed, heard, "" if control else "no control there")

    def _heard(self, deed: Deed, heard: object, more: str = "") -> None:
        if not heard:
            more = "nobody listens: a touch counts while `hmic run` shows a screen on this display"
        numbers = "".join(f" {x} {y}" for x, y in deed.places)
        self._tell(f"{deed.word}{numbers}{' ' if deed.name else ''}{deed.name}{': ' if more else ''}{more}")

    def _save(self, display: Display, now: float, path: Path) -> None:
        try:
            save_picture(display.image(now), path)
            self._tell(str(path))
        except OSError as failed:
            reason = failed.strerror or "it cannot be written"
            raise _unread(f"cannot write {path}: {reason}", "choose a place you may write to") from None

    def _ask(self, deed: Callable[[Display, float], object]) -> object:
        """What comes of a deed in the loop's thread; its error is raised here."""
        done = threading.Event()
        result: list[object] = []
        failed: list[DesignError] = []

        def act(display: Display, now: float) -> None:
            try:
                result.append(deed(display, now))
            except DesignError as raised:
                failed.append(raised)
            finally:
                done.set()

        self._server.ask(act)
        done.wait()
        if failed:
            raise failed[0]
        return result[0]


def controls(display: Display) -> str:
    """The controls on the screen in sight: where to tap each, and where it lies."""
    lines = [
        f"tap {box.left + box.width // 2} {box.top + box.height // 2}"
        f"  ({box.left} {box.top} to {box.left + box.width - 1} {box.top + box.height - 1})"
        for box in display.controls()
    ]
    return "\n".join(lines) or "no controls on this screen"


def _inside(display: Display, places: Iterable[Place]) -> None:
    glass = display.glass
    for x, y in places:
        if x >= glass.width or y >= glass.height:
            remedy = f"x is 0 to {glass.width - 1}, y is 0 to {glass.height - 1}, counted from the top left"
            raise _unread(f"{x} {y} lies beside the panel", remedy)


def lines_of(descriptor: int) -> Iterator[str]:
    """The lines of a descriptor as they come, to its end; none when it is closed."""
    rest = b""
    while True:
        try:
            data = os.read(descriptor, 4096)
        except OSError:
            data = b""
        *whole, rest = (rest + data).split(b"\n")
        if not data and rest:
            whole.append(rest)
        for line in whole:
            yield line.decode("utf-8", "replace")
        if not data:
            return
