"""The frames of a CAN channel for a while, for those who only look."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from hmic.diagnostics import DesignError, error
from hmic.runtime.adapters import Adapter
from hmic.runtime.driver_faults import reason, trouble
from hmic.runtime.wanted import Wanted
from hmic.sources.frame import Row


def overhear(adapter: Adapter, seconds: float, clock: Callable[[], float] = time.monotonic) -> Iterator[Row]:
    """The data frames of ``seconds``, from the first on by the times of the bus where it has some. Raises
    DesignError: R709, R710."""
    name = f"CAN channel '{adapter.name}' ({adapter.interface})"
    try:
        bus = adapter.open(Wanted())
    except Exception as fault:
        # As for a run: what a driver raises is its own affair.
        why, remedy = trouble(adapter, fault)
        raise DesignError([error("R709", f"{name} cannot be opened: {why}", None, remedy)]) from fault
    started: float | None = None
    end = clock() + seconds
    try:
        while (left := end - clock()) > 0:
            message = bus.recv(min(left, 0.5))
            if message is None or message.is_remote_frame or message.is_error_frame:
                continue
            stamp = float(message.timestamp or clock())
            started = stamp if started is None else started
            identifier, extended = message.arbitration_id, message.is_extended_id
            yield max(0.0, stamp - started), identifier, extended, bytes(message.data), adapter.name
    except DesignError:
        raise
    except Exception as fault:
        remedy = "see that it is up, and survey again"
        raise DesignError([error("R710", f"{name} failed: {reason(fault)}", None, remedy)]) from fault
    finally:
        bus.shutdown()
