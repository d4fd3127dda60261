"""A display's store for what needs none."""

from __future__ import annotations


class NoStore:
    """A store that takes no pack."""

    def begin(self, size: int, identity: bytes) -> bool:
        return False

    def arriving(self, size: int, identity: bytes) -> bool:
        return False

    def have(self) -> bytes:
        return b""

    def write(self, offset: int, data: bytes) -> None:
        raise AssertionError("nothing was begun")

    def hash(self) -> bytes:
        return bytes(32)

    def activate(self) -> bool:
        return False
