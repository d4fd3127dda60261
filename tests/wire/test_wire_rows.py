"""Every row of every table of states is walked through the doors of the sessions: what leads into each state,
what each cause does there, and that no door ever gives a machine a cause that its table does not have."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import Any

import pytest

from hmic.pack.records import identity
from hmic.wire import frames, messages, states, updates
from hmic.wire.crc import START
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import (
    Disconnected,
    DisplayFacts,
    HostEvent,
    Outcome,
    RateChanged,
    Shown,
    Transferred,
    Values,
)
from hmic.wire.host_session import HostSession
from hmic.wire.sizes import unit_count
from hmic.wire.states import Cause, Display, Host, Proof, Rate, Scene, Table, after, as_diagram, pairs
from hmic.wire.states import Transfer as Sending
from hmic.wire.states import Values as Going
from tests.tools.changed import replace
from tests.wire.bad_line import MemoryStore

PACK = bytes(range(200))
OTHER, THIRD = bytes(range(1, 9)), bytes(range(2, 10))
FACTS = DisplayFacts(7, 9, 9, 1, OTHER, 1 << 20, 9, 9)
BARE = replace(FACTS, identity=None)
FIRST, FASTER = 10_000_000, 15_000_000
Way = Callable[[Any], None]


def kinds(said: list[messages.Message | None]) -> list[str]:
    return [type(each).__name__ for each in said]


class Far:
    """A host, to which this says what a display would."""

    def __init__(self) -> None:
        self.session = HostSession(1, FIRST / 10, FASTER)
        self.now = 10.0
        self.greeted = 0
        self.facts = FACTS
        self.events: list[HostEvent] = []
        self.said: list[messages.Message | None] = []
        self.say()

    def say(self) -> list[messages.Message | None]:
        """What the host says now, value frames and pulses as None."""
        bodies = [frame.body for frame in frames.FrameDecoder().receive(self.session.outgoing(self.now))]
        said = [None if body[0] >= updates.CHANGE else messages.decode(body) for body in bodies]
        greets = [each.session for each in said if isinstance(each, messages.Greet)]
        self.greeted = (greets or [self.greeted])[-1]
        self.said += said
        return said

    def take(self, message: messages.Message) -> None:
        plain = isinstance(message, messages.Answer | messages.Alone)
        seal = START if plain else updates.session_seal(1, self.facts.nonce, self.greeted)
        self.events += self.session.receive(frames.encode(messages.encode(message), seal), self.now)

    def answer(self, facts: DisplayFacts = FACTS) -> None:
        self.facts = facts
        self.take(messages.Answer(messages.VERSION, 1, self.greeted, facts))

    def again(self, facts: DisplayFacts) -> None:
        """Another session, with a display of these facts."""
        self.take(messages.Alone())
        self.say()
        self.answer(facts)

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.events += self.session.receive(b"", self.now)

    def show(self, screen: int = 0, theme: int = 0) -> None:
        self.session.show(screen, theme, 80, 2)
        if self.session._values.target is None:
            self.session.update([5, 5], self.now)

    def shown(self) -> None:
        """A screen in sight, and some value frames."""
        self.answer()
        self.show()
        self.say()
        for value in (6, 7, 8):
            self.session.update([value, value], self.now)
            self.say()

    def want(self, back: int) -> None:
        scene = self.session._scene.number
        self.take(messages.Want(scene, max(0, self.session._values.sent.number - back)))

    def astray(self) -> None:
        self.wait(0.3)
        self.take(messages.DisplayBeat(self.session._scene.number + 1, 0, 0))

    def push(self, dry: bool = False) -> None:
        self.session.transfer(PACK, dry)

    @property
    def number(self) -> int:
        return self.session._transfer._number

    def need(self, *runs: int) -> None:
        base = 0 if runs else unit_count(len(PACK))
        self.take(messages.Need(self.number, 0, False, base, runs))

    def result(self, outcome: Outcome) -> None:
        self.take(messages.Result(self.number, outcome))

    def unanswered(self, times: int, seconds: float) -> None:
        """So many questions without a reply, but for beats."""
        for _ in range(times):
            self.say()
            self.wait(seconds)
            self.take(messages.DisplayBeat(0, 0, 0))
        self.say()


class Near:
    """A display, to which this says what a host would."""

    def __init__(self) -> None:
        self.session = DisplaySession(FACTS, MemoryStore())
        self.now = 10.0
        self.greeted = 0
        self.scene = self.number = 0
        self.events: list[object] = []
        self.said: list[messages.Message | None] = []

    @property
    def seal(self) -> int:
        return updates.session_seal(1, 7, self.greeted)

    def say(self) -> list[messages.Message | None]:
        found = frames.FrameDecoder().receive(self.session.outgoing(self.now))
        said = [messages.decode(frame.body) for frame in found]
        self.said += said
        return said

    def frame(self, body: bytes, seal: int) -> None:
        self.events += self.session.receive(frames.encode(body, seal), self.now)

    def greet(self) -> None:
        self.greeted += 1
        self.scene = self.number = 0
        self.frame(messages.encode(messages.Greet(messages.VERSION, 1, self.greeted)), START)

    def show(self) -> None:
        self.scene += 1
        self.frame(messages.encode(messages.Show(self.scene, self.number, True, 0, 0, 80, 1)), self.seal)

    def shown(self) -> None:
        self.greet()
        self.show()

    def pulse(self) -> None:
        self.frame(updates.PULSE, updates.value_seal(self.seal, self.scene, self.number, 0, [0]))

    def resume(self) -> None:
        self.number += 1
        seal = updates.value_seal(self.seal, self.scene, self.number, 0, [0])
        self.frame(messages.encode(messages.Resume(self.number, 0)), seal)

    def noise(self) -> None:
        self.session.receive(b"\x09\x09\0", self.now)

    def repack(self) -> None:
        self.session.repack(replace(FACTS, identity=THIRD))

    def wait(self, seconds: float) -> None:
        self.now += seconds
        self.events += self.session.receive(b"", self.now)


def ways(*steps: Way) -> Way:
    """One after the other."""

    def all_of(end: Any) -> None:
        for step in steps:
            step(end)

    return all_of


def say(end: Any) -> None:
    end.say()


HOSTS: dict[StrEnum, list[Way]] = {Host.GREETING: [say], Host.TOGETHER: [Far.answer]}
RATES: dict[StrEnum, list[Way]] = {
    Rate.FIRST: [say, Far.answer],
    Rate.ASKING: [lambda far: far.answer(replace(FACTS, fastest=20_000_000))],
}
RATES[Rate.HIGHER] = [ways(*RATES[Rate.ASKING], lambda far: far.take(messages.Rated(FASTER)))]
SCENES: dict[StrEnum, list[Way]] = {
    Scene.BLANK: [Far.answer],
    Scene.FRESH: [ways(Far.answer, Far.show)],
    Scene.KEPT: [ways(Far.shown, lambda far: far.show(theme=1))],
    Scene.SHOWN: [Far.shown],
}
GOINGS: dict[StrEnum, list[Way]] = {
    Going.FOLLOWING: [Far.shown],
    Going.GOING_BACK: [ways(Far.shown, lambda far: far.want(2))],
    Going.RESUMED: [ways(Far.shown, lambda far: far.want(2), say)],
}
OFFERED: Way = ways(Far.push, lambda far: far.answer(BARE))
SENDINGS: dict[StrEnum, list[Way]] = {
    Sending.IDLE: [Far.answer],
    Sending.WAITING: [Far.push],
    Sending.COMPARING: [ways(Far.push, Far.answer)],
    Sending.OFFERING: [OFFERED, ways(lambda far: far.push(dry=True), lambda far: far.answer(BARE))],
    Sending.SENDING: [ways(OFFERED, lambda far: far.need(4))],
    Sending.FINISHING: [ways(OFFERED, lambda far: far.need())],
}
DISPLAYS: dict[StrEnum, list[Way]] = {
    Display.ALONE: [say],
    Display.MET: [Near.greet],
    Display.SHOWING: [Near.shown],
    Display.SILENT: [ways(Near.shown, lambda near: near.wait(1.0))],
}
PROOFS: dict[StrEnum, list[Way]] = {
    Proof.FOLLOWING: [Near.shown],
    Proof.ASKING: [ways(Near.shown, Near.noise)],
    Proof.DOUBTING: [ways(Near.shown, Near.noise, lambda near: near.wait(0.2))],
}
MACHINES: dict[str, tuple[Table[Any], type, Callable[[Any], Any], dict[StrEnum, list[Way]]]] = {
    "host": (states.HOST, Far, lambda far: far.session._greeting._machine, HOSTS),
    "rate": (states.RATE, Far, lambda far: far.session._rate._machine, RATES),
    "scene": (states.SCENE, Far, lambda far: far.session._scene._machine, SCENES),
    "values": (states.VALUES, Far, lambda far: far.session._values._machine, GOINGS),
    "transfer": (states.TRANSFER, Far, lambda far: far.session._transfer._machine, SENDINGS),
    "display": (states.DISPLAY, Near, lambda near: near.session._machine, DISPLAYS),
    "proof": (states.PROOF, Near, lambda near: near.session._proof, PROOFS),
}
"""The table, the end that has it, the machine there, and by what one gets into each of its states."""

DOORS: dict[Cause, list[Way]] = {
    Cause.ANSWER: [Far.answer],
    Cause.ALONE: [lambda far: far.take(messages.Alone())],
    Cause.DISPLAY_SILENT: [lambda far: far.wait(1.25)],
    Cause.FASTER: [lambda far: far.answer(replace(FACTS, fastest=20_000_000))],
    Cause.RATED: [lambda far: far.take(messages.Rated(FASTER))],
    Cause.NOT_RATED: [
        lambda far: far.take(messages.Rated(0)),
        lambda far: far.take(messages.Rated(FASTER + 1)),
        lambda far: far.unanswered(4, 0.25),
    ],
    Cause.PARTED: [lambda far: far.take(messages.Alone())],
    Cause.OTHER_SCREEN: [lambda far: far.show(screen=1)],
    Cause.OTHER_LOOK: [lambda far: far.show(theme=2)],
    Cause.ANEW: [Far.astray, lambda far: far.again(FACTS)],
    Cause.SHOWN: [say],
    Cause.OTHER_PACK: [lambda far: far.again(replace(FACTS, identity=THIRD))],
    Cause.WANT: [lambda far: far.want(1)],
    Cause.RESUME_SENT: [say],
    Cause.BEGUN: [lambda far: far.again(FACTS), ways(lambda far: far.show(screen=1), say)],
    Cause.PUSH: [Far.push],
    Cause.HOLDS: [lambda far: far.again(FACTS)],
    Cause.HOLDS_NONE: [lambda far: far.again(BARE)],
    Cause.COMPARED: [
        lambda far: far.take(messages.Hashes(far.number, 0, 0, ())),
        lambda far: far.take(messages.Hashes(far.number, 300, 0, (bytes(6),))),
        lambda far: far.unanswered(7, 0.26),
    ],
    Cause.MISSING: [lambda far: far.need(4)],
    Cause.WHOLE: [Far.need],
    Cause.DIFFERS: [lambda far: far.result(Outcome.DIFFERS)],
    Cause.RESULT: [
        lambda far: far.result(Outcome.REFUSED),
        ways(lambda far: far.result(Outcome.DIFFERS), lambda far: far.result(Outcome.DIFFERS)),
    ],
    Cause.IN_USE: [lambda far: far.again(replace(FACTS, identity=identity(PACK)))],
    Cause.LOOKED: [lambda far: far.need(4), lambda far: far.unanswered(7, 0.3)],
    Cause.GIVEN_UP: [lambda far: far.session.cancel_transfer()],
    Cause.GREET: [Near.greet],
    Cause.SHOW: [Near.show],
    Cause.LIFE: [Near.pulse, Near.resume],
    Cause.HOST_SILENT: [lambda near: near.wait(1.0)],
    Cause.REPACK: [Near.repack],
    Cause.ASTRAY: [
        Near.noise,
        lambda near: near.frame(b"\x9f", 1),
        lambda near: near.frame(b"\x05\x01", 1),
        ways(lambda near: near.session.receive(b"\x09\x09", near.now), lambda near: near.wait(0.03)),
    ],
    Cause.UNPROVED: [lambda near: near.wait(0.2)],
    Cause.RESUMED: [Near.resume],
    Cause.RESET: [Near.greet, Near.show, Near.repack],
}
"""By what a cause comes about."""

SAYS = {
    Cause.ALONE: "Greet", Cause.DISPLAY_SILENT: "Greet", Cause.FASTER: "Rate", Cause.WANT: "Resume",
    Cause.HOLDS: "Compare", Cause.HOLDS_NONE: "Offer", Cause.COMPARED: "Offer", Cause.MISSING: "Block",
    Cause.WHOLE: "Finish", Cause.DIFFERS: "Offer", Cause.GIVEN_UP: "Drop", Cause.GREET: "Answer",
    Cause.SHOW: "DisplayBeat", Cause.REPACK: "Alone", Cause.ASTRAY: "Want",
}  # fmt: skip
"""What is then said at once, where the row says so."""

WALKS = [(name, *pair) for name, (table, *_) in MACHINES.items() for pair in pairs(table)]


class Watch:
    """Notes which pairs of a table a machine is given."""

    def __init__(self, table: Table[Any], patch: pytest.MonkeyPatch) -> None:
        self.met: list[tuple[StrEnum, Cause]] = []

        def noted(given: Table[Any], state: StrEnum, cause: Cause) -> StrEnum:
            if given is table:
                self.met.append((state, cause))
            return after(given, state, cause)

        patch.setattr(states, "after", noted)


@pytest.mark.parametrize(("name", "state", "cause"), WALKS)
def test_every_row_is_walked(
    name: str, state: StrEnum, cause: Cause, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From every way into a state and by every door there is to a cause, the row's state is next; some
    lead through the row."""
    table, kind, machine, into = MACHINES[name]
    (step,) = (each for each in table if state in each.states and each.cause == cause)
    walked = 0
    for way in into[state]:
        for door in DOORS[cause]:
            end = kind()
            way(end)
            assert machine(end).state == state
            watch = Watch(table, monkeypatch)
            end.said.clear()
            door(end)
            if (state, cause) not in watch.met:
                continue
            walked += 1
            place = watch.met.index((state, cause))
            following = [*(before for before, _ in watch.met), machine(end).state]
            assert following[place + 1] == step.after
            if place == len(watch.met) - 1:
                end.say()
                told = SAYS.get(cause, "no word of its own")
                assert told not in step.does.replace(" ", "") or told in kinds(end.said), end.said
                deadline = end.session.next_deadline()
                assert deadline is not None and deadline > end.now, "nothing is left to do now"
    assert walked


@pytest.mark.parametrize("name", MACHINES)
def test_no_door_leads_beyond_a_table(name: str) -> None:
    """In whatever state, whatever comes: a machine is given no cause that it has no row for."""
    _, kind, _, into = MACHINES[name]
    mine = {cause for other, kinds_, *_ in MACHINES.values() if kinds_ is kind for _, cause in pairs(other)}
    for ways_in in into.values():
        for way in ways_in:
            for door in (door for cause in mine for door in DOORS[cause]):
                end = kind()
                way(end)
                door(end)
                end.say()
                end.wait(0.01)


@pytest.mark.parametrize("name", MACHINES)
def test_a_cause_without_a_row_raises_in_tests_and_changes_nothing_else(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = MACHINES[name][0]
    found = set(pairs(table))
    for state in type(table[0].after):
        for cause in Cause:
            machine = states.Machine(table)
            machine.state = state
            monkeypatch.setattr(states, "strict", True)
            if (state, cause) in found:
                machine.move(cause)
                continue
            with pytest.raises(LookupError, match=cause.name):
                machine.move(cause)
            monkeypatch.setattr(states, "strict", False)
            machine.move(cause)
            assert machine.state == state


@pytest.mark.parametrize("name", MACHINES)
def test_every_state_is_told_of_and_can_be_reached_and_left(name: str) -> None:
    table = MACHINES[name][0]
    every = set(type(table[0].after))
    assert {state for state, _ in pairs(table)} == every
    assert len(list(pairs(table))) == len(set(pairs(table)))
    reached, last = {table[0].states[0]}, set()
    while reached != last:
        last = set(reached)
        reached |= {step.after for step in table if reached & set(step.states)}
    assert reached == every
    assert all(f"[{state}]" in as_diagram(table) for state in every)


# What the column "doing" says beyond a message ---------------------------------------------------


@pytest.mark.parametrize("baud", [0, 1, FIRST, FASTER - 1, FASTER + 1])
def test_a_rate_that_was_not_asked_for_is_not_taken(baud: int) -> None:
    far = Far()
    RATES[Rate.ASKING][0](far)
    far.take(messages.Rated(baud))
    assert not [event for event in far.events if isinstance(event, RateChanged)]


def test_a_higher_rate_is_left_with_its_session() -> None:
    far = Far()
    RATES[Rate.HIGHER][0](far)
    assert far.events[-1] == RateChanged(FASTER)
    far.take(messages.Alone())
    assert far.events[-2:] == [Disconnected(), RateChanged(FIRST)]


@pytest.mark.parametrize(
    ("state", "door", "fresh", "further"),
    [
        (Scene.SHOWN, DOORS[Cause.OTHER_SCREEN][0], True, 1),
        (Scene.SHOWN, DOORS[Cause.OTHER_LOOK][0], False, 1),
        (Scene.KEPT, DOORS[Cause.OTHER_LOOK][0], False, 1),
        (Scene.KEPT, DOORS[Cause.OTHER_SCREEN][0], True, 1),
        (Scene.FRESH, DOORS[Cause.OTHER_LOOK][0], True, 1),
        (Scene.SHOWN, Far.astray, True, 1),
        (Scene.KEPT, Far.astray, True, 1),
        (Scene.SHOWN, DOORS[Cause.ANEW][1], True, 1),
    ],
)
def test_a_show_is_of_the_next_scene(state: Scene, door: Way, fresh: bool, further: int) -> None:
    far = Far()
    SCENES[state][0](far)
    before = far.session._scene.number
    door(far)
    (show,) = [each for each in far.say() if isinstance(each, messages.Show)]
    assert (show.scene, show.fresh) == (before + further, fresh)


def test_another_pack_leaves_nothing_to_show() -> None:
    far = Far()
    far.shown()
    DOORS[Cause.OTHER_PACK][0](far)
    assert "Show" not in kinds(far.say())
    with pytest.raises(ValueError, match="no screen is shown"):
        far.session.update([5, 5], far.now)


@pytest.mark.parametrize(
    ("state", "cause", "outcome"),
    [
        (Sending.WAITING, Cause.IN_USE, Outcome.UNCHANGED),
        (Sending.COMPARING, Cause.IN_USE, Outcome.UNCHANGED),
        (Sending.OFFERING, Cause.IN_USE, Outcome.UNCHANGED),
        (Sending.SENDING, Cause.IN_USE, Outcome.UNCHANGED),
        (Sending.FINISHING, Cause.IN_USE, Outcome.ACTIVATED),
        (Sending.FINISHING, Cause.RESULT, Outcome.REFUSED),
        (Sending.SENDING, Cause.GIVEN_UP, Outcome.CANCELLED),
        (Sending.WAITING, Cause.GIVEN_UP, Outcome.CANCELLED),
    ],
)
def test_a_transfer_tells_its_end_once(state: Sending, cause: Cause, outcome: Outcome) -> None:
    far = Far()
    SENDINGS[state][0](far)
    DOORS[cause][0](far)
    DOORS[cause][0](far)
    for _ in range(3):
        far.wait(0.2)
        far.say()
    assert [event for event in far.events if isinstance(event, Transferred)] == [Transferred(outcome)]


def test_what_a_display_shows_in_doubt_and_silence() -> None:
    near = Near()
    PROOFS[Proof.DOUBTING][0](near)
    assert near.events[-1] == Values((1,))
    near.resume()
    assert near.events[-1] == Values((0,))
    near.wait(1.0)
    assert near.events[-1] == Values((1,))
    near.pulse()
    assert near.events[-1] == Values((0,))
    near.greet()
    near.wait(0.0)
    assert near.events[-1] == Values((1,))
    near.show()
    assert near.events[-1] == Values((0,)) and not any(isinstance(each, Shown) for each in near.events[3:])
