"""The suites of a whole display and of its store run on both of them: the software display and the player."""

from __future__ import annotations

import sys

import pytest

from hmic.display.display import Display
from hmic.display.store import Store
from tests.tools.player_display import PlayerDisplay, PlayerStore


@pytest.fixture(params=[Display, PlayerDisplay], ids=["software", "player"])
def either_display(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> type:
    """Puts one of them in the place of ``Display`` in the test's module and in those that it shares."""
    for name in (request.module.__name__, "tests.display.power_cuts"):
        module = sys.modules.get(name)
        if module is not None and hasattr(module, "Display"):
            monkeypatch.setattr(module, "Display", request.param)
    return request.param  # type: ignore[no-any-return]


@pytest.fixture(params=[Store, PlayerStore], ids=["software", "player"])
def either_store(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> type:
    """Puts one of them in the place of ``Store`` in the test's module."""
    monkeypatch.setattr(request.module, "Store", request.param)
    return request.param  # type: ignore[no-any-return]
