"""Findings on the terminal or as JSON."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from typing import Any

from hmic.diagnostics import DesignError, Finding, as_json, as_text, error, named, sorted_findings
from hmic.foreign_text import drawn_on, encodable

WIDEST = 100
"""Columns beyond which the eye loses the next line."""


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
        _print(ordered, sources, sys.stdout if result else sys.stderr)


def _print(findings: Sequence[Finding], sources: Mapping[str, str], stream: Any) -> None:
    """Broken to the width of a terminal, and coloured there unless the person wants none."""
    if stream is None or not stream.isatty():
        print(as_text(findings, sources), file=stream)
        return
    # https://no-color.org: set, and not empty.
    coloured = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    terminal = drawn_on(stream)
    width = min(os.get_terminal_size(terminal.fileno()).columns or WIDEST, WIDEST)
    print(encodable(as_text(findings, sources, width, coloured), terminal), file=terminal)


def numbered(findings: Sequence[Finding]) -> str:
    """One line a finding, numbered from 1 as the frames of a marked picture are."""
    lines = []
    for number, finding in enumerate(findings, 1):
        place = f"{finding.span.file}:{finding.span.line}: " if finding.span else ""
        lines.append(f"{number} {named(finding)} {place}{finding.message}")
    return "\n".join(lines) or "nothing found"


_json = as_json


def port_refused(port: int, failed: Exception) -> DesignError:
    """What is told where a page cannot have its port."""
    message = f"port {port} cannot be used: {getattr(failed, 'strerror', None) or failed}"
    return DesignError([error("U947", message, None, "leave --page-port out")])
