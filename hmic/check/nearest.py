"""The nearest colour that meets a limit, and the edit of themes.yaml that sets it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from hmic.arrange.artwork import RAMP_STEPS, along
from hmic.check.colour import Colour, difference
from hmic.model.design import Design, Ramp, ThemeDefinition
from hmic.paint.operations import Drawing

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


class Recolour(NamedTuple):
    """Values of themes.yaml, by the keys that lead to them, with the colour to be written there."""

    says: str
    colour: Colour
    paths: tuple[tuple[str | int, ...], ...]


def remedy_for(theme: ThemeDefinition, roles: Sequence[str], colour: Colour, meets: Meets) -> Recolour | None:
    """Where a colour of the palette is written in themes.yaml, by which roles or else in which ramp, and
    what to write instead, so that it meets the limit; None where no colour does."""
    if roles:
        found = nearest(colour, meets)
        if found is None:
            return None
        lines = " and ".join(f'`{name}: "{hexadecimal(found)}"`' for name in roles[:2])
        says = f"in themes.yaml, {theme.name}, roles: write {lines}"
        return Recolour(says, found, tuple(("themes", theme.name, "roles", name) for name in roles[:2]))
    for ramp in theme.ramps.values():
        for place in _places(ramp, colour):
            for number, stop in _stops_at(ramp, place):

                def met(tried: Colour, ramp: Ramp = ramp, place: int = place, number: int = number) -> bool:
                    stops = (*ramp.stops[:number], tried, *ramp.stops[number + 1 :])
                    return meets(along(stops, place, RAMP_STEPS))

                found = nearest(stop, met)
                if found is not None:
                    says = (
                        f"in themes.yaml, {theme.name}, ramp {ramp.name}: in place of its "
                        f'{ordinal(number + 1)} colour, "{hexadecimal(stop)}", write "{hexadecimal(found)}"'
                    )
                    return Recolour(says, found, (("themes", theme.name, "ramps", ramp.name, number),))
    return None


def roles_of(theme: ThemeDefinition, colour: Colour) -> list[str]:
    """The roles that have a colour."""
    return [name for name, value in theme.roles.items() if value == colour]


def roles_of_ink(design: Design, drawing: Drawing, ink: int, under: int) -> list[str]:
    """The roles of an ink, by their colours in every theme: of several not that of what lies beneath, and
    no ground. None where it is a ground that shows through."""

    def named(entry: int) -> set[str]:
        colours = [painted.colours[entry] for painted in drawing.themes]
        return {
            role
            for role in design.themes[0].roles
            if [theme.roles[role] for theme in design.themes] == colours
        }

    inks = named(ink)
    unders = named(under) if under < len(drawing.themes[0].colours) else set()
    return sorted(inks - unders - _GROUNDS or inks - _GROUNDS)


_GROUNDS = {"ground", "surface"}
"""What nothing is written in."""


def _places(ramp: Ramp, colour: Colour) -> list[int]:
    """Where along a ramp a colour of the palette stands."""
    return [place for place in range(RAMP_STEPS) if along(ramp.stops, place, RAMP_STEPS) == colour]


def _stops_at(ramp: Ramp, place: int) -> list[tuple[int, Colour]]:
    """The colours as written that the one at a place is made of, with their numbers, the nearer first."""
    lower, part = divmod(place * (len(ramp.stops) - 1), RAMP_STEPS - 1)
    numbers = [lower] if part == 0 else [lower, lower + 1]
    if 2 * part > RAMP_STEPS - 1:
        numbers.reverse()
    return [(number, ramp.stops[number]) for number in numbers]


def ordinal(number: int) -> str:
    """``1st``, ``2nd``, ``3rd``, ``4th``."""
    return f"{number}{'th' if number // 10 % 10 == 1 else {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th')}"


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
