"""What controls, lists and clocks show, worked out of built-in signals."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from hmic.model.builtin import CLOCK
from hmic.model.made import Sort, maker
from hmic.model.values import Doubt, Evaluate, Lookup, Value


def _all(conditions: Sequence[Evaluate], lookup: Lookup) -> bool:
    return all(condition(lookup) is True for condition in conditions)


@maker(Sort.VALUE, str, [Sort.VALUE])
def while_all(name: str, conditions: Sequence[Evaluate]) -> Evaluate:
    """A signal's value while all conditions are true beyond doubt, else 0."""
    return lambda lookup: lookup(name) if _all(conditions, lookup) else 0.0


@maker(Sort.VALUE, str, str, str, [Sort.VALUE])
def barred(name: str, rest: str, word: str, conditions: Sequence[Evaluate]) -> Evaluate:
    """A signal's word; in place of the one at ``rest`` another unless all conditions surely hold."""

    def run(lookup: Lookup) -> Value:
        said = lookup(name)
        return said if said != rest or _all(conditions, lookup) else word

    return run


@maker(Sort.VALUE, float, float)
def hand(cycle: float, step: float) -> Evaluate:
    """The time of day within a hand's cycle in minutes, cut down to whole steps of the hand."""

    def run(lookup: Lookup) -> Value:
        time = lookup(CLOCK)
        return time if isinstance(time, Doubt | tuple | str) else time % cycle // step * step

    return run


@maker(Sort.VALUE, Sort.VALUE, str, int, int)
def title_in_row(titles: Evaluate, pages: str, rows: int, number: int) -> Evaluate:
    """The title in row ``number`` of a page of ``rows``, the page being what ``pages`` says; an empty text
    beyond the last."""
    place_of = _place(pages, rows, number)

    def run(lookup: Lookup) -> Value:
        all_titles, place = titles(lookup), place_of(lookup)
        if isinstance(all_titles, Doubt) or not isinstance(all_titles, tuple):
            return all_titles
        return all_titles[place] if place < len(all_titles) else ""

    return run


@maker(Sort.VALUE, Sort.VALUE, str, int, int)
def chosen_in_row(chosen: Evaluate, pages: str, rows: int, number: int) -> Evaluate:
    """Whether the element of which the number is chosen, from 1, stands in a row (see ``title_in_row``)."""
    place_of = _place(pages, rows, number)

    def run(lookup: Lookup) -> Value:
        value, place = chosen(lookup), place_of(lookup)
        return value if isinstance(value, Doubt | tuple | str) else int(value) == place + 1

    return run


def _place(pages: str, rows: int, number: int) -> Callable[[Lookup], int]:
    def place(lookup: Lookup) -> int:
        page = lookup(pages)
        return int(page) * rows + number if isinstance(page, float | int) else number

    return place
