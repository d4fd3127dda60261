"""Budgets of line and memory: findings on a slow line, and no delay on a test link beyond the bound."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from random import Random

import pytest

from hmic.arrange.compose import Arranged, arrange
from hmic.check import budget
from hmic.check.line_delays import Line, Moves
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design
from hmic.link.memory import Faults, MemoryLine
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.load import load
from hmic.player.written import STACK, memory
from hmic.wire.banks import flash_need
from hmic.wire.bounds import block_seconds, push_seconds, value_bytes
from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Values
from hmic.wire.frames import encode
from hmic.wire.host_session import HostSession
from hmic.wire.sent import RETURN_AFTER, SentValues
from hmic.wire.sizes import URGENT
from tests.tools.changed import replace

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


def test_the_example_is_within_its_budget_at_9600_bd() -> None:
    """What danger and touches take is guaranteed while no pack is pushed, and told for when one is."""
    assert found(at(9600)) == []
    for number in range(len(dunlin()[1].screens)):
        for delay in budget.screen_budget(at(9600), dunlin()[1], number).delays:
            most = {"what is danger": (200, 300), "caution or the answer to a touch": (300, 350)}
            alone, pushed = most.get(delay.what, (2000, 2000))
            assert delay.milliseconds is not None and delay.milliseconds <= alone
            assert delay.pushed is not None and delay.milliseconds < delay.pushed <= pushed


def test_a_slow_line_is_an_error_with_the_largest() -> None:
    codes = {code for code, _ in found(at(4800))}
    assert codes == {"C460", "C461"}
    cells = next(finding for finding in budget.check(at(4800), dunlin()[1], Limits(at(4800))))
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


def test_the_check_tells_what_the_build_refuses(tmp_path: Path) -> None:
    """Where two packs only just fit nothing is found; with a sector less it is, by the check already."""
    from shutil import copytree

    from hmic.pack.writer import write

    need = flash_need(len(write(dunlin()[1].drawing)))
    for flash, codes in ((need, []), (need - 4096, ["C462"])):
        folder = copytree(DUNLIN, tmp_path / str(flash))
        file = folder / "design.yaml"
        file.write_text(file.read_text().replace("flash: 1 MB", f"flash: {flash} B"))
        result = compile_design(folder)
        weighty = [finding.code for finding in result.findings if finding.severity.value == "error"]
        assert weighty == codes


@pytest.mark.parametrize("seed", range(4))
def test_no_update_takes_more_bytes_than_the_bound(seed: int) -> None:
    """Any positions change, from any state of the host's turns, in frames of any room."""
    dice = Random(seed)
    for _ in range(200):
        count = dice.choice((1, 5, 16, 31, 32, 33, 40, 64, 216, 500, 947, dice.randrange(1, 120)))
        room, still, dense = (
            dice.choice((16, 20, 24, 36, 56, 128, 200)),
            dice.random(),
            dice.choice((1, 0.7, 0.05)),
        )
        moves = [
            0 if dice.random() < still else dice.choice((1, 2, 2, 6, 31, 400, 9000, 65535))
            for _ in range(count)
        ]
        firsts = dice.sample(range(0, count - 1, 2), min(dice.choice((0, 0, 1, 3)), count // 2))
        pairs = [(first, first + 1) for first in sorted(firsts)]
        sent, now = SentValues(count, 0, pairs), dice.choice((0.0, RETURN_AFTER))
        sent._crowded = dice.random() < 0.3
        values = tuple(0 if move > 9000 else 20_000 for move in moves)
        sent._held = replace(sent._held, values=values, cursor=dice.randrange(32, max(33, count)))
        sent._kept[0] = sent._held
        target = tuple(
            value
            + dice.choice((1, -1 if value else 1))
            * (move if dice.random() < 0.6 else dice.randrange(move + 1))
            if dice.random() < dense
            else value
            for value, move in zip(sent.values, moves, strict=True)
        )
        bound, took, before = value_bytes(moves, room, len(pairs)), 0, sent.values
        sent.aim(target, 0.0)
        while sent.behind:
            took += len(encode(sent.advance(room, now)))
            for pair in pairs:
                # A display that has this frame and not the next shows the number as it was or as it is.
                assert tuple(sent.values[at] for at in pair) in {
                    tuple(values[at] for at in pair) for values in (before, target)
                }
        assert took <= bound, (count, room, moves)


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
    for baud in (600, 1200, 2400, 4800, 7200, 9600, 14400, 38400, 115200, 230400):
        told = {each for finding in found(at(baud)) for each in classes(*finding)}
        assert before is None or told <= before, (baud, told - before)
        before = told
    assert before == set()


@pytest.mark.parametrize("baud", [1200, 2400, 4800])
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


@pytest.mark.parametrize("more", ["", ", aligned centre", ", aligned left"])
def test_figures_are_calm_wherever_they_stand(tmp_path: Path, more: str) -> None:
    """Nobody reads a number that changes more often than five times a second, also one that moves with the
    count of its figures."""
    design, arranged = small(tmp_path, "0.5 s" + more)
    bound = bind(Compiled(design, arranged, ()))
    number = arranged.drawing.screens[0].channels[0]
    assert number in bound.screens[0].calm


def judged(baud: int, count: int, lamps: int, push: bool, seed: int) -> None:
    """Values move with each batch as much as is taken for granted, a lamp changes now and then, a widget
    jumps each three seconds and a frame is lost each second: nothing comes later than the analysis says."""
    line = Line(baud / 10)
    dice = Random(seed)
    ranges = [5 if at < lamps else dice.choice((40, 400)) for at in range(count)]
    moving = tuple(0 if at < lamps else 1 if ranges[at] == 40 else 2 for at in range(count))
    moves = Moves(moving, tuple(ranges), frozenset(range(lamps)), frozenset())
    together = list(range(lamps, min(count, lamps + 10)))
    bounds = line.delays(moves, [moves.jump(together)])[push]
    wire = MemoryLine(Faults(rate=line.rate), Faults(rate=line.rate), seed=1)
    host = HostSession(3, line.rate)
    display = DisplaySession(DisplayFacts(7, 1024, 600, 16, None, 1 << 21, 1024, 1), _Sink())
    host.show(0, 0, 80, count)
    raw, values = [4 if at < lamps else 20 for at in range(count)], ()
    since: list[float | None] = [None] * count
    worst = {"at once": 0.0, "first": 0.0, "rest": 0.0}
    batch, now, unsent = line.batch(moving), 0.0, b""
    turns = {"batch": 4.0, "lamp": 4.1, "jump": 5.0, "loss": 4.5}
    host.update(raw, now)
    if push:
        host.transfer(dice.randbytes(400_000))

    def set_to(at: int, value: int) -> None:
        if value != raw[at]:
            since[at] = now if since[at] is None else since[at]
            raw[at] = value

    while now < 13.0:
        now += 0.001
        wire.advance(now)
        arrived = wire.far.read()
        for event in display.receive(arrived, now):
            values = event.raw if isinstance(event, Values) else values
        wire.far.write(display.outgoing(now))
        for at, began in enumerate(since):
            if began is not None and len(values) == count and values[at] == raw[at]:
                kind = "at once" if at < lamps else "first" if at < URGENT else "rest"
                worst[kind] = max(worst[kind], now - began)
                since[at] = None
        host.receive(wire.near.read(), now)
        due = {name for name, at in turns.items() if now >= at}
        for name in due:
            turns[name] = now + {"batch": batch, "lamp": 0.7, "jump": 3.0, "loss": 1.0}[name]
        if "batch" in due:
            for at in range(lamps, count):
                set_to(at, min(ranges[at], max(3, raw[at] + dice.choice((-1, 1)) * moving[at])))
        if "lamp" in due and lamps:
            set_to(dice.randrange(lamps), dice.randrange(3, 6))
        if "jump" in due:
            for at in (*together, *range(lamps)):
                set_to(at, dice.randrange(3, ranges[at] + 1))
        if due - {"loss"}:
            host.update(raw, now)
        if "loss" in due:
            # What is asked for is as good as lost; what was lost itself is not judged.
            display._ask(now)
        unsent += host.outgoing(now)
        unsent = unsent[wire.near.write(unsent) :]
    slack = 0.003
    assert worst["at once"] <= (bounds.at_once or 9.9) + slack, (worst, bounds)
    assert worst["first"] <= (bounds.first or 9.9) + slack, (worst, bounds)
    assert worst["rest"] <= (bounds.rest or 9.9) + slack, (worst, bounds)
    assert lamps == 0 or worst["at once"] > 0.01


@pytest.mark.parametrize("push", [False, True])
@pytest.mark.parametrize(
    ("baud", "count", "lamps"),
    [(9600, 16, 3), (9600, 60, 3), (9600, 216, 2), (19200, 300, 12), (115200, 216, 3)],
)
def test_no_update_is_later_than_the_bound(baud: int, count: int, lamps: int, push: bool) -> None:
    judged(baud, count, lamps, push, baud + count)


class _Sink:
    """Takes a pack and never has it whole."""

    def begin(self, size: int, identity: bytes) -> bool:
        return True

    def arriving(self, size: int, identity: bytes) -> bool:
        return False

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
        host.show(0, 0, 80, 1)
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
        assert two.load > one.load or two.load == 0
        for alone, turns in zip(one.delays, two.delays, strict=True):
            assert alone.milliseconds is not None and turns.milliseconds is not None
            assert turns.milliseconds > alone.milliseconds + 12


@pytest.mark.parametrize("half_duplex", [False, True])
def test_what_a_build_tells(half_duplex: bool) -> None:
    """Each figure from where it is held against a display: the store, the player, a push that is played.
    Over two wires the host speaks six tenths of the time."""
    design, arranged = at(9600), dunlin()[1]
    design = replace(design, panel=replace(design.panel, half_duplex=half_duplex))
    told = budget.budget(design, arranged, 200_000)
    assert [screen.name for screen in told.screens] == [screen.name for screen in arranged.screens]
    assert told.flash == flash_need(200_000)
    assert told.memory == memory(arranged.drawing) + STACK == budget.memory_need(arranged)
    rate = 960 * (0.6 if half_duplex else 1)
    assert told.push_seconds == pytest.approx(push_seconds(200_000, rate))
    assert max(screen.load for screen in told.screens) > 0 < max(screen.longest for screen in told.screens)
    # All values anew take longer than the longest update, which has some of them.
    assert all(screen.anew * rate >= screen.longest for screen in told.screens)


def test_what_a_line_is_asked_for_is_told_in_per_cent() -> None:
    """The part of a screen's values, and the seven tenths that they may take."""
    design, arranged = at(4800), dunlin()[1]
    told = [found for found in budget.check(design, arranged, Limits(design)) if found.code == "C461"]
    assert told
    loads = {screen.name: screen.load for screen in budget.budget(design, arranged, 1).screens}
    for found in told:
        name, asked = re.findall(r"screen '(\w+)' asks for ([\d.]+) % of the line", found.message)[0]
        assert found.measured == pytest.approx(100 * loads.pop(name)) and found.limit == pytest.approx(70)
        assert float(asked) == pytest.approx(found.measured, abs=1) and float(asked) > 70
    assert all(load <= 0.7 for load in loads.values())
