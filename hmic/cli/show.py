"""Findings on the terminal or as JSON."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence

from hmic.diagnostics import Finding, Severity, as_json, as_text, sorted_findings


def show(
    findings: Sequence[Finding], sources: Mapping[str, str], as_json: bool = False, result: bool = False
) -> None:
    """JSON goes to standard output; text to standard error, so that pipes stay clean, unless findings
    are the ``result`` that a person asked for."""
    ordered = sorted_findings(findings)
    if as_json:
        print(_json(ordered))
        return
    if ordered:
        print(as_text(ordered, sources), file=sys.stdout if result else sys.stderr)


def numbered(findings: Sequence[Finding]) -> str:
    """One line a finding, numbered from 1 as the frames of a marked picture are."""
    lines = []
    for number, finding in enumerate(findings, 1):
        place = f"{finding.span.file}:{finding.span.line}: " if finding.span else ""
        lines.append(f"{number} {finding.severity.value}[{finding.code}] {place}{finding.message}")
    return "\n".join(lines) or "nothing found"


def counted(findings: Sequence[Finding]) -> str:
    """``2 errors, 1 warning``, or nothing."""
    pieces = []
    for severity in Severity:
        count = sum(finding.severity is severity for finding in findings)
        if count:
            pieces.append(f"{count} {severity.value}{'s' if count > 1 else ''}")
    return ", ".join(pieces)


_json = as_json
