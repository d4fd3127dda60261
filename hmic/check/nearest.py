"""The nearest colour that meets a limit, and the edit of themes.yaml that sets it."""

from __future__ import annotations

from collections.abc import Callable

from hmic.check.colour import Colour, difference
from hmic.model.design import ThemeDefinition

Meets = Callable[[Colour], bool]

# How finely colours between the colour and white or black are tried first.
_PARTS = 64
_DIRECTIONS = tuple(
    (red, green, blue)
    for red in (-1, 0, 1)
    for green in (-1, 0, 1)
    for blue in (-1, 0, 1)
    if (red, green, blue) != (0, 0, 0)
)


def nearest(colour: Colour, meets: Meets) -> Colour | None:
    """The colour with the least CIEDE2000 to ``colour`` that ``meets``, or None if neither it, nor
    anything between it and white, black or a pure colour does.

    Starts on the straight ways to white, to black and to full strength and goes downhill in steps
    of 16 to 1 codes; so it finds the least nearby, not always the least of all.
    """
    if meets(colour):
        return colour
    starts = [found for end in _ends(colour) if (found := _first(colour, end, meets)) is not None]
    best: tuple[float, Colour] | None = None
    for start in starts:
        reached = _downhill(colour, start, meets)
        if best is None or reached < best:
            best = reached
    return best[1] if best else None


def remedy_for(theme: ThemeDefinition, colour: Colour, meets: Meets) -> str:
    """Where the colour comes from and the nearest that meets the limit, as text to paste."""
    found = nearest(colour, meets)
    roles = [name for name, value in theme.roles.items() if value == colour]
    ramps = [name for name, ramp in theme.ramps.items() if colour in ramp.stops]
    if found is None:
        return (
            f"no colour does it on this; change what lies beneath, or raise the luminance of '{theme.name}'"
        )
    written = f'"{hexadecimal(found)}"'
    if roles:
        lines = " and ".join(f"`{name}: {written}`" for name in roles[:2])
        return f"in themes.yaml, {theme.name}, roles: write {lines}"
    where = f"ramp {ramps[0]}" if ramps else "the ramp's nearest stop"
    return f'in themes.yaml, {theme.name}, {where}: in place of "{hexadecimal(colour)}" write {written}'


def hexadecimal(colour: Colour) -> str:
    """``#rrggbb``."""
    return "#" + "".join(f"{part:02x}" for part in colour)


def _ends(colour: Colour) -> tuple[Colour, ...]:
    most = max(1, *colour)
    red, green, blue = (part * 255 // most for part in colour)
    return ((255, 255, 255), (0, 0, 0), (red, green, blue))


def _first(colour: Colour, end: Colour, meets: Meets) -> Colour | None:
    for part in range(1, _PARTS + 1):
        red, green, blue = (a + (b - a) * part // _PARTS for a, b in zip(colour, end, strict=True))
        if meets((red, green, blue)):
            return red, green, blue
    return None


def _downhill(colour: Colour, start: Colour, meets: Meets) -> tuple[float, Colour]:
    best = (difference(colour, start), start)
    stride = 16
    while stride:
        better = best
        for direction in _DIRECTIONS:
            red, green, blue = (
                min(255, max(0, part + stride * way)) for part, way in zip(best[1], direction, strict=True)
            )
            tried = (difference(colour, (red, green, blue)), (red, green, blue))
            if tried < better and meets(tried[1]):
                better = tried
        if better == best:
            stride //= 2
        best = better
    return best
