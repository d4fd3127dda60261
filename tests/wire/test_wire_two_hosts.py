"""Two hosts take turns at one display, and frames are lost: every touch is told at most once, in order,
and once one host is left alone with the display, each touch reaches it."""

from __future__ import annotations

from itertools import product

import pytest

from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Phase, Touched
from hmic.wire.host_session import HostSession
from tests.wire.bad_line import MemoryStore

pytestmark = pytest.mark.usefixtures("either_session")

ACTIONS = ("first", "first unheard", "first deaf", "second", "touch")
DEPTH = 5
STEP = 0.26


class Desk:
    """One display; the host whose turn it is has the line for some exchanges."""

    def __init__(self) -> None:
        self.hosts = {name: HostSession(nonce) for name, nonce in (("first", 1), ("second", 2))}
        for host in self.hosts.values():
            host.show(0, 0, 80, 1)
            host.update([5], 0.0)
        self.display = DisplaySession(DisplayFacts(7, 9, 9, 1, None, 0, 9, 1), MemoryStore())
        self.now = 0.0
        self.made = 0
        self.told: list[int] = []

    def exchange(self, name: str, down: bool = True, up: bool = True, times: int = 4) -> None:
        """A few turns of a host and the display; ``down`` and ``up`` whether what they say arrives."""
        host = self.hosts[name]
        self.now += STEP
        for _ in range(times):
            self.now += 0.01
            said = host.outgoing(self.now)
            self.display.receive(said if down else b"", self.now)
            back = self.display.outgoing(self.now)
            events = host.receive(back if up else b"", self.now)
            self.told += [event.x for event in events if isinstance(event, Touched)]

    def touch(self) -> bool:
        """A finger; whether the display took it."""
        taken = self.display.touch(0, Phase.PRESS, self.made, 0, self.now)
        self.made += taken
        return taken

    def act(self, action: str) -> None:
        """One of ``ACTIONS``."""
        if action == "touch":
            self.touch()
        else:
            name, _, fault = action.partition(" ")
            self.exchange(name, fault != "unheard", fault != "deaf")


def test_no_order_of_hosts_and_losses_kills_touches() -> None:
    for actions in product(ACTIONS, repeat=DEPTH):
        desk = Desk()
        for action in ("first", "touch", "first", *actions):
            desk.act(action)
        for _ in range(8):
            desk.exchange("first")
        before = len(desk.told)
        assert desk.touch(), actions
        mark = desk.made - 1
        desk.exchange("first")
        assert desk.told[before:] == [mark], actions
        assert desk.told == sorted(set(desk.told)), actions
