"""ISO 15765-2 transport on classic CAN, normal addressing: payloads of up to 4095 bytes in frames of 8.

No I/O and no clock. The numbers (kinds of frames, 1 s timeouts, separation times) are those of
ISO 15765-2:2016, from memory, and held against the package `can-isotp` in the tests.
"""

from __future__ import annotations

PAD = 0xCC
LONGEST = 4095
TIMEOUT = 1.0
"""Seconds to wait for the other side's next frame (N_Bs, N_Cr)."""
WAITS = 10
"""Times in a row that the receiver may ask to wait."""

_SINGLE, _FIRST, _NEXT, _FLOW = range(4)
_GO, _WAIT = 0, 1


class Transport:
    """One pair of identifiers. ``faults`` counts payloads that were lost on the way, either way.

    ``separation`` (s) and ``block`` (frames; 0: all) are what this side asks of a sender.
    """

    def __init__(self, block: int = 0, separation: float = 0.0) -> None:
        self.faults = 0
        self._block = block
        self._separation = separation
        self._out: list[bytes] = []
        # Receiving.
        self._parts = b""
        self._wanted = 0
        self._number = 0
        self._left = 0
        self._until = 0.0
        # Sending.
        self._rest = b""
        self._send_number = 0
        self._may_send = 0
        self._gap = 0.0
        self._next_at = 0.0
        self._waiting_until: float | None = None
        self._waits = 0

    @property
    def sending(self) -> bool:
        """Whether a payload is still on its way out."""
        return bool(self._rest)

    def send(self, payload: bytes, now: float) -> None:
        """Begins a payload of 1 to ``LONGEST`` bytes. ValueError for another length or while sending."""
        if not 1 <= len(payload) <= LONGEST:
            raise ValueError(f"a payload of {len(payload)} bytes")
        if self._rest:
            raise ValueError("the payload before is still on its way")
        if len(payload) <= 7:
            self._out.append(_padded(bytes([len(payload)]) + payload))
            return
        self._out.append(bytes([_FIRST << 4 | len(payload) >> 8, len(payload) & 0xFF]) + payload[:6])
        self._rest = payload[6:]
        self._send_number = 1
        self._may_send = 0
        self._waits = 0
        self._waiting_until = now + TIMEOUT

    def receive(self, data: bytes, now: float) -> bytes | None:
        """Takes a frame's data; the payload if that completes one."""
        if not data:
            return None
        kind = data[0] >> 4
        if kind == _SINGLE:
            length = data[0] & 0x0F
            self._drop_partial()
            return data[1 : 1 + length] if 1 <= length < len(data) else None
        if kind == _FIRST and len(data) == 8:
            self._begin(data, now)
        elif kind == _NEXT:
            return self._take(data, now)
        elif kind == _FLOW and len(data) >= 3:
            self._flow(data, now)
        return None

    def outgoing(self, now: float) -> list[bytes]:
        """The frames to send now, and lets time pass."""
        if self._wanted and now >= self._until:
            self._drop_partial()
        if self._waiting_until is not None and now >= self._waiting_until:
            self._give_up()
        while self._rest and self._may_send and now >= self._next_at:
            self._out.append(_padded(bytes([_NEXT << 4 | self._send_number]) + self._rest[:7]))
            self._rest = self._rest[7:]
            self._send_number = (self._send_number + 1) % 16
            self._may_send -= 1
            self._next_at = now + self._gap
            if self._rest and not self._may_send:
                self._waiting_until = now + TIMEOUT
        frames, self._out = self._out, []
        return frames

    def next_deadline(self) -> float | None:
        """When ``outgoing`` has something to do next."""
        times = []
        if self._wanted:
            times.append(self._until)
        if self._waiting_until is not None:
            times.append(self._waiting_until)
        elif self._rest:
            times.append(self._next_at)
        return min(times, default=None)

    def _begin(self, data: bytes, now: float) -> None:
        self._drop_partial()
        length = (data[0] & 0x0F) << 8 | data[1]
        if length < 8:
            return
        self._parts, self._wanted, self._number = data[2:], length, 1
        self._allow(now)

    def _allow(self, now: float) -> None:
        self._left = self._block
        self._until = now + TIMEOUT
        steps = min(0x7F, round(self._separation * 1000))
        self._out.append(_padded(bytes([_FLOW << 4 | _GO, self._block, steps])))

    def _take(self, data: bytes, now: float) -> bytes | None:
        if not self._wanted:
            return None
        if data[0] & 0x0F != self._number:
            self._drop_partial()
            return None
        self._parts += data[1:8]
        self._number = (self._number + 1) % 16
        self._until = now + TIMEOUT
        if len(self._parts) >= self._wanted:
            payload = self._parts[: self._wanted]
            self._wanted = 0
            return payload
        if self._block:
            self._left -= 1
            if self._left == 0:
                self._allow(now)
        return None

    def _flow(self, data: bytes, now: float) -> None:
        if self._waiting_until is None:
            return
        state = data[0] & 0x0F
        if state == _GO:
            self._may_send = data[1] or LONGEST
            self._gap = _separation(data[2])
            self._next_at = now
            self._waiting_until = None
            self._waits = 0
        elif state == _WAIT and self._waits < WAITS:
            self._waits += 1
            self._waiting_until = now + TIMEOUT
        else:
            self._give_up()

    def _drop_partial(self) -> None:
        if self._wanted:
            self.faults += 1
        self._wanted = 0

    def _give_up(self) -> None:
        self.faults += 1
        self._rest = b""
        self._waiting_until = None


def _padded(data: bytes) -> bytes:
    return data + bytes([PAD]) * (8 - len(data))


def _separation(code: int) -> float:
    """Seconds; reserved codes count as the longest."""
    if code <= 0x7F:
        return code / 1000
    return (code - 0xF0) / 10000 if 0xF1 <= code <= 0xF9 else 0.127
