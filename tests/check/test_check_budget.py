"""Budgets of line and memory: findings on a slow line, and no delay on a test link beyond the bound."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest

from hmic.arrange.compose import Arranged, arrange
from hmic.check import budget
from hmic.check.limits import Limits
from hmic.cli.binding import bind
from hmic.cli.compiling import Compiled, compile_design
from hmic.link.memory import Faults, MemoryLine
from hmic.model.design import Design
from hmic.model.load import load
from hmic.wire.bounds import block_seconds, change_bytes, refresh_bytes
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.frames import encode
from hmic.wire.host_session import HostSession
from hmic.wire.updates import encode_changes

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"


@cache
def dunlin() -> tuple[Design, Arranged]:
    compiled = compile_design(DUNLIN)
    assert isinstance(compiled, Compiled)
    return compiled.design, compiled.arranged


def at(baud: int) -> Design:
    design = dunlin()[0]
    return replace(design, panel=replace(design.panel, baud=baud))


def found(design: Design) -> list[tuple[str, str]]:
    findings = budget.check(design, dunlin()[1], Limits(design))
    for finding in findings:
        assert finding.limit is not None
        if finding.measured is None:
            assert f"may come without a bound at {design.panel.baud} Bd" in finding.message
        else:
            assert finding.measured > finding.limit
        assert "the largest: " in (finding.remedy or "")
    return [(finding.code, finding.message) for finding in findings]


def test_the_example_is_within_its_budget() -> None:
    assert found(at(115200)) == []


def test_a_slow_line_is_an_error_with_the_largest() -> None:
    codes = {code for code, _ in found(at(9600))}
    assert codes == {"C460", "C461"}
    cells = next(finding for finding in budget.check(at(9600), dunlin()[1], Limits(at(9600))))
    assert cells.remedy is not None and cells.remedy.count(" bytes)") == 3
    assert "cells pack.cells" in cells.remedy


def test_memory_and_flash() -> None:
    design, arranged = dunlin()
    small = replace(design, panel=replace(design.panel, memory=36 << 10))
    assert "C463" in [finding.code for finding in budget.check(small, arranged, Limits(small))]
    sections = {"planes": 150_000, "operations": 30_000, "glyphs": 20_000, "names": 64}
    assert budget.check_flash(design, arranged, sections) == []
    tiny = replace(design, panel=replace(design.panel, flash=400_000))
    (finding,) = budget.check_flash(tiny, arranged, sections)
    assert finding.code == "C462" and "planes (150000 bytes), operations (30000 bytes), glyphs" in str(
        finding.remedy
    )


def test_the_flash_needed_is_what_the_store_takes() -> None:
    from hmic.display.flash import MemoryFlash
    from hmic.display.store import Store

    for size in (1, 4096, 200_000, 224_256, 1 << 20):
        need = budget.flash_need(size)
        assert Store(MemoryFlash(need)).capacity >= size
        assert size <= 4096 or Store(MemoryFlash(need - 8192)).capacity < size


def test_the_largest_pack_is_the_largest_that_fits() -> None:
    for flash in (*range(0, 40 * 4096, 1000), 400_000, 1 << 20, 16 << 20):
        most = budget.largest_pack(flash)
        assert most < 0 or budget.flash_need(most) <= flash
        assert budget.flash_need(max(most, 0) + 1) > flash


def test_the_check_tells_what_the_build_refuses(tmp_path: Path) -> None:
    """Where two packs only just fit nothing is found; with a sector less it is, by the check already."""
    from shutil import copytree

    from hmic.pack.writer import write

    need = budget.flash_need(len(write(dunlin()[1].drawing)))
    for flash, codes in ((need, []), (need - 4096, ["C462"])):
        folder = copytree(DUNLIN, tmp_path / str(flash))
        file = folder / "design.yaml"
        file.write_text(file.read_text().replace("flash: 1 MB", f"flash: {flash} B"))
        result = compile_design(folder)
        weighty = [finding.code for finding in result.findings if finding.severity.value == "error"]
        assert weighty == codes


def test_bounds_hold_for_every_frame() -> None:
    dice = Random(4)
    for _ in range(300):
        count = dice.randrange(1, 60)
        largest = [dice.choice((3, 5, 100, 400, 65535)) for _ in range(count)]
        before = [dice.randrange(top + 1) for top in largest]
        after = [
            dice.randrange(top + 1) if dice.random() < 0.7 else old
            for top, old in zip(largest, before, strict=True)
        ]
        bound, sent = change_bytes(largest), 0
        while before != after:
            body, before = encode_changes(before, after, 128)
            sent += len(encode(body))
        assert sent <= bound


WITHIN = """screen only "Only"
    plan
        speed
    in speed    reading van.speed as "0 km/h", shown within {limit}
"""


def classes(code: str, message: str) -> set[tuple[str, str]]:
    """What a finding says to be late, a class of values each."""
    subject = message.split(" may come ")[0].split(" asks for ")[0]
    screen, _, listed = subject.partition(", ")
    return {(code, f"{screen}, {what}") for what in re.split(r" \(and |, ", listed.rstrip(")"))}


def test_a_slower_line_takes_no_error_away() -> None:
    """What has no bound is the worst of all, not the best."""
    before: set[tuple[str, str]] | None = None
    for baud in (9600, 14400, 19200, 28800, 38400, 57600, 115200, 230400):
        told = {each for finding in found(at(baud)) for each in classes(*finding)}
        assert before is None or told <= before, (baud, told - before)
        before = told
    assert before == set()


@pytest.mark.parametrize("baud", [14400, 19200, 28800])
def test_what_has_no_bound_is_an_error(baud: int) -> None:
    told = [message for code, message in found(at(baud)) if code == "C460" and "'music'" in message]
    assert any(message.endswith(f"may come without a bound at {baud} Bd") for message in told), told


def small(folder: Path, limit: str) -> tuple[Design, Arranged]:
    (folder / "design.yaml").write_text(
        (DUNLIN / "design.yaml")
        .read_text()
        .replace("start: drive", "start: only")
        .replace("dbc: dunlin.dbc\n", "")
    )
    themes = (DUNLIN / "themes.yaml").read_text()
    (folder / "themes.yaml").write_text(themes[themes.index("themes:") :])
    (folder / "signals.yaml").write_text(
        "signals:\n  van.speed: {unit: km/h, range: [0, 140], from: pipe, stale: 500 ms}\n"
    )
    (folder / "only.layout").write_text(WITHIN.format(limit=limit))
    design, findings = load(folder)
    assert design is not None, findings
    arranged, more = arrange(design)
    assert arranged is not None, more
    return design, arranged


@pytest.mark.parametrize(
    ("limit", "baud", "late"),
    [("300 ms", 115200, False), ("200 ms", 115200, False), ("30 ms", 115200, True), ("0.5 s", 9600, False)],
)
def test_a_declared_limit_is_held(tmp_path: Path, limit: str, baud: int, late: bool) -> None:
    design, arranged = small(tmp_path, limit)
    design = replace(design, panel=replace(design.panel, baud=baud))
    findings = [f for f in budget.check(design, arranged, Limits(design)) if "reading van.speed" in f.message]
    assert bool(findings) == late
    if late:
        assert findings[0].span is not None and findings[0].span.line == 4
    bound = bind(Compiled(design, arranged, ()))
    number = arranged.drawing.screens[0].channels[0]
    assert (number in bound.screens[0].calm, number in bound.screens[0].prompt) == {
        "300 ms": (False, False),
        "0.5 s": (True, False),
    }.get(limit, (False, True))


@pytest.mark.parametrize(("baud", "count"), [(115200, 16), (115200, 200), (19200, 30), (1_000_000, 100)])
def test_no_update_is_later_than_the_bound(baud: int, count: int) -> None:
    """With a push going on, all values moving, everything changed once a second, and a refresh asked
    for as often, the measured worst case stays below the analysis'."""
    rate = baud / 10
    largest = [400] * count
    sustained, full = change_bytes([2] * count), change_bytes(largest)
    bound = budget.delays(rate, sustained, full, refresh_bytes(largest))
    assert bound is not None
    line = MemoryLine(Faults(rate=rate), Faults(rate=rate), seed=1)
    host = HostSession(3, rate)
    display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 512, 1), _Sink())
    host.show(0, 0, 80, count)
    dice = Random(baud + count)
    raw, values = [200] * count, ()
    pending: list[tuple[float, tuple[int, ...]]] = []
    now, worst, next_update, turn, unsent = 0.0, 0.0, 0.5, 0, b""
    host.update(raw, now)
    host.transfer(dice.randbytes(400_000))
    while now < 12.0:
        now += 0.001
        line.advance(now)
        for event in display.receive(line.far.read(), now):
            values = event.raw if isinstance(event, Values) else values
        line.far.write(display.outgoing(now))
        while pending and values == pending[0][1]:
            worst = max(worst, now - pending.pop(0)[0])
        host.receive(line.near.read(), now)
        if now >= next_update:
            turn += 1
            next_update += 0.1
            raw = [min(400, max(3, v + dice.choice((-2, -1, 1, 2)))) for v in raw]
            if turn % 10 == 0:
                raw = [dice.randrange(3, 401) for _ in range(count)]
            host.update(raw, now)
            # Only the newest is ever shown; each waits from its own time.
            pending = [(since, tuple(raw)) for since, _ in pending[:1]] or [(now, tuple(raw))]
            if turn % 10 == 5:
                display._ask(now)
        unsent += host.outgoing(now)
        unsent = unsent[line.near.write(unsent) :]
    assert 0 < worst <= bound + 0.003, (worst, bound)


class _Sink:
    """Takes a pack and never has it whole."""

    def begin(self, size: int, identity: bytes) -> bool:
        return True

    def have(self) -> bytes:
        return b""

    def write(self, offset: int, data: bytes) -> None:
        pass

    def hash(self) -> bytes:
        return bytes(32)

    def activate(self) -> bool:
        return False

    def size_in_use(self) -> int:
        return 0

    def read_in_use(self, offset: int, length: int) -> bytes:
        return b""


def test_a_block_never_holds_the_line_longer_than_said() -> None:
    for baud in (9600, 19200, 115200, 921600, 3_000_000):
        rate = baud / 10
        host = HostSession(3, rate)
        display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 512, 1), _Sink())
        host.transfer(Random(1).randbytes(20_000))
        now, longest = 0.0, 0
        for _ in range(400):
            now += 0.01
            out = host.outgoing(now)
            longest = max([longest, *(len(piece) + 1 for piece in out.split(b"\0"))])
            display.receive(out, now)
            host.receive(display.outgoing(now), now)
        assert longest > 64 and longest / rate <= block_seconds(rate)


def test_two_wires_take_longer() -> None:
    design, arranged = dunlin()
    shared = replace(design, panel=replace(design.panel, half_duplex=True))
    for number in range(len(arranged.screens)):
        one, two = (
            budget.screen_budget(design, arranged, number),
            budget.screen_budget(shared, arranged, number),
        )
        assert two.load > one.load
        for alone, turns in zip(one.delays, two.delays, strict=True):
            assert alone.milliseconds is not None and turns.milliseconds is not None
            assert turns.milliseconds > alone.milliseconds + 12
