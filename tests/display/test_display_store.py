"""The pack store: two banks, resume, and power that fails at any operation."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable
from pathlib import Path

import pytest

from hmic.diagnostics import DesignError
from hmic.display.flash import FileFlash, FlashError, MemoryFlash
from hmic.display.store import NO_IDENTITY, Store
from hmic.pack.records import identity
from hmic.wire.banks import banks, flash_need
from hmic.wire.sizes import UNIT

SECTOR, PAGE = 512, 128
SIZE = SECTOR * 14

OLD = random.Random(1).randbytes(1500)
NEW = random.Random(2).randbytes(1777)


either = pytest.mark.usefixtures("either_store")


class PowerCut(BaseException):
    """The supply is gone."""


class CutFlash(MemoryFlash):
    """Flash whose supply fails at operation ``cut_at`` (from 0), before it, after it, or half way."""

    def __init__(self, cells: bytearray | None = None) -> None:
        super().__init__(SIZE, SECTOR, PAGE)
        if cells is not None:
            self.cells[:] = cells
        self.cut_at = -1
        self.way = "before"
        self.count = 0
        self.chance = random.Random(0)

    def _guarded(self, offset: int, length: int, act: Callable[[], None]) -> None:
        cut = self.count == self.cut_at
        self.count += 1
        if cut and self.way == "before":
            raise PowerCut
        before = bytes(self.cells[offset : offset + length])
        act()
        if cut and self.way == "torn":
            after = self.cells[offset : offset + length]
            some = self.chance.randbytes(length)
            # Each bit is either still as before or already as after.
            torn = bytes((b & s) | (a & ~s & 255) for b, a, s in zip(before, after, some, strict=True))
            self.cells[offset : offset + length] = torn
        if cut:
            raise PowerCut

    def erase(self, offset: int) -> None:
        self._guarded(offset, self.sector, lambda: super(CutFlash, self).erase(offset))

    def program(self, offset: int, data: bytes) -> None:
        self._guarded(offset, len(data), lambda: super(CutFlash, self).program(offset, data))


def put(store: Store, pack: bytes) -> bool:
    """Writes as the line does: begin, the units that are missing, hash, activate."""
    assert store.begin(len(pack), identity(pack))
    have = store.have()
    for unit in range(-(-len(pack) // UNIT)):
        if not have[unit // 8] >> unit % 8 & 1:
            store.write(unit * UNIT, pack[unit * UNIT : (unit + 1) * UNIT])
    assert store.hash() == hashlib.sha256(pack).digest()
    return store.activate()


@either
def test_a_new_store_is_empty_and_keeps_what_it_is_given() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    store = Store(flash)
    assert store.active() is None
    assert put(store, OLD) and store.active() == OLD
    assert Store(flash).active() == OLD
    assert put(store, NEW) and Store(flash).active() == NEW == store.active()


@either
def test_many_activations_go_round_the_records() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    for number in range(40):
        pack = bytes((number,)) * (100 + number)
        assert Store(flash).install(pack)
        assert Store(flash).active() == pack


@either
@pytest.mark.parametrize("way", ["before", "after", "torn"])
@pytest.mark.parametrize("seed", [1, 2])
def test_power_fails_at_every_operation(way: str, seed: int) -> None:
    start = CutFlash()
    # Full record sectors, so that the change of sector is under the knife too.
    for number in range(SECTOR // 64 + 1 + (seed - 1) * (SECTOR // 64 - 1)):
        assert put(Store(start), bytes((number,)) * 900)
    assert put(Store(start), OLD)
    seen = set()
    for cut_at in range(1000):
        flash = CutFlash(start.cells)
        flash.cut_at, flash.way, flash.chance = cut_at, way, random.Random(seed * 1000 + cut_at)
        try:
            put(Store(flash), NEW)
        except PowerCut:
            flash.cut_at = -1
            found = Store(flash).active()
            assert found in (OLD, NEW)
            seen.add(found == NEW)
            # It goes on from there, and a second cut does no harm either.
            again = CutFlash(flash.cells)
            again.cut_at, again.way = flash.chance.randrange(60), way
            try:
                put(Store(again), NEW)
            except PowerCut:
                assert Store(again).active() in (OLD, NEW)
            again.cut_at = -1
            assert put(Store(again), NEW) and Store(again).active() == NEW
        else:
            assert cut_at > 50
            break
    else:
        pytest.fail("no end of operations")
    assert False in seen
    assert (True in seen) == (way == "after")


@either
def test_a_broken_off_transfer_goes_on_where_it_was() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    store = Store(flash)
    put(store, OLD)
    store.begin(len(NEW), identity(NEW))
    for unit in (0, 3, 9, len(NEW) // UNIT):
        store.write(unit * UNIT, NEW[unit * UNIT : (unit + 1) * UNIT])
    again = Store(flash)
    assert again.active() == OLD
    assert again.begin(len(NEW), identity(NEW))
    have = again.have()
    units = [unit for unit in range(8 * len(have)) if have[unit // 8] >> unit % 8 & 1]
    assert units == [0, 3, 9, len(NEW) // UNIT]
    assert not again.activate()
    assert put(again, NEW) and again.active() == NEW
    # The old one is still whole in the other bank: nothing needs to be sent to go back.
    assert again.begin(len(OLD), identity(OLD))
    assert again.hash() == hashlib.sha256(OLD).digest()
    assert again.activate() and again.active() == OLD


@either
def test_another_identity_or_none_discards() -> None:
    store = Store(MemoryFlash(SIZE, SECTOR, PAGE))
    for other in (NO_IDENTITY, b"other!!!"):
        store.begin(len(NEW), identity(NEW))
        store.write(0, NEW[:UNIT])
        assert any(store.have())
        assert store.begin(len(NEW), other)
        assert not any(store.have())
    assert not store.activate()


def test_what_does_not_fit_or_belong_is_left_out() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    store = Store(flash)
    before = bytes(flash.cells)
    assert not store.begin(store.capacity + 1, b"too much")
    assert not store.begin(0, b"nothing!")
    store.write(0, bytes(UNIT))
    assert not store.activate()
    assert bytes(flash.cells) == before
    assert store.begin(100, b"12345678")
    after = bytes(flash.cells)
    for offset, data in ((1, bytes(UNIT)), (64, bytes(64)), (-64, bytes(64)), (0, bytes(10)), (1 << 40, b"")):
        store.write(offset, data)
    assert bytes(flash.cells) == after


@either
def test_a_refused_pack_changes_nothing() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    put(Store(flash), OLD)
    store = Store(flash, accepts=lambda pack: pack != NEW)
    assert not put(store, NEW)
    assert store.active() == OLD == Store(flash).active()


@either
def test_the_full_capacity_can_be_used() -> None:
    store = Store(MemoryFlash(SIZE, SECTOR, PAGE))
    assert store.capacity == SECTOR * 5
    assert put(store, random.Random(3).randbytes(store.capacity))


@either
def test_rotten_records_and_banks_are_not_believed() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    put(Store(flash), OLD)
    put(Store(flash), NEW)
    place = bytes(flash.cells).rindex(NEW[:UNIT])
    flash.cells[place] ^= 1
    assert Store(flash).active() == OLD
    flash.cells[: 2 * SECTOR] = random.Random(4).randbytes(2 * SECTOR)
    store = Store(flash)
    assert store.active() is None
    assert put(store, NEW) and Store(flash).active() == NEW


@either
def test_failing_flash_is_a_refusal() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    store = Store(flash)

    def fail(*_: object) -> None:
        raise FlashError("worn")

    flash.program = fail  # type: ignore[method-assign]
    assert not store.begin(len(NEW), identity(NEW))
    assert not store.install(NEW)


def test_flash_rules() -> None:
    flash = MemoryFlash(SIZE, SECTOR, PAGE)
    flash.program(10, b"\x0f")
    flash.program(10, b"\xf3")
    assert flash.read(10, 1) == b"\x03"
    flash.erase(0)
    assert flash.read(10, 1) == b"\xff"
    for call in (
        lambda: flash.erase(1),
        lambda: flash.erase(SIZE),
        lambda: flash.program(PAGE - 1, b"ab"),
        lambda: flash.read(SIZE - 1, 2),
        lambda: flash.read(-1, 1),
    ):
        with pytest.raises(FlashError):
            call()


def test_a_store_in_a_file(tmp_path: Path) -> None:
    path = tmp_path / "store"
    flash = FileFlash(path)
    assert put(Store(flash), OLD)
    with pytest.raises(DesignError) as caught:
        FileFlash(path)
    assert caught.value.findings[0].code == "W661"
    flash.close()
    assert path.stat().st_blocks * 512 < 1 << 20
    flash = FileFlash(path)
    assert Store(flash).active() == OLD
    flash.close()
    wrong = tmp_path / "wrong"
    wrong.write_text("a letter")
    for bad, code in ((wrong, "W662"), (tmp_path, "W660"), (tmp_path / "no" / "store", "W660")):
        with pytest.raises(DesignError) as caught:
            FileFlash(bad)
        assert caught.value.findings[0].code == code
    assert wrong.read_text() == "a letter"


@pytest.mark.parametrize("sector", [512, 4096])
def test_a_flash_as_large_as_is_needed_holds_two_packs_and_one_smaller_does_not(sector: int) -> None:
    for size in (1, 511, 4096, 4097, 30_000, 200_000, 224_256, 1 << 20):
        need = flash_need(size, sector)
        assert Store(MemoryFlash(need, sector)).capacity >= size
        assert size <= sector or Store(MemoryFlash(need - 2 * sector, sector)).capacity < size
        with pytest.raises(ValueError, match="whole pages"):
            Store(MemoryFlash(need, sector, page=sector * 2))


def test_every_byte_of_a_flash_has_one_owner() -> None:
    """Records, then twice a directory and a bank; no more than one sector is left over."""
    for sector in (512, 4096):
        for size in range(0, 60 * sector, sector // 4):
            plan = banks(size, sector)
            if plan.capacity <= 0:
                with pytest.raises(ValueError, match="too small"):
                    Store(MemoryFlash(size, sector))
                continue
            each = plan.directory + plan.capacity
            assert plan.at == (2 * sector, 2 * sector + each)
            assert size - 2 * sector < plan.at[1] + each <= size
            # A bit for each unit of 64 bytes follows 32 bytes.
            assert plan.directory >= 32 + plan.capacity / 64 / 8
            assert flash_need(plan.capacity, sector) <= size < flash_need(plan.capacity + 1, sector)
