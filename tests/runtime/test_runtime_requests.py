"""Requests to the vehicle: refused when in doubt, else exactly the frame that the DBC says."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import cantools
import pytest
from hypothesis import given
from hypothesis import strategies as st
from runtime_builders import SPAN, Refused, design, signal, value_of

from hmic.language.parser import parse_expression
from hmic.model.checksums import NAMED, checksum
from hmic.model.design import Design, MessageCheck, OutputDefinition
from hmic.model.expressions import Doubt, Scope, Value, accountable, typed
from hmic.model.load import load
from hmic.model.units import unit
from hmic.runtime.from_dbc import load_encoder
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade, Requests, forbidden
from tests.tools.changed import replace

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
DBC = """VERSION "made"
NS_ :
BS_:
BU_: Dash
BO_ 1808 Ask: 4 Dash
 SG_ Limit : 0|8@1+ (0.5,0) [0|100] "%" Dash
 SG_ Lock : 8|1@1+ (1,0) [0|1] "" Dash
 SG_ Mode : 9|2@1+ (1,0) [0|2] "" Dash
 SG_ Counter : 12|4@1+ (1,0) [0|15] "" Dash
 SG_ Speed : 16|8@1+ (1,0) [0|200] "m/s" Dash
 SG_ Checksum : 24|8@1+ (1,0) [0|255] "" Dash
"""
SIGNALS = [
    signal("limit", resolution=0.5),
    signal("lock", kind="flag", unit=None),
    signal("mode", kind="word", unit=None, words={0: "Calm", 1: "Normal", 2: "Hill"}),
    signal("speed", unit=unit("km/h"), high=700.0, resolution=3.6),
]
FIELDS = {"limit": "Limit", "lock": "Lock", "mode": "Mode", "speed": "Speed"}
CHECK = MessageCheck("Ask", "Counter", "Checksum", NAMED["CRC-8/SAE-J1850"], True, SPAN)
UNKNOWN = "whether it is allowed is not known"
SHARED = "'mode' goes in the same message, and of it"
KNOWN: dict[str, Value] = {"limit": 80.0, "lock": True, "mode": "Normal", "speed": 36.0, "standing": True}


def made(tmp_path: Path, **given: object) -> Design:
    path = tmp_path / "made.dbc"
    path.write_text(DBC)
    base = design(SIGNALS, path)
    outputs = {
        name: OutputDefinition(name, base.signals[name], "Ask", field, SPAN, 0.0, 90.0, 500)
        for name, field in FIELDS.items()
    }
    outputs["limit"] = replace(outputs["limit"], allowed=value_of("standing", "flag"))
    fields: dict[str, object] = {"outputs": outputs, "messages": {"Ask": CHECK}, **given}
    return replace(base, **fields)  # type: ignore[arg-type]


class Asking:
    """Requests of a design, over values that the test sets."""

    def __init__(self, built: Design, allowed: bool = True) -> None:
        encoder = load_encoder(built)
        self.known = dict(KNOWN)
        self.counts: dict[str, int] = {}
        targets, encode = (encoder.targets, encoder.encode) if encoder is not None else (None, None)
        self.requests = Requests(built, allowed, lambda name: self.counts.get(name, 0), targets, encode)

    def lookup(self, name: str) -> Value:
        return self.known.get(name, Doubt.UNSEEN)

    def ask(self, name: str, value: object, now: float = 10.0) -> RequestMade | RequestRefused:
        return self.requests.ask(name, value, self.lookup, now)  # type: ignore[arg-type]


def fields_of(made_request: RequestMade | RequestRefused, tmp_path: Path) -> Mapping[str, object]:
    assert isinstance(made_request, RequestMade) and made_request.frame is not None, made_request
    frame = made_request.frame
    assert (frame.identifier, frame.extended) == (1808, False)
    library = cantools.database.load_file(tmp_path / "made.dbc")
    decoded = library.decode_message(1808, frame.data, decode_choices=False)
    data = bytes([1808 & 0xFF]) + frame.data[:3]
    assert decoded["Checksum"] == checksum(NAMED["CRC-8/SAE-J1850"], data)
    return decoded


def test_a_frame_carries_what_was_asked_and_what_the_others_read(tmp_path: Path) -> None:
    asking = Asking(made(tmp_path))
    first = fields_of(asking.ask("limit", 72.5), tmp_path)
    assert {name: first[name] for name in ("Limit", "Lock", "Mode", "Speed", "Counter")} == {
        "Limit": 72.5,
        "Lock": 1,
        "Mode": 1,
        "Speed": 10,
        "Counter": 0,
    }
    # Asked for a moment ago, not read back yet: neither asked a second time nor taken back.
    awaited = Refused("mode", "'limit' goes in the same message, and its answer is awaited")
    assert asking.ask("mode", "Hill") == awaited
    asking.known["limit"] = 72.5
    asking.counts["limit"] = 1
    assert asking.requests.tick(asking.lookup, 10.1) == [RequestDone("limit", 72.5, pytest.approx(0.1))]
    second = fields_of(asking.ask("mode", "Hill"), tmp_path)
    assert (second["Limit"], second["Mode"], second["Counter"]) == (72.5, 2, 1)


def test_a_request_that_is_no_longer_allowed_is_not_made_again_by_its_neighbour(tmp_path: Path) -> None:
    asking = Asking(made(tmp_path))
    asking.ask("limit", 72.5, 10.0)
    asking.known["standing"] = False
    beside = fields_of(asking.ask("lock", False, 10.1), tmp_path)
    assert (beside["Limit"], beside["Lock"]) == (80.0, 0)
    undone = Refused("limit", "it was no longer allowed when its message was sent for another")
    assert asking.requests.tick(asking.lookup, 10.1) == [undone]
    assert asking.requests.tick(asking.lookup, 13.0) == []


def test_a_request_that_was_not_followed_no_longer_counts(tmp_path: Path) -> None:
    asking = Asking(made(tmp_path))
    asking.ask("limit", 72.5, 10.0)
    assert asking.requests.tick(asking.lookup, 13.0) == [Refused("limit", "the vehicle did not follow")]
    beside = fields_of(asking.ask("lock", False, 13.0), tmp_path)
    assert (beside["Limit"], beside["Lock"]) == (80.0, 0)


@pytest.mark.parametrize(
    ("known", "name", "value", "reason"),
    [
        ({}, "nobody", True, "the design declares no such output"),
        ({}, "limit", 90.5, "it takes 0 to 90 %"),
        ({}, "limit", -1.0, "it takes 0 to 90 %"),
        ({}, "limit", float("nan"), "it takes 0 to 90 %"),
        ({}, "limit", True, "it takes 0 to 90 %"),
        ({}, "lock", 1.0, "it is on or off"),
        ({}, "mode", "Racing", "it takes another word"),
        ({"standing": False}, "limit", 50.0, "not allowed now"),
        ({"standing": Doubt.STALE}, "limit", 50.0, f"{UNKNOWN}: the last value is too old"),
        ({"standing": Doubt.UNSEEN}, "limit", 50.0, f"{UNKNOWN}: no value has come yet"),
        ({"mode": Doubt.STALE}, "lock", False, f"{SHARED} the last value is too old"),
    ],
)
def test_in_doubt_it_is_refused(
    tmp_path: Path, known: dict[str, Value], name: str, value: object, reason: str
) -> None:
    asking = Asking(made(tmp_path))
    asking.known.update(known)
    assert asking.ask(name, value) == Refused(name, reason)
    assert asking.requests.next_deadline() is None


def test_nothing_leaves_unless_it_is_allowed_and_not_too_often(tmp_path: Path) -> None:
    silent = Asking(made(tmp_path), allowed=False)
    assert silent.ask("lock", False) == Refused("lock", "this run sends nothing to the vehicle")
    asking = Asking(made(tmp_path))
    assert isinstance(asking.ask("lock", False, 10.0), RequestMade)
    assert asking.ask("lock", True, 10.4) == Refused("lock", "it was asked for less than 0.5 s ago")
    assert isinstance(asking.ask("lock", True, 10.5), RequestMade)
    busless = Asking(replace(made(tmp_path), buses={}))
    assert busless.ask("lock", False) == Refused("lock", "there is no bus to send it on")


def test_an_answer_must_be_newer_than_the_request_and_near_enough(tmp_path: Path) -> None:
    asking = Asking(made(tmp_path))
    asking.known["limit"] = 72.6
    asking.ask("limit", 72.5, 10.0)
    assert asking.requests.tick(asking.lookup, 10.1) == []
    asking.counts["limit"] = 1
    assert asking.requests.tick(asking.lookup, 10.5) == [RequestDone("limit", 72.5, 0.5)]
    asking.ask("lock", True, 11.0)
    assert asking.requests.next_deadline() == 14.0
    assert asking.requests.tick(asking.lookup, 14.0) == [Refused("lock", "the vehicle did not follow")]


def test_the_outputs_of_the_example_van_can_all_be_sent() -> None:
    van, _ = load(DUNLIN)
    assert van is not None
    encoder = load_encoder(van)
    assert encoder is not None
    known: dict[str, Value] = {}
    for name, output in van.outputs.items():
        kind = output.signal.kind
        known[name] = True if kind == "flag" else output.low if kind == "number" else "Calm"
    known |= {"charge.limit": 80.0, "motor.speed_limit": 90.0}
    library = cantools.database.load_file(DUNLIN / "dunlin.dbc", encoding="cp1252")
    requests = Requests(van, True, lambda name: 0, encoder.targets, encoder.encode)
    for name in sorted(van.outputs):
        if not van.outputs[name].message:
            continue
        asked = requests.ask(name, known[name], lambda asked_name: known[asked_name], 0.0)  # type: ignore[arg-type]
        assert isinstance(asked, RequestMade) and asked.frame is not None, asked
        decoded = library.decode_message(asked.frame.identifier, asked.frame.data, decode_choices=False)
        assert van.outputs[name].field in decoded
        requests.give_up(name)


FLAGS = ("belt.shut", "door.shut", "gear.parked", "cable.out")


@given(st.lists(st.sampled_from([True, False, *Doubt]), min_size=4, max_size=4), st.integers(1, 4))
def test_a_refusal_names_every_condition_that_fails(values: list[Value], count: int) -> None:
    """In the words of the design, by the control and by the output alike: what is false counts before what
    is in doubt, and of the doubts the gravest."""
    known = dict(zip(FLAGS, values, strict=True))
    names = [f"not {name}" if number % 2 else name for number, name in enumerate(FLAGS[:count])]
    holds = [
        not value if number % 2 and isinstance(value, bool) else value
        for number, value in enumerate(values[:count])
    ]
    scope = Scope({name: signal(name, kind="flag", unit=None) for name in FLAGS})
    node, wrong = parse_expression(" and ".join(names), "x", 1, 1)
    assert node is not None and not wrong
    condition = accountable(node, typed(node, scope), lambda each: typed(each, scope))
    refused = forbidden("x", condition, known.__getitem__)
    false = [name for name, value in zip(names, holds, strict=True) if value is False]
    doubts = [value for value in holds if isinstance(value, Doubt)]
    if false:
        needed = " and ".join(f"`{name}`" for name in false)
        assert refused == Refused("x", f"not allowed now: it needs {needed}")
    elif doubts:
        gravest = min(doubts)
        unsure = " and ".join(f"`{names[at]}`" for at, value in enumerate(holds) if value is gravest)
        assert refused is not None and refused.reason.startswith(f"{UNKNOWN}: of {unsure} ")
    else:
        assert refused is None
