"""Two hosts take turns at one display, and frames are lost: every touch is told at most once, in order, or
reported lost; and once one host is left alone with the display, each touch reaches it."""

from __future__ import annotations

import os
from itertools import product

import pytest

from hmic.wire.display_session import DisplaySession
from hmic.wire.events import DisplayFacts, Phase, Touched, TouchesLost, Transferred
from hmic.wire.host_session import HostSession
from tests.wire.bad_line import Bench, MemoryStore
from tests.wire.sound_packs import pack_of

pytestmark = pytest.mark.usefixtures("either_session")

FAULTS = ("", " unheard", " deaf")
ACTIONS = ("touch", *(host + fault for host in ("first", "second") for fault in FAULTS))
DEPTH = int(os.environ.get("HMIC_DEPTH", "3"))
"""Actions after the first of an order; 4 makes 16,807 orders for each display, in a minute."""
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
        self.lost = 0

    def exchange(self, name: str, down: bool = True, up: bool = True, times: int = 4) -> None:
        """A few turns of a host and the display; ``down`` and ``up`` whether what they say arrives."""
        host = self.hosts[name]
        self.now += STEP
        for _ in range(times):
            self.now += 0.01
            said = host.outgoing(self.now)
            self.display.receive(said if down else b"", self.now)
            back = self.display.outgoing(self.now)
            for event in host.receive(back if up else b"", self.now):
                if isinstance(event, Touched):
                    self.told.append(event.x)
                elif isinstance(event, TouchesLost):
                    self.lost += event.count

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

    def settle(self) -> None:
        """The first host alone with the display, undisturbed."""
        for _ in range(8):
            self.exchange("first")

    @property
    def untold(self) -> int:
        """Touches taken and told to nobody."""
        return self.made - len(self.told)


def lived(actions: tuple[str, ...]) -> Desk:
    """A desk after a touch that the first host may have heard, some actions, and quiet."""
    desk = Desk()
    for action in ("first", "touch", *actions):
        desk.act(action)
    desk.settle()
    return desk


@pytest.mark.parametrize("begin", ACTIONS)
def test_whatever_the_order_of_hosts_and_losses_each_touch_is_told_once_or_reported_lost(begin: str) -> None:
    for later in product(ACTIONS, repeat=DEPTH):
        actions = (begin, *later)
        desk = lived(actions)
        assert desk.told == sorted(set(desk.told)), actions
        assert desk.lost >= desk.untold, actions
        if not any(" " in action for action in actions):
            assert desk.lost == desk.untold, actions
        before = len(desk.told)
        assert desk.touch(), actions
        desk.exchange("first")
        assert desk.told[before:] == [desk.made - 1], actions


def test_touches_queued_for_another_host_are_reported_lost_once() -> None:
    desk = lived(("touch", "first deaf", "touch", "second"))
    assert (desk.made, desk.told, desk.lost) == (3, [], 3)
    for name in ("second", "first", "second"):
        desk.exchange(name, times=40)
    assert desk.lost == 3


def test_touches_that_a_change_of_packs_overtakes_are_reported_lost() -> None:
    bench = Bench(31)
    bench.run(0.5)
    bench.host.transfer(pack_of(bytes(2000)))
    made = 0
    while not any(isinstance(event, Transferred) for event in bench.host_events):
        made += bench.display.touch(0, Phase.PRESS, made % 64, 0, bench.now)
        bench.step(0.002)
    bench.run(2)
    lost = sum(event.count for event in bench.host_events if isinstance(event, TouchesLost))
    told = len(bench.touches_told)
    # Those whose Heard was under way are both.
    assert 0 < made - told <= lost <= made - told + 8
