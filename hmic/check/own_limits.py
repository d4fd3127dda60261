"""The limits that a design sets itself, held against those that the checks have."""

from __future__ import annotations

from hmic.diagnostics import Finding, did_you_mean, error
from hmic.model.design import Design
from hmic.model.limits import DEFAULTS
from hmic.number_text import number


def check_settings(design: Design) -> list[Finding]:
    """C400: a limit that no check has. C499: one with another unit than the check's, or beyond all sense."""
    findings = []
    for name, setting in design.limits.items():
        default = DEFAULTS.get(name)
        if default is None:
            remedy = did_you_mean(name, tuple(DEFAULTS), "limits")
            findings.append(error("C400", f"no check has a limit '{name}'", setting.span, remedy))
        elif setting.unit not in ("", default.unit):
            message = f"the limit '{name}' is in {default.unit}, not {setting.unit}"
            remedy = f"write `limit: {number(setting.number)} {default.unit}`"
            findings.append(error("C499", message, setting.span, remedy))
        elif not default.takes(setting.number, setting.unit):
            nearest = min(max(setting.number, default.least), default.most)
            way = "least" if nearest > setting.number else "most"
            message = f"the limit '{name}' is at {way} {number(nearest)} {default.unit}"
            findings.append(error("C499", message, setting.span, f"write `limit: {number(nearest)}`"))
    return findings
