"""The suites of a display's end of the line run on both of them: the software display's and the player's."""

from __future__ import annotations

import sys

import pytest

from hmic.wire.display_session import DisplaySession
from tests.wire.bad_line import MemoryStore
from tests.wire.player_session import PlayerSession, PlayerStore

SHARED = ("tests.wire.bad_line", "tests.bench.heal")
ENDS: dict[str, dict[str, type]] = {
    "software": {"DisplaySession": DisplaySession, "MemoryStore": MemoryStore},
    "player": {"DisplaySession": PlayerSession, "MemoryStore": PlayerStore},
}


@pytest.fixture(params=ENDS)
def either_session(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Puts one of them in the place of ``DisplaySession`` and its store in the test's module and in those
    that it shares; tells which."""
    end: str = request.param
    for module in map(sys.modules.get, (request.module.__name__, *SHARED)):
        for name, kind in ENDS[end].items():
            if module is not None and hasattr(module, name):
                monkeypatch.setattr(module, name, kind)
    return end
