"""The documents against the tool: links, commands, options, and what a finding looks like."""

from __future__ import annotations

import argparse
import importlib
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from hmic.arrange.placing import PLACED
from hmic.arrange.widgets import WIDGETS
from hmic.cli.main import COMMANDS, main
from hmic.language.parser import parse
from hmic.language.syntax import PhraseKind, Widget

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = [
    *sorted(path for folder in ("hmic", "layouts", "fonts_open") for path in (ROOT / folder).rglob("*.md")),
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
]


def headings(text: str) -> set[str]:
    """The anchors of a document."""
    lines = re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", line.lower()).replace(" ", "-") for line in lines}


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", path.read_text(encoding="utf-8")):
        if "://" in target:
            continue
        file, _, heading = target.partition("#")
        found = path.parent / file if file else path
        assert found.exists(), target
        assert not heading or heading in headings(found.read_text(encoding="utf-8")), target


def commands(text: str) -> list[list[str]]:
    """The hmic commands of a document, with their words."""
    found = re.findall(r"^ *(?:\S+=\S+ )?(hmic [a-z]+ [^`\n]*)$|`(hmic [a-z]+[^`]*)`", text, re.MULTILINE)
    return [shlex.split(first or second, comments=True)[1:] for first, second in found]


def parser_of(command: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(exit_on_error=False)
    importlib.import_module(f"hmic.cli.{command}_command").add_arguments(parser)
    return parser


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_commands_and_options_exist(path: Path) -> None:
    for words in commands(path.read_text(encoding="utf-8")):
        if words[0] == "COMMAND":
            continue
        assert words[0] in COMMANDS, words
        known = parser_of(words[0]).format_help()
        for word in words[1:]:
            assert not word.startswith("--") or word in known, words


def test_whole_commands_of_the_readme_can_be_parsed() -> None:
    whole = [words for words in commands(README) if len(words) > 2]
    assert len(whole) >= 5
    for words in whole:
        if "..." not in words and words[1] not in ("--theme",):
            parser_of(words[0]).parse_args(words[1:])


def test_the_finding_of_the_readme_is_what_check_says(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = re.search(r"```\n(\S+:\d+:\d+\n.*?)```", README, re.DOTALL)
    assert shown is not None
    folder = Path(shutil.copytree(ROOT / "layouts" / "dunlin", tmp_path / "dunlin"))
    layout = (folder / "drive.layout").read_text(encoding="utf-8")
    changed = layout.replace('"0 km/h", text 100 arcmin', '"0 km/h", text 120 arcmin')
    assert changed != layout
    (folder / "drive.layout").write_text(changed, encoding="utf-8")
    assert main(["check", str(folder)]) == 1
    captured = capsys.readouterr()
    assert shown[1].strip() in captured.out + captured.err


def test_the_pictures_of_the_readme_are_the_panel() -> None:
    for name in re.findall(r"!\[[^]]*\]\(([^)]+)\)", README):
        if Path(name).name.startswith("page-"):
            continue
        with Image.open(ROOT / name) as picture:
            assert picture.size == ((480, 480) if "plover" in name else (1024, 600)), name


def test_nothing_in_the_readme_is_left_out_of_the_repository() -> None:
    linked = [t for t in re.findall(r"\]\(([^)#\s]+)", README) if "://" not in t]
    ignored = subprocess.run(
        ["git", "-C", str(ROOT), "check-ignore", *linked], capture_output=True, text=True, check=False
    )
    assert ignored.stdout == ""


def taken_by() -> list[tuple[str, str, set[str]]]:
    """(phrase as written, its kind, the widgets that take it) of each row of the language reference."""
    text = (ROOT / "hmic" / "language" / "LANGUAGE.md").read_text(encoding="utf-8")
    table = text.split("| phrase | means | taken by |")[1].split("\n\n")[0]
    rows = []
    for line in table.splitlines()[2:]:
        written, _, takers = (cell.strip() for cell in line.strip("|").split("|"))
        for phrase in written.split("`")[1::2]:
            layout, _ = parse(f'screen a "A"\n    plan\n        x\n    in x    label "L", {phrase}\n', "a")
            widget = layout.screens[0].areas[0].body[0]
            assert isinstance(widget, Widget) and len(widget.phrases) == 1, phrase
            rows.append((phrase, widget.phrases[0].kind, set(takers.split(", ")) - {"touch"}))
    return rows


def test_phrases_are_taken_by_the_widgets_that_the_reference_names() -> None:
    rows = taken_by()
    for phrase, kind, widgets in rows:
        if widgets == {"what is placed freely"}:
            assert kind in PLACED, phrase
            continue
        takers = {name for name, made in WIDGETS.items() if kind in made.PHRASES}
        # Words take the same phrase, but not flashing.
        assert widgets == takers - ({"words"} if phrase.startswith("flashing") else set()), phrase
    kinds = {kind for _, kind, _ in rows}
    # The screens that a row names are what it shows; they are told in the table of kinds.
    said = set().union(PLACED, *(made.PHRASES for made in WIDGETS.values())) - {PhraseKind.WAY}
    assert kinds == said
