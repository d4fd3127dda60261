"""What happens in a run, in words."""

from __future__ import annotations

from hmic.diagnostics import as_text
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestDone, RequestMade
from hmic.runtime.runtime import LinkChanged, Problem, RuntimeEvent, ScreenChanged
from hmic.runtime.touching import ConfirmAsked


def told(event: RuntimeEvent) -> str | None:
    """An event in words; None for one that nobody needs told."""
    match event:
        case Problem(finding):
            return as_text([finding], {}).rstrip("\n")
        case LinkChanged(up):
            return "display connected" if up else "display lost; waiting for it"
        case RequestMade(name, value, frame):
            where = "the pipe" if frame is None else f"frame {frame.identifier:X} {frame.data.hex()}"
            where += f" on {frame.bus}" if frame is not None and frame.bus else ""
            return f"asked for {name} = {_said(value)} by {where}"
        case RequestDone(name, value, seconds):
            return f"done: {name} reads {_said(value)} after {seconds:.1f} s"
        case RequestRefused(name):
            return f"refused: {name}: {event.reason}"
        case ConfirmAsked(name, question):
            return f"asked back for {name}: {question}"
        case ScreenChanged():
            return None
    return str(event)


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return f"{value:g}" if isinstance(value, float) else str(value)
