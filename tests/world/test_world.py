"""Worlds under seeds: defects that have been, a fixed set, and fresh seeds for as long as there is time."""

from __future__ import annotations

import os
import random
import sys
import time

import pytest

from hmic.runtime.theming import Theming
from tests.bench import world as bench
from tests.bench.__main__ import main
from tests.tools.changed import replace
from tests.world.demonstrations import DEMONSTRATIONS, NOT_YET, known, tame
from tests.world.plan import KINDS, alone, event, plan, shrunk
from tests.world.world import live, shortest

FIXED = (
    *(*range(12), 211, 429501457, 3754472849, 800072, 810024, 820542, 850060),
    *(770000009, 880000070, 880000128, 563349111, 3233107355, 2476353306, 3131201010),
)
"""Worlds in which all sorts of things meet; the last fourteen have found something."""
FRESH = float(os.environ.get("HMIC_WORLD_SECONDS", "0"))
"""Seconds of fresh seeds: as many as CI says (.ci/run)."""
TREE = os.environ.get("HMIC_WORLD_TREE", "")
"""What the fresh seeds follow from: others for each tree of the sources, the same when it is tested again.
Without one nobody knows them beforehand."""


def told(seed: int) -> str:
    """The failures of a seed, a command that lives it again, its shortest list of events; or nothing."""
    world = tame(plan(seed))
    failures = live(world).failures
    if not failures:
        return ""
    again = f"python -m tests.bench world --seed {seed}"
    print("\n".join([*map(str, failures), again]), flush=True)
    short = shortest(world, {failure.oracle for failure in failures}, 30)
    return "\n".join([*map(str, failures), again, str(short)])


@pytest.mark.parametrize("name", DEMONSTRATIONS)
def test_a_defect_that_has_been(name: str, request: pytest.FixtureRequest) -> None:
    if name in NOT_YET:
        request.node.add_marker(pytest.mark.xfail(strict=True, raises=AssertionError, reason=NOT_YET[name]))
    try:
        outcome = live(DEMONSTRATIONS[name])
    except AssertionError as broken:
        # Only an oracle may say no here.
        raise RuntimeError("the world itself is broken") from broken
    assert not outcome.failures, "\n".join(map(str, outcome.failures))


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_event_strikes_and_is_survived(kind: str, request: pytest.FixtureRequest) -> None:
    if kind == "bad frame" and known("7"):
        request.node.add_marker(
            pytest.mark.xfail(strict=True, raises=AssertionError, reason="not mended yet")
        )
    outcome = live(alone(kind))
    assert not outcome.failures, "\n".join(map(str, outcome.failures))
    assert outcome.met[f"struck by {kind}"], f"no '{kind}' has changed anything"
    assert kind != "push" or outcome.met["power cut in a push"]


@pytest.mark.parametrize("seed", FIXED)
def test_a_fixed_world(seed: int) -> None:
    assert not (text := told(seed)), text


@pytest.mark.skipif(not FRESH, reason="HMIC_WORLD_SECONDS=30 runs them")
@pytest.mark.timeout(FRESH + 600)
def test_fresh_worlds() -> None:
    begun, fresh = time.perf_counter(), random.Random(TREE) if TREE else random.SystemRandom()
    while time.perf_counter() - begun < FRESH:
        seed = fresh.getrandbits(32)
        assert not (text := told(seed)), text


@pytest.mark.parametrize("seed", [3, 4])
def test_one_world_is_lived_alike_twice(seed: int) -> None:
    first, second = (live(tame(plan(seed))) for _ in range(2))
    assert first.met == second.met
    assert first.failures == second.failures


def test_a_failing_seed_is_told_with_a_command_that_finds_it_again(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Theming, "follow", lambda *_: False)
    for module in (bench, sys.modules[__name__]):
        # Shrinking has a test of its own.
        monkeypatch.setattr(module, "shortest", lambda world, *_: world)
    text = told(1000)
    first, command = text.splitlines()[:2]
    assert "theme" in first and command == "python -m tests.bench world --seed 1000"
    capsys.readouterr()
    assert main(command.split()[3:]) == 0
    assert first in capsys.readouterr().out


def test_a_failing_list_of_events_is_shrunk_to_those_that_matter() -> None:
    events = tuple(event(float(at), "tap", 0.1, zone=at) for at in range(20))
    world = replace(plan(1), events=events)
    short = shrunk(world, lambda each: {events[3], events[11]} <= set(each.events), 200)
    assert short.events == (events[3], events[11])
