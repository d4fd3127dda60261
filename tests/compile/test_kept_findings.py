"""What was found in a design, kept and given back."""

from __future__ import annotations

import secrets
import shutil
from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given

from hmic.cli.main import main
from hmic.compile.kept_findings import recall, remember
from hmic.diagnostics import Basis, Edit, Finding, Mend, Severity, Span, Unjudged

WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
PLACES = st.builds(Span, WORDS, *[st.integers(1, 9999)] * 4)
EDITS = st.builds(Edit, PLACES, WORDS)
FINDINGS = st.builds(
    Finding,
    code=WORDS,
    severity=st.sampled_from(Severity),
    message=WORDS,
    span=st.none() | PLACES,
    remedy=st.none() | WORDS,
    source=st.none() | WORDS,
    basis=st.none() | st.sampled_from(Basis),
    assumed=st.none() | WORDS,
    mend=st.none() | st.builds(Mend, st.lists(EDITS, min_size=1, max_size=3).map(tuple), st.booleans()),
    also=st.lists(PLACES, max_size=3).map(tuple),
)


QUESTIONS = st.builds(Unjudged, WORDS, st.lists(WORDS, max_size=3).map(tuple))


@given(st.lists(FINDINGS, max_size=4).map(tuple), st.lists(QUESTIONS, max_size=3).map(tuple))
def test_what_is_kept_is_what_was_found(
    findings: tuple[Finding, ...], unjudged: tuple[Unjudged, ...]
) -> None:
    stamped = secrets.token_bytes(32)
    assert recall(stamped) is None
    remember(stamped, findings, unjudged)
    assert recall(stamped) == (findings, unjudged)


def test_without_a_stamp_nothing_is_kept() -> None:
    remember(None, ())
    assert recall(None) is None


def test_what_was_found_before_a_pictogram_was_spoiled_is_not_told_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    van = tmp_path / "van"
    shutil.copytree(Path(__file__).parents[2] / "layouts" / "roost", van)
    drawn = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><path d="M1 1h8v8h-8z"/></svg>'
    (van / "own.svg").write_text(drawn, encoding="utf-8")
    with (van / "design.yaml").open("a", encoding="utf-8") as file:
        file.write("pictograms: {own: own.svg}\n")
    for _ in "fresh", "remembered":
        assert main(["check", str(van)]) == 0
    (van / "own.svg").write_text(drawn.replace("path d", "rect d"), encoding="utf-8")
    assert main(["check", str(van)]) == 1
    assert "A395" in capsys.readouterr().out
