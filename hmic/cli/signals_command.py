"""Adds signals to a design: each field of its DBC that is named becomes a line of signals.yaml, as a person
would write it. With --log its range, stale time, value for "not available", counter and checksum follow from
a recording.
"""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from hmic.cli.recordings import descriptions_of, surveyed
from hmic.cli.writing import write_whole
from hmic.diagnostics import DesignError, did_you_mean, error

EPILOG = """\
examples:
  hmic signals mycar --add Motion.Speed
  hmic signals mycar --add 'Pack*.*' --log drive.blf
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument(
        "--add",
        action="append",
        required=True,
        metavar="[BUS/]MESSAGE.SIGNAL",
        help="a field of its DBC, or a pattern of some; may be repeated",
    )
    parser.add_argument(
        "--log",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="a recording to go by; may be repeated",
    )


def run(arguments: argparse.Namespace) -> int:
    """Writes the lines into signals.yaml and prints them."""
    from hmic.model.load import load
    from hmic.runtime.wiring import told_apart
    from hmic.survey.choosing import matching
    from hmic.survey.draft import quoted
    from hmic.survey.proposal import checks_of, propose_all, sources

    design, findings = load(arguments.design)
    if design is None:
        raise DesignError(findings)
    if not design.descriptions:
        message, remedy = "the design names no DBC", "add `dbc: FILE` to design.yaml"
        raise DesignError([error("U942", message, None, remedy)])
    logs = told_apart(design.wired, arguments.log, "--log")
    descriptions = descriptions_of(design)
    found = surveyed(descriptions, logs)
    fields = sources(descriptions, found)
    names, lacking = matching(arguments.add, fields)
    if lacking:
        files = " or ".join(repr(path.name) for path in design.descriptions.values())
        message = f"'{lacking[0]}' is no field of {files}"
        raise DesignError([error("U942", message, None, did_you_mean(lacking[0], fields, "fields"))])
    taken = set(design.signals)
    proposals = propose_all(fields, names, taken)
    path = arguments.design / "signals.yaml"
    text = path.read_text(encoding="utf-8")
    text = inserted(text, "signals", "".join(proposal.lines for proposal in proposals))
    for message, entry in checks_of([fields[name] for name in names]).items():
        if message not in design.messages:
            text = inserted(text, "messages", f"  {quoted(message)}: {entry}\n")
    write_whole(path, text.encode())
    print("".join(proposal.lines for proposal in proposals), end="")
    return 0


def inserted(text: str, key: str, lines: str) -> str:
    """A YAML text with lines at the end of the mapping under a key of its top level, which is begun where
    it lacks."""
    rows = text.splitlines(keepends=True)
    if rows and not rows[-1].endswith("\n"):
        rows[-1] += "\n"
    begin = next((at for at, row in enumerate(rows) if re.match(rf"{key}:\s*(#.*)?$", row)), None)
    if begin is None:
        return "".join(rows) + f"\n{key}:\n{lines}"
    end = begin + 1
    for at in range(begin + 1, len(rows)):
        if rows[at].strip() and not rows[at][0].isspace() and not rows[at].startswith("#"):
            break
        if rows[at].strip() and rows[at][0].isspace():
            end = at + 1
    return "".join([*rows[:end], lines, *rows[end:]])
