"""Response times against the published counter-example and a second implementation."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest

from hmic.check.response import Message, response_time

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


VECTORS = rows("11_npfp_rta_vectors.csv")
SETS = list(dict.fromkeys(row["set"] for row in VECTORS))


@pytest.mark.parametrize("name", SETS)
def test_against_a_second_implementation(name: str) -> None:
    # tests/reference/11: pycpa's SPNPScheduler (TU Braunschweig), and Davis et al. 2007.
    chosen = [row for row in VECTORS if row["set"] == name]
    messages = [Message(row["msg"], int(row["C"]), int(row["T"])) for row in chosen]
    for index, row in enumerate(chosen):
        assert response_time(messages, index, int(row["tau"])) == int(row["R"]), row["msg"]


def test_the_published_counter_example() -> None:
    # Davis et al. 2007: message C misses its deadline of 3.25 ms, in the second instance of its busy
    # period; without the bit time it seems to meet it.
    table = rows("11_can_rta_davis2007.csv")
    messages = [
        Message(row["msg"], round(float(row["C_ms"]) * 1000), round(float(row["T_ms"]) * 1000))
        for row in table
    ]
    for index, row in enumerate(table):
        found = response_time(messages, index, 8)
        assert found == round(float(row["R_ms"]) * 1000)
        assert (found <= float(row["D_ms"]) * 1000) == (row["meets_D"] == "1")
    assert response_time(messages, 2, 0) == 2500


def test_too_much_has_no_bound() -> None:
    messages = [Message("a", 6, 10), Message("b", 5, 10)]
    assert response_time(messages, 0, 1) == 11
    assert response_time(messages, 1, 1) is None
    assert response_time(messages, 0, 1, blocking=2) == 8


def test_a_line_that_is_just_full_has_no_bound_and_one_that_is_nearly_so_has() -> None:
    half = Message("a", 5, 10)
    assert response_time([half, Message("b", 5, 10)], 1, 0) is None
    # 0.5 + 0.4 of the line: behind the other and what is under way.
    assert response_time([half, Message("b", 4, 10)], 1, 0, blocking=1) == 10
    # What has less urgency adds nothing to the load, only one message that is under way.
    assert response_time([half, Message("b", 90, 10)], 0, 0) == 95
    assert response_time([half], 0, 0) == 5


def test_a_bound_that_is_not_found_in_time_is_none() -> None:
    """All but a millionth of the line is taken: the busy period has a million rounds."""
    messages = [Message("a", 999_999, 1_000_000), Message("b", 1, 10**9)]
    assert response_time(messages, 1, 1, blocking=10**6) is None


@pytest.mark.parametrize("seed", range(30))
def test_against_a_line_that_is_played(seed: int) -> None:
    """All come at once, just after the longest that they wait for has begun: the latest end on a line that is
    played step by step is the bound, but for that step."""
    dice = Random(seed)
    messages = [Message(str(at), dice.randint(1, 4), dice.randint(8, 30)) for at in range(dice.randint(2, 4))]
    if sum(each.length / each.period for each in messages) >= 1:
        messages = messages[:1]
    for index in range(len(messages)):
        blocking = dice.randint(0, 5)
        bound = response_time(messages, index, 1, blocking)
        assert bound is not None
        assert latest(messages[: index + 1], blocking) in range(bound - 1, bound + 1)


def latest(messages: Sequence[Message], blocking: int) -> int:
    """The latest end of the last of these, after its release, of all within its first busy period."""
    waiting: list[tuple[int, int]] = []
    now, free, worst = 0, blocking, 0
    released = [0] * len(messages)
    while now <= 2000:
        for at, each in enumerate(messages):
            while released[at] * each.period <= now:
                waiting.append((at, released[at] * each.period))
                released[at] += 1
        if now >= free:
            if not waiting:
                return worst
            waiting.sort()
            at, since = waiting.pop(0)
            free = now + messages[at].length
            if at == len(messages) - 1:
                worst = max(worst, free - since)
        now += 1
    raise AssertionError("busy for ever")
