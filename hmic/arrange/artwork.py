"""Collects what a pack shares between screens: masks, figure sets, palette entries, channels."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from hmic.model.channels import Channel
from hmic.model.design import Colour, Design, ThemeDefinition
from hmic.paint import fonts
from hmic.paint.operations import FigureSet, Glyph, Ink, Mask, Theme, ThresholdMap

Key = tuple[Colour, ...]


class Artwork:
    """Every ``add`` or ``ink`` call gives the number of the one shared entry.

    A palette entry is a colour in each theme; equal colours of one theme may be different entries
    when another theme tells them apart.
    """

    def __init__(self, design: Design) -> None:
        self._themes = design.themes
        self._masks: dict[Mask, int] = {}
        self._maps: dict[ThresholdMap, int] = {}
        self._figure_sets: dict[FigureSet, int] = {}
        self._channels: dict[Channel, int] = {}
        self._groups: dict[tuple[Key, ...], int] = {}
        self._entries: list[Key] = []
        self._append([self._role("ground"), self._role("stale")])

    @property
    def masks(self) -> tuple[Mask, ...]:
        """All masks by number."""
        return tuple(self._masks)

    @property
    def maps(self) -> tuple[ThresholdMap, ...]:
        """All threshold maps by number."""
        return tuple(self._maps)

    @property
    def figure_sets(self) -> tuple[FigureSet, ...]:
        """All figure sets by number."""
        return tuple(self._figure_sets)

    @property
    def channels(self) -> tuple[Channel, ...]:
        """All channels by number."""
        return tuple(self._channels)

    def themes(self) -> tuple[Theme, ...]:
        """The palettes, one a theme."""
        return tuple(
            Theme(theme.name, tuple(entry[i] for entry in self._entries), theme.brightness)
            for i, theme in enumerate(self._themes)
        )

    def mask(self, mask: Mask) -> int:
        """The number of a mask."""
        return self._masks.setdefault(mask, len(self._masks))

    def map(self, thresholds: ThresholdMap) -> int:
        """The number of a threshold map."""
        return self._maps.setdefault(thresholds, len(self._maps))

    def channel(self, channel: Channel) -> int:
        """The number of a channel; widgets that show the same value by the same steps share it."""
        return self._channels.setdefault(channel, len(self._channels))

    def figure_set(self, face: fonts.Face) -> int:
        """The number of a face's figures."""
        advance, point_advance, height, glyphs = face.figures()
        placed = tuple(Glyph(self.mask(mask), left, top) for mask, left, top in glyphs)
        made = FigureSet(advance, point_advance, height, placed)
        return self._figure_sets.setdefault(made, len(self._figure_sets))

    def ink(self, role: str) -> Ink:
        """A role's colour."""
        return Ink(self._group([self._role(role)]))

    def inks(self, roles: Sequence[str], tint: int) -> Ink:
        """One role for each step of the channel ``tint``."""
        return Ink(self._group([self._role(role) for role in roles]), tint)

    def role_entry(self, role: str) -> Key:
        """A role's colour in each theme."""
        return self._role(role)

    def ramp_entries(self, name: str, count: int) -> list[Key]:
        """``count`` colours evenly along a ramp, interpolated between its stops in sRGB."""
        return [
            tuple(_along(theme, name, Fraction(i, max(1, count - 1))) for theme in self._themes)
            for i in range(count)
        ]

    def entries(self, keys: Sequence[Key], tint: int) -> Ink:
        """One palette entry for each step of the channel ``tint``."""
        return Ink(self._group(list(keys)), tint)

    def _role(self, role: str) -> Key:
        return tuple(theme.roles[role] for theme in self._themes)

    def _group(self, keys: list[Key]) -> int:
        wanted = tuple(keys)
        if wanted not in self._groups:
            self._groups[wanted] = self._find(keys)
        return self._groups[wanted]

    def _find(self, keys: list[Key]) -> int:
        for start in range(len(self._entries) - len(keys) + 1):
            if self._entries[start : start + len(keys)] == keys:
                return start
        return self._append(keys)

    def _append(self, keys: list[Key]) -> int:
        start = len(self._entries)
        self._entries.extend(keys)
        return start


def _along(theme: ThemeDefinition, name: str, place: Fraction) -> Colour:
    stops = theme.ramps[name].stops
    position = place * (len(stops) - 1)
    lower = min(int(position), len(stops) - 1)
    upper = min(lower + 1, len(stops) - 1)
    part = position - lower
    red, green, blue = (
        int(a + (b - a) * part + Fraction(1, 2)) for a, b in zip(stops[lower], stops[upper], strict=True)
    )
    return red, green, blue
