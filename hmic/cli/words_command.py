"""Writes the table of what the screens say in another language, words/LANGUAGE.yaml, to be filled in.

Each text that has no line in the table gets one at its end, with nothing behind it yet. What stands there
stays as it is, comments too, so that it can be run again whenever the screens have new texts.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.findings import show
from hmic.cli.writing import write_whole
from hmic.diagnostics import DesignError, Severity, Span, error

EPILOG = """\
examples:
  hmic words layouts/dunlin --language de           writes layouts/dunlin/words/de.yaml
  hmic check layouts/dunlin --language de           what still lacks, and what no longer fits its place
  hmic preview layouts/dunlin --language de --out pictures

Write each translation between the quotes behind its text. `language: de` in design.yaml takes the table.
"""

HEAD = """\
# What the screens say, in '{language}': the translation of each text goes between the quotes behind it.
# A text whose quotes are empty is shown as it is written. Keep each {{name}} in braces as it is.
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument(
        "--language", metavar="L", required=True, help="the tag of the language, such as de or pt-BR"
    )


def run(arguments: argparse.Namespace) -> int:
    """Adds what lacks; 1 when the design cannot be read."""
    from hmic.model.files import inside, open_folder
    from hmic.model.languages import FOLDER, with_missing
    from hmic.model.load import load
    from hmic.model.shared_parts import parts_of, words_of

    file = f"{FOLDER}/{_tag(arguments.language)}.yaml"
    design, findings = load(arguments.design, "")
    wrong = [finding for finding in findings if finding.severity is Severity.ERROR]
    opened, _ = open_folder(arguments.design)
    if design is None or opened is None:
        show(findings, {})
        return 1
    path = inside(opened, file, Span(file, 1, 1, 1, 2))
    if path is None:
        raise DesignError(opened.findings)
    # Read as bytes: line ends stay as they are.
    table = _table(path) if path.exists() else HEAD.format(language=arguments.language)
    added, count = with_missing(table, file, design, words_of(opened, parts_of(opened.root), file))
    if count:
        write_whole(path, added.encode("utf-8"))
        print(f"{arguments.design / file}: {count} text{'s' if count > 1 else ''} added, to be filled in")
    else:
        print(f"{arguments.design / file}: has a line for every text")
    if wrong:
        show(wrong, design.sources)
        print("texts of what could not be read are not in it: run this again once that is corrected")
    return 1 if wrong else 0


def _tag(language: str) -> str:
    """The language's tag. Raises ``DesignError`` U980."""
    import re

    from hmic.model.yaml_source import schema

    if re.fullmatch(schema("design")["properties"]["language"]["pattern"], language) is None:
        message = f"'{language}' is not the tag of a language"
        raise DesignError([error("U980", message, None, "write it like de, en or pt-BR")])
    return language


def _table(path: Path) -> str:
    from hmic.cli.writing import read_whole

    try:
        return read_whole(path, "the table").decode("utf-8")
    except UnicodeDecodeError:
        file = f"{path.parent.name}/{path.name}"
        message = f"'{file}' is not UTF-8 text"
        raise DesignError([error("M223", message, None, "save the file as UTF-8")]) from None
