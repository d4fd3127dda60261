"""The corpus of mistakes: every example has its one finding, at its place, with its remedy, and what is
put right has none. The pages of `hmic explain` are part of it."""

from __future__ import annotations

import ast
import re
from collections import Counter
from pathlib import Path

import pytest
from example import build, found_in

from hmic.cli.codes import USAGE
from hmic.cli.explain_command import explanation
from hmic.cli.main import main
from hmic.cli.pages import Page, all_pages, every_meaning, read_pages
from hmic.diagnostics import DesignError, Finding, Severity

ROOT = Path(__file__).parents[2]
PAGES = list(all_pages().values())
MORE = [
    page
    for path in sorted(Path(__file__).parent.glob("*.txt"))
    for page in read_pages(path.read_text(encoding="utf-8"), path.name)
]
EVERY = [*PAGES, *MORE]


def name(page: Page) -> str:
    return f"{page.code}-{page.file}:{page.line}"


def kinds(page: Page, role: str) -> set[str]:
    """Whether a role's blocks are files, commands (``$``) or deeds (``!``)."""
    return {block.target if block.target in ("$", "!") else "files" for block in page.of(role)}


def telling(findings: list[Finding], code: str) -> list[Finding]:
    """Without notes and checks of other codes: the checks judge every screen for eye and hand, and one
    colour may offend several."""
    return [
        item
        for item in dict.fromkeys(findings)
        if item.code == code or (item.severity is not Severity.NOTE and item.code[0] != "C")
    ]


DESIGNS = [page for page in EVERY if "files" in kinds(page, "wrong")]


@pytest.mark.parametrize("page", DESIGNS, ids=name)
def test_wrong_design(page: Page, tmp_path: Path) -> None:
    place = build(page, "wrong", tmp_path / "van")
    found = telling(found_in(tmp_path / "van"), page.code)
    codes = Counter(item.code for item in found if item.severity is not Severity.NOTE)
    assert set(codes) <= {page.code}, [(item.code, item.message, item.span) for item in found]
    if page.code[0] != "C":
        assert codes[page.code] <= 1, [(item.message, item.span) for item in found]
    fitting = [item for item in found if item.code == page.code and item.remedy == page.help]
    assert fitting, [(item.message, item.remedy) for item in found]
    spans = [item.span for item in fitting]
    if place is not None:
        assert any(
            span is not None
            and (span.file, span.line, span.column) == (place.file, place.line, place.column)
            and (place.end is None or span.end_line > span.line or span.end_column == place.end)
            for span in spans
        ), (place, spans)
    elif page.at is not None:
        assert page.at in {f"{span.file}:{span.line}:{span.column}" for span in spans if span}
    else:
        assert None in spans, spans


@pytest.mark.parametrize("page", [page for page in DESIGNS if page.of("right")], ids=name)
def test_right_design(page: Page, tmp_path: Path) -> None:
    if kinds(page, "right") == {"!"}:
        return
    build(page, "right", tmp_path / "van")
    found = telling(found_in(tmp_path / "van"), page.code)
    assert [(item.code, item.message) for item in found] == []


COMMANDS = [page for page in EVERY if "$" in kinds(page, "wrong")]


@pytest.mark.parametrize("page", COMMANDS, ids=name)
@pytest.mark.parametrize("role", ["wrong", "right"])
def test_commands(
    page: Page, role: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if kinds(page, role) != {"$"}:
        return
    build(page, role, tmp_path / "van")
    monkeypatch.chdir(tmp_path)
    (block,) = page.of(role)
    lines = block.text.rstrip("\n").split("\n")
    codes = [main(line.split()[1:]) for line in lines]
    captured = capsys.readouterr()
    # The findings of check are its result; those of other commands stand beside theirs.
    said = captured.out if lines[-1].startswith("hmic check") else captured.err
    if role == "right":
        assert codes == [0] * len(lines), said
        return
    assert codes == [0] * (len(lines) - 1) + [2 if page.code in USAGE else 1]
    assert f"error {page.code} " in said
    assert len(re.findall(r"^error [A-Z]\d{3} ", said, re.MULTILINE)) == 1
    assert page.help is None or f"\nremedy        {page.help}\n" in said + "\n"


def literals() -> dict[str, set[str]]:
    """Every code that a call in hmic can make a finding with, by the files it stands in."""
    found: dict[str, set[str]] = {}
    for path in sorted((ROOT / "hmic").rglob("*.py")):
        if path.name == "codes.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            text = node.value if isinstance(node, ast.Constant) else None
            if isinstance(text, str) and re.fullmatch(r"[LMACPWRSU][1-9][0-9]{2}", text):
                found.setdefault(text, set()).add(str(path.relative_to(ROOT)))
    return found


def test_every_code_has_a_meaning() -> None:
    assert {code: files for code, files in literals().items() if code not in every_meaning()} == {}
    assert set(every_meaning()) - set(literals()) == set()


def test_every_code_has_a_page() -> None:
    pages = all_pages()
    assert sorted(set(literals()) - set(pages)) == []
    assert sorted(set(pages) - set(every_meaning())) == []
    for page in pages.values():
        assert page.meaning, page.code
        assert page.of("wrong"), page.code
        text = explanation(page.code, "x")
        assert "‸" not in text
        assert "Wrong" in text


def test_no_two_pages_of_one_code() -> None:
    counted = Counter(
        page.code
        for path in sorted((ROOT / "hmic" / "cli" / "pages").glob("*.txt"))
        for page in read_pages(path.read_text(encoding="utf-8"), path.name)
    )
    assert [code for code, count in counted.items() if count > 1] == []


@pytest.mark.parametrize("page", [page for page in EVERY if kinds(page, "wrong") == {"!"}], ids=name)
def test_what_needs_a_device_has_a_named_test(page: Page) -> None:
    assert page.test is not None
    file, _, function = page.test.partition("::")
    text = (ROOT / file).read_text(encoding="utf-8")
    found = re.search(rf"^def {function}\(.*?(?=^def |\Z)", text, re.DOTALL | re.MULTILINE)
    assert found is not None, page.test
    assert page.code in text


def test_the_corpus_is_large() -> None:
    assert len(DESIGNS) + len(COMMANDS) >= 200


def test_a_number_too_large() -> None:
    from fractions import Fraction

    from hmic.diagnostics import Span
    from hmic.language.syntax import Quantity
    from hmic.model.expressions import Scope, typed

    number = Quantity(Fraction(10) ** 400, "V", Span("f", 1, 1, 1, 2))
    with pytest.raises(DesignError) as raised:
        typed(number, Scope({}))
    assert [item.code for item in raised.value.findings] == ["M217"]


def test_explain_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain"]) == 0
    assert capsys.readouterr().out.count("\n") == len(every_meaning())
    assert main(["explain", "l106"]) == 0
    said = capsys.readouterr().out
    assert "raeding" in said
    assert "\n             =======\n" in said
    assert "did you mean 'reading'?" in said
    assert main(["explain", "X000"]) == 2
