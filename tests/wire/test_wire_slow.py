"""Pushes at slow rates, on an ideal clock: what an edit costs, how long blocks are and what is squeezed."""

from __future__ import annotations

from random import Random

import pytest

from hmic.pack.writer import write
from hmic.wire import states
from hmic.wire.bounds import push_seconds
from hmic.wire.host_session import HostSession
from hmic.wire.host_transfer import Transfer
from hmic.wire.messages import Block, Copy, Squeezed, encode
from hmic.wire.sizes import BLOCK_HEAD, UNIT
from hmic.wire.states import Cause, Table, after
from tests.bench.drive import MemoryStore, dunlin
from tests.bench.push import recoloured, simulated
from tests.wire.sound_packs import pack_of

SLOW = 9600


@pytest.mark.parametrize("baud", [SLOW, 2 * SLOW])
@pytest.mark.parametrize("errors", [0.0, 5e-4])
def test_a_colour_of_the_example_costs_little(baud: int, errors: float) -> None:
    drawing = dunlin().arranged.drawing
    first, pack = write(drawing), write(recoloured(drawing))
    seconds, forth, _ = simulated(MemoryStore(first), pack, first, errors, baud=baud)
    assert forth < 0.02 * len(pack)
    # All of it takes more than three minutes at 9600 Bd.
    assert seconds < (15.0 if errors else 5.0) * SLOW / baud


def blocks(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The bodies' lengths of all blocks sent from now on."""
    lengths: list[int] = []
    whole = Transfer.block

    def block(transfer: Transfer, leaves: float, seconds: float) -> Block | Squeezed | Copy:
        made = whole(transfer, leaves, seconds)
        lengths.append(len(encode(made)))
        return made

    monkeypatch.setattr(Transfer, "block", block)
    return lengths


def patterned() -> bytes:
    """Content as in a pack: much the same again and again, some new."""
    dice = Random(5)
    parts = [dice.randbytes(12) for _ in range(40)]
    return b"".join(dice.choice(parts) + bytes(dice.randrange(20)) for _ in range(1000))


def test_blocks_of_a_push_by_itself_are_squeezed_and_let_signs_of_life_pass(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    causes: list[Cause] = []

    def followed(table: Table, state: str, cause: Cause) -> str:
        causes.append(cause)
        return after(table, state, cause)

    monkeypatch.setattr(states, "after", followed)
    lengths, pack = blocks(monkeypatch), pack_of(patterned())
    _, forth, _ = simulated(MemoryStore(), pack, None, baud=SLOW)
    assert forth < 0.75 * len(pack)
    assert 2 * UNIT < max(lengths) <= 0.3 * SLOW / 10 + BLOCK_HEAD
    assert causes.count(Cause.GREET) == 1 and Cause.HOST_SILENT not in causes


def test_blocks_beside_a_screen_are_short(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = HostSession.transfer

    def beside_a_screen(host: HostSession, pack: bytes, dry: bool = False) -> None:
        host.show(0, 0, 80, 4)
        whole(host, pack, dry)

    monkeypatch.setattr(HostSession, "transfer", beside_a_screen)
    lengths = blocks(monkeypatch)
    simulated(MemoryStore(), pack_of(patterned()), None, baud=SLOW)
    assert max(lengths) <= UNIT + BLOCK_HEAD


def test_a_report_that_is_lost_makes_no_block_travel_twice() -> None:
    noise = pack_of(Random(6).randbytes(20_000))
    _, forth, _ = simulated(MemoryStore(), noise, None, 5e-4, baud=SLOW)
    # At best: every 76 bytes around 64 arrive as often as 0.9995 to the power of their bits.
    assert forth < 1.05 * len(noise) * 76 / 64 / 0.9995 ** (8 * 76)


@pytest.mark.parametrize("baud", [4800, SLOW, 19200, 115200, 460800])
def test_a_push_of_noise_takes_as_long_as_was_told(baud: int) -> None:
    """Nothing of it can be squeezed; greeting, reports and the way there and back are the few per cent."""
    noise = pack_of(Random(6).randbytes(20_000))
    seconds, _, _ = simulated(MemoryStore(), noise, None, baud=baud)
    assert push_seconds(len(noise), baud / 10) == pytest.approx(seconds, rel=0.05)
