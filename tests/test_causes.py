"""What follows from an earlier error, against the plain words of the rule: every finding held against every
error, and every line against all above it."""

from __future__ import annotations

from collections.abc import Sequence

import hypothesis.strategies as st
from hypothesis import given

from hmic.causes import Faults
from hmic.diagnostics import Extent, Finding, Sentence, Severity, Span, Subject, error
from tests.tools.changed import replace
from tests.tools.growth import LINEAR, growth

LAYOUT, KEYED = "a.layout", "signals.yaml"
Above = dict[int, int]


def overlap(one: Span, other: Span) -> bool:
    return (
        one.file == other.file
        and (one.line, one.column) < (other.end_line, other.end_column)
        and (other.line, other.column) < (one.end_line, one.end_column)
    )


def lines_above(above: Above, line: int) -> list[int]:
    return [above[line], *lines_above(above, above[line])] if line in above else []


def sentences(errors: Sequence[Finding], above: Above) -> set[int]:
    """The lines with an error, and those right above them."""
    lines = {item.span.line for item in errors if item.span is not None and item.span.file == LAYOUT}
    return lines | {above[line] for line in lines if line in above}


def meets(one: Subject, other: Subject) -> bool:
    """Whether one stands in the other, or the other in it."""
    common = min(len(one.path), len(other.path))
    return one.file == other.file and one.path[:common] == other.path[:common]


def is_own(
    item: Finding, errors: Sequence[Finding], unread: Sequence[Finding], more: Sequence[Finding], above: Above
) -> bool:
    if item.span and any(one.span is not None and overlap(item.span, one.span) for one in errors):
        return False
    broken = [subject for one in (*errors, *more) if one != item for subject in one.breaks]
    for rest in item.rests_on:
        if isinstance(rest, Subject):
            if any(meets(rest, subject) for subject in broken):
                return False
            continue
        if rest.span.line in sentences(errors if rest.extent is Extent.SOUND else unread, above):
            return False
        lost = {one.span.line for one in unread if one.span is not None}
        if rest.extent is not Extent.READ and lost & set(lines_above(above, rest.span.line)):
            return False
    return True


@st.composite
def spans(draw: st.DrawFn, file: str = LAYOUT) -> Span:
    places = st.tuples(st.integers(1, 9), st.integers(1, 6))
    start, end = sorted((draw(places), draw(places)))
    return Span(file, *start, *end)


SUBJECTS = st.builds(
    Subject, st.sampled_from([KEYED, "themes.yaml"]), st.lists(st.sampled_from("xy"), max_size=3).map(tuple)
)
RESTS = st.lists(SUBJECTS | st.builds(Sentence, spans(), st.sampled_from(Extent)), max_size=2).map(tuple)
BREAKS = st.lists(SUBJECTS, max_size=1).map(tuple)
NUMBERED = st.integers(0, 999).map(str)
FINDINGS = st.lists(
    st.builds(error, st.just("M203"), NUMBERED, st.none() | spans(), rests_on=RESTS, breaks=BREAKS),
    max_size=8,
    unique_by=lambda item: item.message,
)
ABOVE = st.dictionaries(st.integers(2, 9), st.integers(1, 8)).map(
    lambda found: {line: owner for line, owner in found.items() if owner < line}
)


@given(FINDINGS, FINDINGS, ABOVE, st.integers(0, 8))
def test_what_has_a_cause_of_its_own(
    errors: list[Finding], found: list[Finding], above: Above, many: int
) -> None:
    found = [item for item in found if item not in errors]
    faults = Faults({LAYOUT: above}, {}, tuple(errors[:many]), tuple(errors))
    expected = [item for item in found if is_own(item, errors, errors[:many], found, above)]
    assert faults.own(found) == expected


def test_a_warning_breaks_nothing() -> None:
    subject = Subject(KEYED, ("outputs",))
    resting = error("A361", "x", rests_on=(subject,))
    breaking = error("M230", "y", breaks=(subject,))
    assert Faults().own([resting, breaking]) == [breaking]
    warned = replace(breaking, severity=Severity.WARNING)
    assert Faults().own([resting, warned]) == [resting, warned]


def test_a_place_among_keys_is_what_the_nearest_key_before_it_says() -> None:
    keys = [((1, 1), ("outputs",)), ((2, 3), ("outputs", "heat.on")), ((5, 3), ("outputs", "heat.mode"))]
    faults = Faults(keys={KEYED: keys}).and_also([error("M228", "no key", Span(KEYED, 4, 13, 4, 16))])
    asked = [Subject(KEYED, ("outputs", name)) for name in ("heat.on", "heat.mode")]
    missed = [error("A361", str(each), rests_on=(each,)) for each in asked]
    assert faults.own(missed) == missed[1:]
    # A file without a tree could not be read: nothing is known of it.
    unread = Faults().and_also([error("M226", "no YAML", Span(KEYED, 9, 1, 9, 2))])
    assert unread.own(missed) == []
    assert unread.of(Subject("themes.yaml", ("choose",))) is None


def many(count: int) -> None:
    """Errors and findings in every line of a file, each told against the others."""
    above = {line: line - 1 for line in range(2, count + 1) if line % 3}
    places = [Span(LAYOUT, at, 1, at, 3) for at in range(1, count + 1)]
    wrong = tuple(error("L105", f"{at}", span) for at, span in enumerate(places))
    outputs = [Subject(KEYED, ("outputs", str(at))) for at in range(count)]
    broken = [error("M230", f"{at}", None, breaks=(each,)) for at, each in enumerate(outputs)]
    faults = Faults({LAYOUT: above}, {}, wrong, wrong).and_also(broken)
    read = [error("A330", f"{at}", rests_on=(Sentence(span),)) for at, span in enumerate(places)]
    lacks = [error("A361", f"{at}", rests_on=(each,)) for at, each in enumerate(outputs)]
    assert faults.own([*read, *lacks]) == []


def test_many_findings_cost_as_much_more_as_there_are_more() -> None:
    assert growth(many, 500) < LINEAR
