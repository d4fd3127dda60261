"""Checks a design: names, units, places, sizes at the eye, touch targets.

The tool reports what it measured against which published figure; it never claims compliance.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from hmic.cli.remembered import recall, stamp, texts_of
from hmic.cli.show import counted, show
from hmic.diagnostics import Finding, exit_code


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument("--json", action="store_true", help="findings as a JSON list on standard output")
    parser.add_argument("--language", metavar="L", help="in this language, by words/L.yaml of the design")
    parser.add_argument("--strict", action="store_true", help="warnings count as errors")
    parser.add_argument(
        "--report", type=Path, metavar="FILE.html", help="also a page with pictures, measures and limits"
    )


def run(arguments: argparse.Namespace) -> int:
    """Shows every finding; 0 with none above a note, 1 with errors (or warnings if strict)."""
    stamped = stamp(arguments.design, arguments.language)
    findings = None if arguments.report else recall(stamped)
    if findings is not None:
        sources: Mapping[str, str] = texts_of(arguments.design, findings)
    else:
        findings, sources = _fresh(arguments, stamped)
    show(findings, sources, as_json=arguments.json)
    if not arguments.json:
        if arguments.report is not None:
            print(arguments.report)
        print(f"{arguments.design}: {counted(findings) or 'nothing found'}")
    return exit_code(findings, arguments.strict)


def _fresh(
    arguments: argparse.Namespace, stamped: bytes | None
) -> tuple[tuple[Finding, ...], Mapping[str, str]]:
    """Compiles and checks; writes the report if asked."""
    from hmic.cli.compiling import Failed, compile_design

    result = compile_design(arguments.design, arguments.language, stamped)
    if arguments.report is not None:
        from hmic.cli.report import write_report

        write_report(result, arguments.report)
    return result.findings, result.sources if isinstance(result, Failed) else result.design.sources
