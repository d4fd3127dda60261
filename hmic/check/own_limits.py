"""The limits that a design sets itself, held against those that the checks have."""

from __future__ import annotations

from hmic.check import edits
from hmic.diagnostics import Basis, Finding, Severity, did_you_mean, error, mended_by
from hmic.model.design import Design
from hmic.model.limits import DEFAULTS
from hmic.number_text import number

PUBLISHED = (Basis.READ, Basis.QUOTED, Basis.MEMORY)
"""What stands behind a figure that somebody else has published."""


def check_settings(design: Design) -> list[Finding]:
    """C400: a limit that no check has. C499: one with another unit than the check's, or beyond all sense.
    C470: one that is looser than the published figure."""
    findings = []
    for name, setting in design.limits.items():
        default = DEFAULTS.get(name)
        if default is None:
            remedy = did_you_mean(name, tuple(DEFAULTS), "limits")
            findings.append(error("C400", f"no check has a limit '{name}'", setting.span, remedy))
        elif setting.unit not in ("", default.unit):
            message = f"the limit '{name}' is in {default.unit}, not {setting.unit}"
            told = error("C499", message, setting.span, f"say it in {default.unit}")
            findings.append(_instead(told, design, name, default.value, f", or what it is in {default.unit}"))
        elif not default.takes(setting.number, setting.unit):
            nearest = min(max(setting.number, default.least), default.most)
            way = "least" if nearest > setting.number else "most"
            message = f"the limit '{name}' is at {way} {number(nearest)} {default.unit}"
            told = error("C499", message, setting.span, f"write `limit: {number(nearest)}`")
            findings.append(_instead(told, design, name, nearest))
        elif (loosened := _loosened(design, name)) is not None:
            findings.append(loosened)
    return findings


def _instead(found: Finding, design: Design, name: str, value: float, more: str = "") -> Finding:
    """With another figure for the limit, in its unit."""
    text = f"{number(value)} {DEFAULTS[name].unit}"
    assert found.span is not None
    return mended_by(found, edits.setting(design, found.span.file, ("limits", name, "limit"), text), more)


def _loosened(design: Design, name: str) -> Finding | None:
    """C470: a limit that lets pass what the published figure does not."""
    default, (value, *_, span) = DEFAULTS[name], design.limits[name]
    if default.floor is None or default.basis not in PUBLISHED:
        return None
    if value >= default.value if default.floor else value <= default.value:
        return None
    than = "below" if default.floor else "above"
    message = f"this design sets '{name}' {than} the published figure"
    remedy = f"write `limit: {number(default.value)} {default.unit}`, or keep it and stand by the reason"
    found = default.finding("C470", message, span, remedy, value, severity=Severity.NOTE)
    published = f"{number(default.value)} {default.unit}"
    mend = edits.setting(design, span.file, ("limits", name, "limit"), published)
    return mended_by(found, mend, ", or keep it and stand by the reason")
