"""Where the bits of a message's fields lie in frames of one length, worked out once and not for every frame.

What is taken is what ``raw_value`` gives of each field; of fields that come by turns only those are looked at
that the frame brings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from hmic.model.dbc_bits import Lack, Place
from hmic.runtime.watched import Field

MOST_KNOWN = 128
"""Values of a field that are remembered by their bits; with more they are forgotten, and begin anew."""


class Taken(NamedTuple):
    """The bits of a field: ``number >> shift & mask``, of the frame as one number, its first byte the highest
    with ``big``. ``known`` is what is remembered of these bits."""

    field: Field
    big: bool
    shift: int
    mask: int
    known: dict[int, Any]


Lacking = tuple[Field, Lack]


class Page(NamedTuple):
    """What a frame brings, in the order of the fields, and the first that it should and does not."""

    taken: tuple[Taken, ...]
    lacking: Lacking | None


class Taking(NamedTuple):
    """What frames of one length bring: ``always`` without a selecting field; else by its value, ``others``
    where that is one that the description lacks. ``big``: some fields have their highest byte first."""

    always: Page
    big: bool = False
    selector: Taken | None = None
    pages: Mapping[int, Page] = {}
    others: Page = Page((), None)


def taking_of(fields: Sequence[Field], size: int) -> Taking | None:
    """How frames of so many bytes are taken; None where fields are selected by several others, or by one that
    is itself selected."""
    big = any(field.place is not None and field.place.big for field in fields)
    selectors = {field.place.page[0] for field in fields if field.place is not None and field.place.page}
    if not selectors:
        return Taking(_page(fields, size, None, False), big)
    selector = selectors.pop()
    if selectors or selector.page is not None or selector.real or selector.signed:
        return None
    chooses = _taken(Field("", None, "", selector, float), size)
    if chooses is None:
        return Taking(_page(fields, size, None, False), big)
    remembered = {id(field): taken for field in fields if (taken := _taken(field, size)) is not None}
    known = frozenset().union(*(field.place.page[2] for field in fields if field.place and field.place.page))
    pages = {page: _page(fields, size, page, True, remembered) for page in known}
    others = _page(fields, size, None, True, remembered)
    return Taking(Page((), None), big or selector.big, chooses, pages, others)


def _page(
    fields: Sequence[Field],
    size: int,
    page: int | None,
    chosen: bool,
    remembered: Mapping[int, Taken] | None = None,
) -> Page:
    """What comes with a page; without one what comes with any. ``chosen``: the selecting field was read."""
    taken: list[Taken] = []
    lacking: Lacking | None = None
    for field in fields:
        why: Lack | None = None
        one = None
        if field.place is None:
            why = Lack.UNREADABLE
        elif field.place.page is not None and page not in field.place.page[1]:
            if page is not None:
                continue
            why = Lack.UNKNOWN_PAGE if chosen else Lack.TOO_SHORT
        else:
            one = _taken(field, size) if remembered is None else remembered.get(id(field))
            why = Lack.TOO_SHORT if one is None else None
        if one is not None:
            taken.append(one)
        elif lacking is None and why is not None:
            lacking = field, why
    return Page(tuple(taken), lacking)


def _taken(field: Field, size: int) -> Taken | None:
    place: Place | None = field.place
    if place is None or 8 * size < place.start + place.length:
        return None
    shift = 8 * size - place.start - place.length if place.big else place.start
    return Taken(field, place.big, shift, (1 << place.length) - 1, {})
