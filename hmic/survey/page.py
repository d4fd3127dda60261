"""A survey as one HTML page that needs nothing else, with a small trace of each field."""

from __future__ import annotations

from collections.abc import Sequence

from hmic.foreign_text import in_html as escape
from hmic.survey import wording
from hmic.survey.facts import FieldSeen, MessageSeen, SmoothField, Survey
from hmic.survey.terminal_table import summary

_WIDTH, _HEIGHT = 240, 36
_STYLE = """
body{font:15px/1.45 system-ui,sans-serif;max-width:80rem;margin:2rem auto;padding:0 1rem;color:#1c2226}
h1,h2{line-height:1.2}h2{margin:2.5rem 0 .3rem;border-top:1px solid #cbd2d6;padding-top:1rem}
h2{font-size:1.15rem}
table{border-collapse:collapse;margin:.5rem 0}
th,td{text-align:left;padding:.2rem .7rem .2rem 0;vertical-align:middle;border-bottom:1px solid #e6eaec}
td.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
p{margin:.2rem 0}.said{color:#4c565c}code{font-size:.92em}
svg{display:block;background:#f5f7f8}polyline{fill:none;stroke:#1d5a80;stroke-width:1.2}
"""


def as_page(found: Survey) -> str:
    """The page."""
    sources = ", ".join(found.sources)
    parts = [
        "<!doctype html>\n<html lang='en'><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width'>",
        f"<title>Survey of {escape(sources)}</title><style>{_STYLE}</style>",
        f"<h1>Survey of {escape(sources)}</h1>",
        *(f"<p>{escape(line)}</p>" for line in summary(found)),
        *(_message(message, found.timed) for message in found.messages),
    ]
    return "\n".join(parts) + "\n</html>\n"


def _message(message: MessageSeen, timed: bool) -> str:
    bus = f"{message.bus} " if message.bus else ""
    facts = [f"{message.count} frames", wording.period(message, timed), f"{wording.lengths(message)} bytes"]
    lines = [", ".join(each for each in facts if each)]
    lines += [f"described by {message.file}"] if message.file else []
    lines += wording.guards(message)
    body = "".join(f"<p class='said'>{escape(line)}</p>" for line in lines)
    if not message.name:
        body += f"<p>bits that move <code>{escape(wording.moving(message))}</code></p>"
    rows = [_field(field) for field in message.fields] + [_smooth(field) for field in message.smooth]
    table = f"<table>{''.join(rows)}</table>" if rows else ""
    heading = f"{bus}{wording.identifier(message)} {wording.title(message)}"
    return f"<h2>{escape(heading)}</h2>{body}{table}"


def _field(field: FieldSeen) -> str:
    states = wording.states(field)
    absent = f"no value: {wording.sentinels(field)}" if field.sentinels else ""
    said = escape("; ".join(each for each in (states, absent) if each))
    page = f" <span class='said'>page {escape(field.page)}</span>" if field.page else ""
    return (
        f"<tr><td>{escape(field.name)}{page}</td><td>{_trace(field.trace)}</td>"
        f"<td class='n'>{escape(wording.values(field))}</td><td>{said}</td></tr>"
    )


def _smooth(field: SmoothField) -> str:
    where, _, rest = wording.smooth(field).partition(": ")
    return (
        f"<tr><td>{escape(where)}</td><td>{_trace(field.trace)}</td><td colspan='2'>{escape(rest)}</td></tr>"
    )


def _trace(trace: Sequence[tuple[float, float]]) -> str:
    """A line over the time, from the lowest to the highest value."""
    if len(trace) < 2:
        return ""
    first, last = trace[0][0], trace[-1][0]
    low, high = min(value for _, value in trace), max(value for _, value in trace)
    across = (_WIDTH - 4) / (last - first) if last > first else 0.0
    up = (_HEIGHT - 6) / (high - low) if high > low else 0.0
    middle = 0.0 if up else (_HEIGHT - 6) / 2
    points = " ".join(
        f"{2 + (at - first) * across:.1f},{_HEIGHT - 3 - (value - low) * up - middle:.1f}"
        for at, value in trace
    )
    return f"<svg width='{_WIDTH}' height='{_HEIGHT}'><polyline points='{points}'/></svg>"
