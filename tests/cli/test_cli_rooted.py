"""What is left out as the consequence of an earlier error, against the plain words of the rule: every
finding held against every error, and every line against all above it."""

from __future__ import annotations

from collections.abc import Sequence

import hypothesis.strategies as st
from hypothesis import given

from hmic.compile.rooted import rooted, rooted_arranging, rooted_checks
from hmic.diagnostics import Finding, Span, error
from tests.tools.growth import LINEAR, growth

FILES = ("a.layout", "signals.yaml")


def lines_above(text: str, number: int) -> list[int]:
    """The lines that a line stands below: each the nearest that is less far in than the one before."""
    lines = text.split("\n")
    number = min(number, len(lines))
    depth = len(lines[number - 1]) - len(lines[number - 1].lstrip())
    found = []
    for at in range(number - 1, 0, -1):
        line = lines[at - 1]
        if line.strip() and len(line) - len(line.lstrip()) < depth:
            depth = len(line) - len(line.lstrip())
            found.append(at)
    return found


def overlap(one: Span, other: Span) -> bool:
    return (
        one.file == other.file
        and (one.line, one.column) < (other.end_line, other.end_column)
        and (other.line, other.column) < (one.end_line, one.end_column)
    )


def sentences(errors: Sequence[Finding], sources: dict[str, str]) -> set[tuple[str, int]]:
    found = set()
    for item in errors:
        if item.span is not None:
            above = lines_above(sources.get(item.span.file, ""), item.span.line)
            found |= {(item.span.file, item.span.line), *((item.span.file, at) for at in above[:1])}
    return found


def is_own(item: Finding, errors: Sequence[Finding], sources: dict[str, str]) -> bool:
    if item.span is None:
        return True
    file, line = item.span.file, item.span.line
    unread = sentences([one for one in errors if one.code[0] == "L"], sources)
    above = lines_above(sources.get(file, ""), line)
    return not (
        any(one.span is not None and overlap(item.span, one.span) for one in errors)
        or (item.code in ("A305", "A330", "C444", "M215") and (file, line) in unread)
        or (item.code == "A330" and any((file, at) in unread for at in above))
    )


TEXTS = st.lists(
    st.builds("{}{}".format, st.sampled_from(["", " ", "  ", "    "]), st.sampled_from(["", "x"]))
)


@st.composite
def spans(draw: st.DrawFn) -> Span:
    places = st.tuples(st.integers(1, 9), st.integers(1, 6))
    start, end = sorted((draw(places), draw(places)))
    return Span(draw(st.sampled_from(FILES)), *start, *end)


FINDINGS = st.lists(
    st.builds(
        error, st.sampled_from(["L105", "M203", "A305", "A330", "C444"]), st.just(""), st.none() | spans()
    ),
    max_size=8,
)
SOURCES = st.dictionaries(st.sampled_from(FILES), TEXTS.map("\n".join))


@given(FINDINGS, SOURCES)
def test_of_loading(loaded: list[Finding], sources: dict[str, str]) -> None:
    unread = [item for item in loaded if item.code[0] == "L"]
    expected = [item for item in loaded if item.code[0] == "L" or is_own(item, unread, sources)]
    assert rooted(loaded, sources) == expected


@given(FINDINGS, FINDINGS, SOURCES)
def test_of_arranging(loaded: list[Finding], arranged: list[Finding], sources: dict[str, str]) -> None:
    expected = [item for item in arranged if is_own(item, loaded, sources)]
    assert rooted_arranging(loaded, arranged, sources) == expected


@given(FINDINGS, FINDINGS, SOURCES)
def test_of_the_checks(loaded: list[Finding], checks: list[Finding], sources: dict[str, str]) -> None:
    unread = sentences(loaded, sources)
    expected = [
        item for item in checks if item.span is None or (item.span.file, item.span.line) not in unread
    ]
    assert rooted_checks(loaded, checks, sources) == expected


def test_an_output_whose_line_has_an_error_is_not_missed() -> None:
    sources = {"signals.yaml": "outputs:\n  heat.on: {too: Wish.Heat}\n", "a.layout": "x\n" * 9}
    wrong = error("M228", "no key 'too'", Span("signals.yaml", 2, 13, 2, 16))
    missed = [
        error("A361", f"no output '{name}'", Span("a.layout", at, 1, at, 2))
        for at, name in enumerate(("heat.on", "heat.mode"), 1)
    ]
    assert rooted_arranging([wrong], missed, sources) == missed[1:]
    unread = error("M226", "no YAML", Span("signals.yaml", 1, 1, 1, 2))
    assert rooted_arranging([unread], missed, sources) == []
    # Other ends of lines than ours count as lines in YAML.
    beyond = error("M228", "no key 'too'", Span("signals.yaml", 7, 1, 7, 2))
    assert rooted_arranging([beyond], missed, sources) == missed


def many(count: int) -> None:
    """Errors and findings in every line of a file, each told against the others."""
    sources = {"a.layout": "".join(f"{' ' * (at % 3)}line\n" for at in range(count))}
    places = [Span("a.layout", at, 1, at, 3) for at in range(1, count + 1)]
    wrong = [error(code, f"{at}", span) for at, span in enumerate(places) for code in ("L105", "M203")]
    later = [error("A330", f"{at}", span) for at, span in enumerate(places)]
    later += [error("A361", f"no output '{at}'", None) for at in range(count)]
    found = rooted(wrong, sources)
    assert len(found) == count
    assert len(rooted_arranging(found, later, sources)) == count
    rooted_checks(found, later, sources)


def test_many_findings_cost_as_much_more_as_there_are_more() -> None:
    assert growth(many, 500) < LINEAR
