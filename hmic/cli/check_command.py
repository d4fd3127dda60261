"""Checks a design: names, units, places, sizes at the eye, touch targets.

The tool reports what it measured against which published figure; it never claims compliance. With --log it
also holds signals.yaml against a recording: stale times below the periods, values beyond their range, states
without a word, messages that never come.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.cli.writing import write_result
from hmic.compile.kept_findings import recall, stamp, texts_of
from hmic.diagnostics import DesignError, Finding, Unjudged, counted, error, exit_code, left_to_you, records
from hmic.number_text import MEASURED, number

if TYPE_CHECKING:
    from hmic.check.measured import Compared
    from hmic.compile.compiling import Compiled, Failed


SAFE = "safe"
HELD_BACK = "what rests on the whole design is looked at once no error keeps it from that"
EPILOG = """\
examples:
  hmic check layouts/dunlin
  hmic check layouts/dunlin --log layouts/dunlin/logs/ten_minutes.blf
  hmic check van --mend
  hmic check van --against van-of-last-week
  hmic check van --log car=morning.log --log drive=inverter.asc
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("--json", action="store_true", help="findings as a JSON list on standard output")
    parser.add_argument("--language", metavar="L", help="in this language, by words/L.yaml of the design")
    parser.add_argument("--strict", action="store_true", help="warnings count as errors")
    parser.add_argument(
        "--log",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="also hold it against a recording, or one of each bus",
    )
    parser.add_argument(
        "--against",
        type=Path,
        metavar="OTHER",
        help="also compare it in all measures with another version, in the folder OTHER",
    )
    parser.add_argument(
        "--mend",
        nargs="?",
        const=SAFE,
        choices=(SAFE, "all"),
        help="first apply the remedies that change how a thing is told, not what; `all`: all that can be",
    )
    parser.add_argument(
        "--report", type=Path, metavar="FILE.html", help="also a page with pictures, measures and limits"
    )


def run(arguments: argparse.Namespace) -> int:
    """Shows every finding; 0 with none above a note, 1 with errors (or warnings if strict)."""
    if arguments.mend is not None:
        _mend(arguments)
    stamped = stamp(arguments.design, arguments.language)
    if arguments.against is not None:
        return _compare(arguments)
    known = None if arguments.report or arguments.log else recall(stamped)
    if known is not None:
        findings, unjudged = known
        _show(findings, texts_of(arguments.design, findings), arguments.json)
    else:
        findings, unjudged = _fresh(arguments, stamped)
    if not arguments.json:
        if exit_code(findings) and not unjudged:
            # What is left to a person is told with all that the rules find in a whole design.
            print(f"{HELD_BACK}\n")
        print(f"{arguments.design}: {counted(findings) or 'nothing found by these rules'}")
        if unjudged:
            print(f"\n{left_to_you(unjudged)}")
    return exit_code(findings, arguments.strict)


def _mend(arguments: argparse.Namespace) -> None:
    """Applies what can be, tells what it did, and leaves the rest to be shown as ever."""
    from hmic.compile.compiling import examine
    from hmic.compile.mending import mended, write

    folder, language = arguments.design, arguments.language
    design, _, findings = examine(folder, language)
    if design is None:
        return

    def examined(texts: Mapping[str, str]) -> Sequence[Finding]:
        return examine(folder, language, texts)[2]

    every = arguments.mend != SAFE
    done = mended(findings, design.sources, examined, lambda _, mend: every or mend.unasked)
    try:
        write(folder, done.texts)
    except OSError as failed:
        remedy = "choose a place you may write to"
        message = f"cannot write into {folder}: {failed.strerror or 'it cannot be written'}"
        raise DesignError([error("U910", message, None, remedy)]) from None
    told = sys.stderr if arguments.json else sys.stdout
    for finding in done.gone:
        place = f"{finding.span.file}:{finding.span.line}: " if finding.span else ""
        print(f"mended {finding.code} {place}{finding.remedy}", file=told)


def _compare(arguments: argparse.Namespace) -> int:
    """Shows every finding, and each measure beside that of the other version; the code is that of the
    findings."""
    from hmic.compile.comparing import compare

    result, rows, findings = compare(arguments.design, arguments.against, arguments.language)
    if arguments.log:
        findings = _with_recordings(arguments, findings)
    if arguments.report is not None and rows:
        _write_report(result, arguments.report)
    if arguments.json:
        told = {"findings": records(findings), "measures": [row._asdict() for row in rows]}
        print(json.dumps(told, indent=2, ensure_ascii=False))
    else:
        _show(findings, _texts(result), False)
        print(f"{arguments.design}: {counted(findings) or 'nothing found by these rules'}")
        if rows:
            print(f"\n{_table(arguments, rows)}")
    return exit_code(findings, arguments.strict)


def _table(arguments: argparse.Namespace, rows: Sequence[Compared]) -> str:
    """The measures in columns."""
    versions = (arguments.design, arguments.against)
    short = len({folder.name for folder in versions}) == 2 and all(folder.name for folder in versions)
    cells = [("", *(folder.name if short else str(folder) for folder in versions), "", "", "")]
    for row in rows:
        figures = _figure(row.value), _figure(row.other)
        cells.append((row.name, *figures, row.unit, row.verdict, row.where))
    wide = [max(len(line[column]) for line in cells) for column in range(6)]
    lines = []
    for name, value, other, *rest in cells:
        beside = "  ".join(text.ljust(width) for text, width in zip(rest, wide[3:], strict=True))
        line = f"{name.ljust(wide[0])}  {value.rjust(wide[1])}  {other.rjust(wide[2])}  {beside}"
        lines.append(line.rstrip())
    return "\n".join(lines)


def _figure(value: float | None) -> str:
    return "-" if value is None else number(value, MEASURED)


def _texts(result: Compiled | Failed) -> Mapping[str, str]:
    from hmic.compile.compiling import Failed

    return result.sources if isinstance(result, Failed) else result.design.sources


def _show(findings: tuple[Finding, ...], sources: Mapping[str, str], as_json: bool) -> None:
    """Findings are what was asked for: they go to standard output, to be paged and kept."""
    show(findings, sources, as_json=as_json, result=True)
    if findings and not as_json:
        print()


def _fresh(
    arguments: argparse.Namespace, stamped: bytes | None
) -> tuple[tuple[Finding, ...], tuple[Unjudged, ...]]:
    """Compiles and checks; writes the report if asked. What was found, and what is left to a person."""
    from hmic.compile.compiling import Failed, compile_design

    result = compile_design(arguments.design, arguments.language, stamped)
    findings = result.findings
    written = False
    if arguments.report is not None:
        try:
            _write_report(result, arguments.report)
            written = True
        except DesignError as raised:
            findings = (*findings, *raised.findings)
    if arguments.log:
        findings = _with_recordings(arguments, findings)
    _show(findings, _texts(result), arguments.json)
    if written and not arguments.json:
        print(arguments.report)
    compiled = result.compiled if isinstance(result, Failed) else result
    return findings, compiled.unjudged if compiled is not None else ()


def _with_recordings(arguments: argparse.Namespace, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Everything found, with what the recordings show. A stale time that the recording tells of is not told
    by the DBC's period as well."""
    from hmic.cli.recordings import held_against
    from hmic.model.load import load

    design, _ = load(arguments.design, arguments.language)
    if design is None:
        message, remedy = "the design could not be held against a recording", "correct the errors shown first"
        return (*findings, error("U971", message, None, remedy))
    found = held_against(design, arguments.log)
    aged = {finding.span for finding in found if finding.code == "S801"}
    kept = [finding for finding in findings if finding.code != "M294" or finding.span not in aged]
    return (*kept, *found)


def _write_report(result: Compiled | Failed, path: Path) -> None:
    """Raises ``DesignError`` U970 when there are no screens to report on; the findings that keep them away
    are shown as ever."""
    from hmic.compile.compiling import Compiled
    from hmic.show.report import page

    compiled = result if isinstance(result, Compiled) else result.compiled
    if compiled is None:
        remedy = "correct the errors shown above first"
        raise DesignError([error("U970", "no report: the screens cannot be laid out", None, remedy)])
    write_result(path, page(compiled).encode("utf-8"))
