"""What a CAN frame costs until it waits for the loop: through python-can's serial interfaces, read ahead or
not, with python-can's filters or with a look-up only. Microseconds of a thread, over a pseudo terminal."""

from __future__ import annotations

import os
import struct
import time
import tty
from collections.abc import Callable
from typing import Any

import can
from can.interfaces.serial import SerialBus
from can.interfaces.slcan import slcanBus

from hmic.runtime.adapters import Adapter
from hmic.runtime.listening import Listener
from hmic.runtime.read_ahead import ReadAhead

FRAMES, ROUNDS = 100, 50
TEXT = b"t12381122334455667788\r"
RECORD = struct.pack("<BIBI8sB", 0xAA, 0, 8, 0x123, bytes(8), 0xBB)
FILTERS = [{"can_id": at, "can_mask": 0x7FF, "extended": False} for at in range(0x100, 0x128)]


def cost(put: Callable[[bytes], None], frame: bytes, take: Callable[[], None]) -> float:
    """Microseconds for each frame that waits."""
    spent = 0.0
    for _ in range(ROUNDS):
        put(frame * FRAMES)
        time.sleep(0.01)
        begun = time.perf_counter()
        for _ in range(FRAMES):
            take()
        spent += time.perf_counter() - begun
    return spent / ROUNDS / FRAMES * 1e6


def received(bus: can.BusABC) -> Callable[[], None]:
    """A read that must find a frame."""

    def take() -> None:
        if bus.recv(0.0) is None:
            raise RuntimeError("a frame is missing")

    return take


def main() -> None:
    """Prints a line for each way."""
    own, other = os.openpty()
    tty.setraw(own)
    tty.setraw(other)
    path = os.ttyname(other)

    def put(data: bytes) -> None:
        os.write(own, data)

    def tell(what: str, frame: bytes, take: Callable[[], None]) -> None:
        print(f"{cost(put, frame, take):7.1f} us  {what}")

    serial = SerialBus(path)
    tell("serial", RECORD, received(serial))
    serial.shutdown()
    bus: Any = slcanBus(path, sleep_after_open=0)
    tell("slcan", TEXT, received(bus))
    bus.serialPortOrig = ReadAhead(bus.serialPortOrig)
    tell("slcan, read ahead", TEXT, received(bus))
    bus.set_filters(FILTERS)
    tell("slcan, read ahead, with python-can's filters for 40 identifiers", TEXT, received(bus))
    bus.shutdown()
    for wanted, what in ((0x123, "of the design"), (0x100, "of no signal")):
        listener = Listener(Adapter(path, "slcan"), frozenset({(wanted, False)}))
        listener.step()

        def step(listener: Listener = listener) -> None:
            listener.step()

        tell(f"slcan through hmic's listener, frames {what}", TEXT, step)
        listener.close()
    os.close(own)
    os.close(other)
