"""Coloured zones of a scale: from the limits of its value, and those that are said of the scale alone."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from hmic.arrange.canvas import Canvas, rising
from hmic.arrange.widgets.common import beyond, limits_of
from hmic.diagnostics import DesignError, error
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind, Widget
from hmic.model.channels import gravity
from hmic.model.expressions import Typed


class Zone(NamedTuple):
    """A stretch of a scale in one role; ``""`` where nothing is said of it."""

    low: float
    high: float
    role: str


def zones_of(widget: Widget, value: Typed, ends: tuple[float, float], canvas: Canvas) -> list[Zone]:
    """The whole scale in stretches. Where several are said of one place the gravest counts, a limit before a
    zone, of equal zones the one said last.

    Raises ``DesignError`` A344 for a zone that does not rise, A387 for one that the scale does not reach."""
    limits = limits_of(widget, value, canvas)
    said = [
        Zone(*rising(phrase.values, value, phrase.span, canvas), canvas.role(phrase))
        for phrase in widget.all(PhraseKind.ZONE)
    ]
    low, high = ends
    for zone, phrase in zip(said, widget.all(PhraseKind.ZONE), strict=True):
        if zone.high <= low or zone.low >= high:
            unit = value.unit.spelling if value.unit else ""
            message = f"the scale goes from {low:g} to {high:g} {unit}".rstrip()
            message += f": nothing of a zone {' to '.join(map(written, phrase.values))} lies on it"
            remedy = f"write zone {zone.role} from {low:g} {unit} to {high:g} {unit}, or a part of that"
            raise DesignError([error("A387", message, phrase.span, remedy)])
    edges = {*(limit for _, limit, _ in limits), *(edge for zone in said for edge in zone[:2])}
    inside = sorted(edge for edge in edges if low < edge < high)
    return [
        Zone(start, end, _role((start + end) / 2, beyond(limits, (start + end) / 2) or "", said))
        for start, end in pairwise([low, *inside, high])
    ]


def _role(place: float, limit: str, said: Sequence[Zone]) -> str:
    roles = [limit, *(zone.role for zone in reversed(said) if zone.low <= place < zone.high)]
    return max(filter(None, roles), key=gravity, default="")


def are_shown(widget: Widget) -> bool:
    """Whether a straight scale shows its zones."""
    return widget.one(PhraseKind.ZONES) is not None or widget.one(PhraseKind.ZONE) is not None
