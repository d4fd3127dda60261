"""CAN adapters below python-can, as their drivers behave: what they wait for, and what they say of time."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Any

import can

from hmic.runtime.adapters import PORTS

READ_WAITS = 0.1
"""Seconds for which the ``serial`` driver waits at every read, whatever it is told."""
OPENING = 2.0
"""Seconds that ``slcan`` sleeps when it is opened."""
A_FRAME = 170e-6
"""Seconds that ``slcan`` computes for a frame."""
QUEUE = 4096


class Channel:
    """A bus on which frames pass. ``down``: its adapter is unplugged, ``bad``: so many reads raise."""

    def __init__(self, world: Any, name: str, adapter: str) -> None:
        self.world, self.name, self.adapter = world, name, adapter
        self.down = False
        self.bad = 0
        self.taps: list[Tap] = []
        self.on_sent: Callable[[bytes, int, Tap], None] | None = None

    def put(self, identifier: int, data: bytes) -> None:
        """A frame is on the bus: every open adapter has it."""
        if not self.down:
            stamp = self.world.clock.time() if self.adapter == "socket" else 0.0
            for tap in self.taps:
                tap.queue.append((stamp, identifier, data))


class Tap(can.BusABC):
    """An opened adapter."""

    def __init__(self, world: Any, channel: Channel, given: dict[str, Any]) -> None:
        self.world, self.channel, self.given = world, channel, given
        self.queue: deque[tuple[float, int, bytes]] = deque(maxlen=QUEUE)
        self.filters_set: Any = None
        self._mode = can.BusState.ACTIVE
        self._is_shutdown = False
        self._periodic_tasks = []
        self._filters = None
        self.channel_info = channel.name
        if channel.adapter in PORTS:
            setattr(self, PORTS[channel.adapter], self)
        if channel.adapter == "slcan":
            world.block(OPENING)
        if channel.down:
            raise can.CanInitializationError("no such device")
        channel.taps.append(self)

    def recv(self, timeout: float | None = None) -> Any:
        """Waits as the driver does."""
        if self.channel.down or self._is_shutdown:
            self.world.struck["bus down"] += self.channel.down
            raise can.CanOperationError("the device is gone")
        if self.channel.bad:
            self.channel.bad -= 1
            self.world.struck["bad frame"] += 1
            raise ValueError("invalid literal for int() with base 16: b'zz'")
        least = READ_WAITS if self.channel.adapter == "serial" else 0.0
        wait = max(least, timeout if timeout is not None else 1.0)
        if not self.queue and wait > 0.0:
            self.world.block(wait, lambda: bool(self.queue) or self.channel.down or self._is_shutdown)
        if self.channel.adapter == "slcan" and self.queue:
            self.world.block(A_FRAME)
        if not self.queue:
            return None
        stamp, identifier, data = self.queue.popleft()
        return can.Message(stamp, identifier, is_extended_id=identifier > 0x7FF, data=data)

    def _recv_internal(self, timeout: float | None) -> tuple[Any, bool]:
        return self.recv(timeout), True

    def send(self, msg: Any, timeout: float | None = None) -> None:
        """Puts a frame on the bus."""
        if self.channel.down or self._is_shutdown:
            raise can.CanOperationError("the device is gone")
        if self.channel.on_sent is not None:
            self.channel.on_sent(bytes(msg.data), msg.arbitration_id, self)

    def set_filters(self, filters: Any = None) -> None:
        """Remembers what was asked for; filters are not applied."""
        self.filters_set = filters

    def shutdown(self) -> None:
        """Closed."""
        self._is_shutdown = True
        if self in self.channel.taps:
            self.channel.taps.remove(self)

    def fileno(self) -> int:
        """None that a select of this process could wait on."""
        raise NotImplementedError

    @property
    def in_waiting(self) -> int:
        """What waits in the port of a serial adapter."""
        return len(self.queue)

    @property
    def state(self) -> Any:
        """What the controller says."""
        return self._mode

    @state.setter
    def state(self, new: Any) -> None:
        self._mode = new
