"""Edges of a transfer that no fault on a line comes to by chance: what begins while the display is away, the
last piece of a pack, as many runs as a report can have."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest

from hmic.pack.records import identity
from hmic.wire import messages
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import Outcome, Transferred
from hmic.wire.likeness import PIECE, hash_of, piece_count, sources
from hmic.wire.sizes import UNIT
from tests.tools.changed import replace
from tests.wire.bad_line import MemoryStore
from tests.wire.test_wire_rows import FACTS, PACK, Far, Near

MOST = 24
"""Runs of a report (PROTOCOL.md)."""


def test_a_transfer_that_begins_while_the_display_is_away_waits_for_it() -> None:
    """What it had in use when it was last heard says nothing of what it has when it is back."""
    far = Far()
    far.answer(replace(FACTS, identity=identity(PACK)))
    far.wait(60.0)
    far.push()
    far.wait(0.01)
    assert not any(isinstance(event, Transferred) for event in far.events)
    far.say()
    far.answer(replace(FACTS, identity=None, nonce=8))
    assert any(isinstance(said, messages.Offer) for said in far.say())
    far.need()
    far.say()
    far.result(Outcome.ACTIVATED)
    assert [event for event in far.events if isinstance(event, Transferred)] == [
        Transferred(Outcome.ACTIVATED)
    ]


def hashes(pack: bytes) -> list[bytes]:
    return [hash_of(pack[at * PIECE : (at + 1) * PIECE]) for at in range(piece_count(len(pack)))]


REST = 5 * UNIT + 7
"""Bytes of the last piece of the old pack."""


def found_in(old: bytes, new: bytes) -> set[int]:
    """The units that are found; what is found must be the same."""
    found = sources(new, len(old), hashes(old))
    for unit, source in enumerate(found):
        here = new[unit * UNIT : (unit + 1) * UNIT]
        assert source is None or old[source : source + len(here)] == here
    return {unit for unit, source in enumerate(found) if source is not None}


@pytest.mark.parametrize("ahead", [0, 1, 63, 64, 65, PIECE - 1, PIECE])
def test_of_a_pack_with_something_ahead_all_the_rest_is_found(ahead: int) -> None:
    """Also the units that begin in one piece and end in the next or in the last, shorter one."""
    old = Random(4).randbytes(3 * PIECE + REST)
    new = Random(5).randbytes(ahead) + old
    assert found_in(old, new) == set(range(-(-ahead // UNIT), -(-len(new) // UNIT)))


@pytest.mark.parametrize("kept", [0, 1, 2])
@pytest.mark.parametrize("between", [0, 1, 10, UNIT])
def test_the_last_piece_is_found_by_itself(kept: int, between: int) -> None:
    """Behind fewer pieces than before, or behind other bytes, it does not go on with what is before it."""
    old = Random(6).randbytes(3 * PIECE + REST)
    tail = old[-REST:]
    new = old[: kept * PIECE] + Random(7).randbytes(between) + tail
    first_of_tail = -(-(kept * PIECE + between) // UNIT)
    whole = set(range(kept * PIECE // UNIT)) | set(range(first_of_tail, -(-len(new) // UNIT)))
    assert found_in(old, new) == whole


def test_a_last_piece_alone_and_one_that_is_longer_than_the_new_pack() -> None:
    old = Random(8).randbytes(2 * PIECE + REST)
    assert found_in(old, old[-REST:]) == set(range(6))
    assert found_in(old, old[-REST + 1 :]) == set()
    # A short pack that is all last piece; and one of whole pieces has none.
    assert found_in(old[:REST], old[:REST]) == set(range(6))
    assert found_in(old[:PIECE], old[:PIECE]) == set(range(PIECE // UNIT))


def need_of(held: Sequence[bool]) -> messages.Need:
    """What a display tells whose store holds these units of the pack that is offered."""
    store, size, digest = MemoryStore(), len(held) * UNIT, bytes(range(32))
    assert store.begin(size, digest[:8])
    for unit, there in enumerate(held):
        if there:
            store.write(unit * UNIT, bytes(UNIT))
    near = Near()
    near.session = DisplaySession(FACTS, store)
    near.greet()
    near.frame(messages.encode(messages.Offer(1, size, digest, fresh=True)), near.seal)
    (need,) = (said for said in near.say() if isinstance(said, messages.Need))
    return need


@pytest.mark.parametrize("runs", [1, 2, MOST - 1, MOST, MOST + 1, MOST + 2, 3 * MOST])
@pytest.mark.parametrize("base", [0, 3])
def test_a_report_has_as_many_runs_as_there_are_and_tells_where_it_is_cut(runs: int, base: int) -> None:
    """Missing and held in turn, of one, two, three units ...; read as PROTOCOL.md says it is what is held."""
    held = [True] * base
    for run in range(runs):
        held += [run % 2 == 1] * (1 + run % 3)
    need = need_of(held)
    assert need.base == base and len(need.runs) <= MOST
    read: list[bool | None] = [True] * base
    for turn, length in enumerate(need.runs):
        read += [turn % 2 == 1] * length
    # After the last run all are missing, or unknown.
    read += [None if need.cut else False] * (len(held) - len(read))
    assert all(said is None or said is there for said, there in zip(read, held, strict=True))
    assert need.cut is (runs > MOST)
    assert messages.decode(messages.encode(need)) == need


def test_a_report_of_more_runs_is_no_message() -> None:
    most = messages.Need(1, 2, True, 0, (1,) * MOST)
    assert messages.decode(messages.encode(most)) == most
    assert messages.decode(messages.encode(messages.Need(1, 2, True, 0, (1,) * (MOST + 1)))) is None
