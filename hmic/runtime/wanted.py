"""Which frames of a bus concern a design."""

from __future__ import annotations

from dataclasses import dataclass

from hmic.model.j1939 import group_of

Identity = tuple[int, bool]
"""A frame's identifier, and whether it is an extended one."""


@dataclass(frozen=True)
class Wanted:
    """By identifier, and of 29 bits by parameter group, whatever their priority, destination and source."""

    identifiers: frozenset[Identity] = frozenset()
    groups: frozenset[int] = frozenset()

    def __contains__(self, identity: Identity) -> bool:
        if identity in self.identifiers:
            return True
        return bool(self.groups) and identity[1] and group_of(identity[0]) in self.groups

    def __len__(self) -> int:
        return len(self.identifiers) + len(self.groups)

    def also(self, identifiers: frozenset[Identity]) -> Wanted:
        """With some more."""
        return Wanted(self.identifiers | identifiers, self.groups)
