"""Each mend taken out of today's tree again, to see that the world still finds what it mended.

``python -m tests.world.reversals`` lives the demonstrations under each reversal and prints what the oracles
say. A reversal replaces the few functions that a mend is made of; one that finds nothing to replace raises.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any
from unittest import mock

from cantools.database.errors import DecodeError

from hmic.arrange import compose
from hmic.arrange.canvas import Canvas
from hmic.check import light, shown_themes
from hmic.diagnostics import Finding
from hmic.runtime import from_dbc, listening
from hmic.runtime.decoding import Decoder
from hmic.runtime.listening import Listener
from hmic.runtime.requests import Requests
from hmic.runtime.runtime import Runtime
from hmic.runtime.vehicle_time import Arriving, Steady
from hmic.sources.log_time import LogTime
from hmic.wire import host_values, sent
from hmic.wire.display_session import DisplaySession
from tests.world.demonstrations import DEMONSTRATIONS, NOT_YET
from tests.world.world import Outcome, compiled_of, live


@dataclass(frozen=True)
class Reversal:
    """``strikes`` is how the names of the demonstrations begin that it brings back; ``parts`` are the
    owner, name and stand-in of each function or figure; ``oracles`` those of which one must say no."""

    strikes: str | tuple[str, ...]
    what: str
    oracles: frozenset[str]
    parts: tuple[tuple[Any, str, Any], ...]

    @contextmanager
    def taken_out(self) -> Iterator[None]:
        """Meanwhile the mend is not there. Designs are compiled anew, before and after."""
        compiled_of.cache_clear()
        try:
            with ExitStack() as stack:
                for owner, name, instead in self.parts:
                    stack.enter_context(mock.patch.object(owner, name, instead))
                yield
        finally:
            compiled_of.cache_clear()

    def demonstrations(self) -> list[str]:
        """What it brings back."""
        return [name for name in DEMONSTRATIONS if name.startswith(self.strikes)]

    def found(self, outcome: Outcome) -> list[str]:
        """What the oracles that it must strike have said."""
        return [str(failure) for failure in outcome.failures if failure.oracle in self.oracles]


def _point_for_step(canvas: Canvas, node: Any, of: Any) -> float:
    return canvas.constant(node, of.unit.spelling if of.unit else "")


def _kelvin_for_step(canvas: Canvas, node: Any, of: Any) -> float:
    return canvas.constant(node, "K" if of.unit and of.unit.spelling in ("°C", "°F") else of.unit.spelling)


_encoded = Requests._encoded


def _asked_again(requests: Requests, name: str, value: Any, lookup: Any) -> Any:
    def beside(other: str) -> Any:
        pending = requests._pending.get(other)
        return lookup(other) if pending is None else pending.value

    return _encoded(requests, name, value, beside)


def _all_steps_added(log: Any, stamp: float, channel: str | None = None) -> tuple[float, float]:
    if not hasattr(log, "steady"):
        log.steady, log.first = Steady(), stamp
    return log.steady(stamp) - log.first, 0.0


def _dimmest(design: Any) -> frozenset[int]:
    return frozenset((min(range(len(design.themes)), key=lambda at: design.themes[at].luminance),))


def _every(design: Any) -> frozenset[int]:
    return frozenset(range(len(design.themes)))


_find, _decoded = from_dbc._find, Decoder.decoded
_messages: dict[str, Any] = {}


def _remembered(*given: Any) -> Any:
    found = _find(*given)
    if not isinstance(found, Finding):
        _messages[found[0].name] = found[0]
    return found


def _whole_or_nothing(decoder: Decoder, frame: Any) -> Any:
    watched = decoder._messages.get((frame.bus, frame.identifier, frame.extended))
    if watched is not None:
        try:
            _messages[watched.name].decode(
                frame.data, decode_choices=False, scaling=False, allow_truncated=True
            )
        except (DecodeError, ValueError, KeyError):
            return (), frame
    return _decoded(decoder, frame)


_take = Listener.take


def _read_in_the_loop(listener: Listener, most: int) -> Any:
    for _ in range(most):
        if listener.step() > 0.0 or listener.idle:
            break
    return _take(listener, most)


REVERSALS = (
    Reversal(
        "1 a step of", "a step of a temperature is a point on its scale", frozenset({"bus", "design"}),
        ((Canvas, "step", _point_for_step),),
    ),
    Reversal(
        "1 a step in", "ten degrees more are as many kelvin as the point of ten degrees", frozenset({"bus"}),
        ((Canvas, "step", _kelvin_for_step),),
    ),
    Reversal(
        "2 ", "a neighbour's unanswered request goes out again", frozenset({"bus"}),
        ((Requests, "_awaited", lambda *_: False), (Requests, "_encoded", _asked_again)),
    ),
    Reversal(
        "3 ", "what waited while the host stood still counts as it is read", frozenset({"stale"}),
        ((Arriving, "_stood", lambda *_: False),),
    ),
    Reversal(
        "4 stamps", "every step back of a log's stamps is added for ever", frozenset({"sum"}),
        ((LogTime, "__call__", _all_steps_added),),
    ),
    Reversal(
        "4 a clock", "a log's clock that is set is waited for", frozenset({"stale", "heal"}),
        ((LogTime, "__call__", _all_steps_added),),
    ),
    Reversal(
        "5 a display", "a display without a host shows the first theme of the file", frozenset({"night"}),
        ((compose, "first_theme", lambda _: 0),),
    ),
    Reversal(
        "9 a cause", "nobody is told that a screen stays though it was answered", frozenset({"answer"}),
        ((Runtime, "_acknowledge", lambda runtime: runtime._sight.acknowledge(
            runtime.table.lookup, runtime._seen) and None),),
    ),
    Reversal(
        "9 a screen", "a touch of a screen that has given way is dropped in silence", frozenset({"answer"}),
        ((Runtime, "_tell_missed", lambda *_: None),),
    ),
    Reversal(
        "5 the", "the dimmest theme counts as the night's, shown or not", frozenset({"night"}),
        ((light, "at_night", _dimmest), (light, "reached", _every), (shown_themes, "reached", _every)),
    ),
    Reversal(
        "4 equal", "a message is used from whatever bus it comes", frozenset({"truth"}),
        ((Decoder, "_by_one_channel", lambda *_: True),),
    ),
    Reversal(
        "4 the other", "what a message brought stays live when it turns out to come from two buses",
        frozenset({"truth"}),
        ((Decoder, "refused", lambda *_: ()),),
    ),
    Reversal(
        ("4 overlapping", "4 a field", "4 an unknown"), "a frame is decoded whole or not at all",
        frozenset({"heal"}),
        ((from_dbc, "_find", _remembered), (Decoder, "decoded", _whole_or_nothing)),
    ),
    Reversal(
        "6 ", "the display's nonce stays when its numbering of touches begins anew", frozenset({"touch"}),
        ((DisplaySession, "_renew_nonce", lambda _: None),),
    ),
    Reversal(
        "8 ", "a display is brought back again and again, however old its values are", frozenset({"truth"}),
        ((sent, "LATE_AFTER", float("inf")), (host_values, "DISTURBED_AT_MOST", float("inf"))),
    ),
    Reversal(
        ("7 a driver", "7 an adapter"), "the loop opens and reads a channel by itself",
        frozenset({"stale", "heal", "truth"}),
        (
            (Listener, "start", lambda listener: listener.step()),
            (Listener, "take", _read_in_the_loop),
            (Listener, "waiting", property(lambda _: True)),
        ),
    ),
    Reversal(
        "7 a bad", "a frame that cannot be read is the channel's end", frozenset({"stale", "heal"}),
        ((listening, "from_the_system", lambda _: True),),
    ),
)  # fmt: skip


def main() -> int:
    """Prints what is found under each reversal, and exits with 1 if anything is not."""
    missed = 0
    for reversal in REVERSALS:
        for name in reversal.demonstrations():
            with reversal.taken_out():
                found = reversal.found(live(DEMONSTRATIONS[name]))
            missed += not found
            print(f"{name:43}| {reversal.what}\n{'':43}|   {found[0] if found else 'NOT FOUND'}")
    for name, reason in NOT_YET.items():
        print(f"{name:43}| {reason}")
    without = mended() - {name for each in REVERSALS for name in each.demonstrations()}
    if without:
        print("mended, without a reversal: " + ", ".join(sorted(without)))
    return 1 if missed or without else 0


def mended() -> set[str]:
    """The demonstrations that nothing is found in any more."""
    return DEMONSTRATIONS.keys() - NOT_YET.keys()


if __name__ == "__main__":
    sys.exit(main())
