"""Nothing grows; and what is planted is found, so that the oracle can say no."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from unittest import mock

import pytest

from hmic.runtime import run
from hmic.runtime.requests import Requests
from hmic.runtime.run import Loop
from hmic.wire.host_session import HostSession
from tests.world.growth import WINDOW, calm, grown


def test_nothing_grows() -> None:
    assert not grown(calm(windows=3))


SHORT = 14.0
"""Seconds in which what happens several times a second has grown enough."""


@pytest.mark.parametrize(
    ("owner", "name", "window"),
    [
        (HostSession, "receive", SHORT),
        # Eight bytes for each touch that asks, one in some seconds.
        (Requests, "ask", WINDOW),
    ],
)
def test_a_leak_is_found(owner: type, name: str, window: float) -> None:
    whole: Callable[..., Any] = getattr(owner, name)

    def leaking(self: Any, *given: Any, **named: Any) -> Any:
        vars(self).setdefault("kept", []).append(bytes(8))
        return whole(self, *given, **named)

    with mock.patch.object(owner, name, leaking):
        (said,) = grown(calm(window=window), window)
    assert "held bytes grow" in said


def test_a_leak_of_a_module_is_found() -> None:
    whole = Loop.turn

    def leaking(self: Any, now: float) -> float:
        run.kept.append(now)  # type: ignore[attr-defined]
        return whole(self, now)

    with mock.patch.object(run, "kept", [], create=True), mock.patch.object(Loop, "turn", leaking):
        (said,) = grown(calm(window=SHORT), SHORT)
    assert "held bytes grow" in said
