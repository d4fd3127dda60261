"""What happens in a world: a short list of events. The seed only writes the list; the list drives the world,
so an event can be taken out without moving the others.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from tests.tools.changed import replace
from tests.world.design import SEVERAL

SHAPES = 24
"""Designs that seeds choose from: each is compiled once in a process."""


@dataclass(frozen=True)
class Event:
    """At ``at`` seconds ``kind`` begins, for ``lasts`` seconds where it lasts; ``given`` are its figures."""

    at: float
    kind: str
    lasts: float = 0.0
    given: tuple[tuple[str, Any], ...] = ()

    def __getitem__(self, name: str) -> Any:
        return dict(self.given)[name]

    @property
    def ends(self) -> float:
        """When it is over."""
        return self.at + self.lasts

    def __str__(self) -> str:
        figures = ", ".join(f"{name}={value!r}" for name, value in self.given)
        return (
            f"{self.at:7.2f} s  {self.kind}"
            + (f" for {self.lasts:g} s" if self.lasts else "")
            + (f" ({figures})" if figures else "")
        )


def event(at: float, kind: str, lasts: float = 0.0, **given: Any) -> Event:
    """An event with its figures by name."""
    return Event(round(at, 3), kind, round(lasts, 3), tuple(sorted(given.items())))


@dataclass(frozen=True)
class Setup:
    """What is so from the start. ``shape`` numbers the design, ``adapter`` is how CAN frames come: ``socket``
    (times of the bus, no waiting), ``bare`` (no times), ``serial`` (no times, every read waits 0.1 s) or
    ``slcan`` (opens in 2 s). ``channels`` are buses on the command line; ``replay`` plays a log that the
    vehicle wrote instead."""

    shape: int
    baud: int = 115200
    adapter: str = "socket"
    channels: int = 1
    replay: bool = False
    hour: float = 12.0
    length: float = 30.0


@dataclass(frozen=True)
class Plan:
    """A world from its start to its end."""

    seed: int
    setup: Setup
    events: tuple[Event, ...] = ()

    def __str__(self) -> str:
        return "\n".join([f"seed {self.seed}: {self.setup}", *(f"  {each}" for each in self.events)])


Maker = Callable[[random.Random, float], Event]


def _lasting(low: float, high: float) -> Callable[[random.Random], float]:
    return lambda dice: dice.uniform(low, high)


def _line(kind: str, low: float, high: float) -> Maker:
    def make(dice: random.Random, at: float) -> Event:
        chance = 10 ** dice.uniform(low, high)
        return event(at, kind, dice.uniform(0.1, 3.0), chance=chance, seed=dice.getrandbits(32))

    return make


def _plain(kind: str, low: float, high: float) -> Maker:
    return lambda dice, at: event(at, kind, dice.uniform(low, high))


def _message(kind: str, low: float, high: float) -> Maker:
    return lambda dice, at: event(at, kind, dice.uniform(low, high), message=dice.randrange(16))


NOISE = ("bit errors", "loss", "doubling", "insertion")
COMMON: dict[str, Maker] = {
    "bit errors": _line("bit errors", -3.6, -2.0),
    "loss": _line("loss", -2.7, -1),
    "doubling": _line("doubling", -2.7, -1),
    "insertion": _line("insertion", -2.7, -1),
    "stall": _plain("stall", 0.05, 3.0),
    "unplugged": _plain("unplugged", 0.05, 4.0),
    "port gone": _plain("port gone", 0.05, 4.0),
    "host frozen": _plain("host frozen", 0.1, 8.0),
    "host killed": _plain("host killed", 0.3, 5.0),
    "host restarted": _plain("host restarted", 0.3, 3.0),
    "wall clock": lambda dice, at: event(at, "wall clock", by=dice.choice((-7200.0, -3.0, 2.0, 86400.0))),
    "disk full": _plain("disk full", 1.0, 20.0),
    "other host": _plain("other host", 0.2, 2.0),
    "display restarted": _plain("display restarted", 0.05, 3.0),
    "push": lambda dice, at: event(
        at, "push", 0.0, cuts=tuple(sorted(dice.randrange(1, 400) for _ in range(dice.randrange(3))))
    ),
    "sender stops": _message("sender stops", 0.2, 8.0),
    "sender repeats": _message("sender repeats", 0.2, 5.0),
    "sender lies": _message("sender lies", 0.2, 5.0),
    "sender restarts": _message("sender restarts", 0.05, 2.0),
    "flood": lambda dice, at: event(at, "flood", dice.uniform(0.2, 2.0), rate=dice.choice((500, 2000, 4000))),
    "bus down": _plain("bus down", 0.1, 4.0),
    "bad frame": lambda dice, at: event(at, "bad frame"),
    "pipe stops": _plain("pipe stops", 0.5, 8.0),
    "pipe garbage": lambda dice, at: event(at, "pipe garbage", seed=dice.getrandbits(32)),
    "drive": _plain("drive", 2.0, 15.0),
    "vehicle deaf": _plain("vehicle deaf", 1.0, 6.0),
    "tap": lambda dice, at: event(at, "tap", dice.uniform(0.04, 0.4), zone=dice.randrange(64)),
    "double tap": lambda dice, at: event(at, "double tap", 0.3, zone=dice.randrange(64)),
}
MORE: dict[str, Maker] = {
    "hold": lambda dice, at: event(at, "hold", dice.uniform(0.45, 1.6), zone=dice.randrange(64)),
    "answer": lambda dice, at: event(
        at, "answer", dice.choice((0.1, 1.1)), zone=dice.randrange(64), after=round(dice.uniform(0.3, 2.5), 2)
    ),
    "swipe": lambda dice, at: event(at, "swipe", dice.uniform(0.05, 0.3), way=dice.choice(WAYS)),
    "other light": lambda dice, at: event(
        at, "other light", dice.uniform(0.3, 9.0), lux=dice.choice((2, 45, 100, 1900, 30000))
    ),
}
"""What only designs of several screens and themes heed."""
WAYS = ("left", "right", "up", "down")
KINDS = COMMON | MORE
"""Every kind of event and how the dice throw one."""

TOUCHES = ("tap", "double tap", "hold", "answer", "swipe")
VEHICLE = ("drive", "vehicle deaf", "sender stops", "sender repeats", "sender lies", "sender restarts",
           "pipe stops", "other light")  # fmt: skip
HOURS = (12.0, 23.0, 19.0 + 29.75 / 60, 6.0 + 59.8 / 60)
"""When worlds of several themes begin: the last two some seconds before another theme."""


def plan(seed: int, length: float = 30.0) -> Plan:
    """The world of a seed: a few kinds of trouble, fingers all the while, quiet at the end. An even seed has
    a design of several screens."""
    dice = random.Random(seed)
    setup = Setup(
        shape=dice.randrange(SHAPES),
        baud=dice.choice((115200, 115200, 115200, 9600, 57600)),
        adapter=dice.choice(("socket", "socket", "bare", "serial", "slcan")),
        channels=2 if dice.random() < 0.08 else 1,
        replay=dice.random() < 0.1,
        hour=dice.choice((12.0, 12.0, 23.0)),
        length=length,
    )
    busy = setup.length - 8.0
    kinds = dice.sample(sorted(COMMON), dice.randrange(1, 5))
    made = [COMMON[dice.choice(kinds)](dice, dice.uniform(4.0, busy)) for _ in range(dice.randrange(1, 7))]
    made += [COMMON["tap"](dice, dice.uniform(3.0, busy)) for _ in range(dice.randrange(4, 16))]
    made += [COMMON["drive"](dice, dice.uniform(2.0, busy)) for _ in range(dice.randrange(0, 3))]
    if not seed % 2:
        setup = replace(setup, shape=setup.shape + SEVERAL, hour=dice.choice(HOURS))
        made += [MORE[dice.choice(sorted(MORE))](dice, dice.uniform(3.0, busy)) for _ in range(12)]
    # Fingers at the end, when all must be well again.
    made += [event(setup.length - 3.0 + 0.5 * at, "tap", 0.1, zone=dice.randrange(64)) for at in range(4)]
    kept = tuple(
        replace(each, lasts=round(min(each.lasts, max(0.05, busy - each.at)), 3)) if each.at < busy else each
        for each in sorted(made, key=lambda each: each.at)
    )
    return Plan(seed, setup, kept)


def alone(kind: str) -> Plan:
    """A short world with one event of a kind, made so that it strikes, a drive and fingers."""
    strikes = KINDS[kind](random.Random(kind), 5.0)
    if strikes.lasts:
        strikes = replace(strikes, lasts=3.0)
    shape = 307 if kind in MORE else 107
    if kind == "other light":
        shape = 300
    if kind == "push":
        # While the edited pack arrives.
        strikes = event(5.0, "push", cuts=(40,))
    if kind in NOISE:
        # A byte in twenty or more, of some hundreds.
        strikes = event(5.0, kind, 3.0, chance=0.05, seed=1)
    fingers = (event(at, "tap", 0.1, zone=zone) for at, zone in ((5.3, 2), (5.7, 3), (13.0, 3)))
    return Plan(5, Setup(shape, length=16.0), (event(3.0, "drive", 1.5), strikes, *fingers))


def shrunk(plan: Plan, fails: Callable[[Plan], bool], most: int = 60) -> Plan:
    """A shorter list of events that still fails: halves, quarters and so on are left out while that
    helps (delta debugging, Zeller and Hildebrandt, IEEE TSE 28(2), 2002). At most ``most`` runs."""
    events = list(plan.events)
    parts = 2
    runs = 0
    while events and runs < most:
        size = -(-len(events) // parts)
        for start in range(0, len(events), size):
            fewer = [*events[:start], *events[start + size :]]
            runs += 1
            if fails(replace(plan, events=tuple(fewer))):
                events, parts = fewer, max(2, parts - 1)
                break
            if runs >= most:
                break
        else:
            if size == 1:
                break
            parts = min(len(events), parts * 2)
    return replace(plan, events=tuple(events))


def only(plan: Plan, kinds: Sequence[str]) -> tuple[Event, ...]:
    """The events of some kinds."""
    return tuple(each for each in plan.events if each.kind in kinds)
