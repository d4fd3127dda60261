"""A survey as a table for a terminal."""

from __future__ import annotations

from io import StringIO

from hmic.survey import wording
from hmic.survey.facts import MessageSeen, Survey

NAMED_SILENT = 12
"""Messages that never came and are named."""


def as_table(found: Survey, width: int) -> str:
    """The table, ``width`` letters wide."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    drawn = Table(box=None, padding=(0, 1), show_edge=False, expand=False)
    for heading, right in (("bus", False), ("id", True), ("name", False), ("frames", True)):
        drawn.add_column(heading, justify="right" if right else "left", no_wrap=heading != "name")
    drawn.add_column("period")
    drawn.add_column("bytes", justify="right")
    drawn.add_column("what came")
    for message in found.messages:
        cells = [
            message.bus,
            wording.identifier(message),
            wording.title(message),
            str(message.count),
            wording.period(message, found.timed),
            wording.lengths(message),
            "\n".join(_came(message)),
        ]
        drawn.add_row(*(Text(cell) for cell in cells))
    out = StringIO()
    console = Console(file=out, width=width, color_system=None, legacy_windows=False)
    console.print(drawn)
    return "\n".join([out.getvalue().rstrip(), "", *summary(found)]) + "\n"


def _came(message: MessageSeen) -> list[str]:
    lines = [wording.moving(message)] if not message.name else []
    lines += wording.guards(message)
    for field in message.fields:
        said = [wording.states(field) or wording.values(field)]
        if field.sentinels:
            said.append(f"no value: {wording.sentinels(field)}")
        lines.append(f"{field.name}: {'; '.join(said)}")
    lines += [f"smooth: {wording.smooth(field)}" for field in message.smooth]
    return lines


def summary(found: Survey) -> list[str]:
    """What all of it comes to, a sentence a line."""
    unknown = [message for message in found.messages if not message.name]
    lines = [
        f"{found.frames} frames of {_identifiers(len(found.messages))} in {found.seconds:.1f} s"
        + ("" if found.timed else "; not every log told times, so periods are left out")
    ]
    for each in found.descriptions:
        share = 100 * each.frames / found.frames if found.frames else 0.0
        lines.append(f"{each.file} explains {_identifiers(each.identifiers)}, {share:.0f} % of the frames")
        if each.silent:
            more = len(each.silent) - NAMED_SILENT
            lines[-1] += f"; never came: {', '.join(each.silent[:NAMED_SILENT])}"
            lines[-1] += f" and {more} more" if more > 0 else ""
    if found.descriptions and unknown:
        lines.append(f"{_identifiers(len(unknown))} {'is' if len(unknown) == 1 else 'are'} explained by none")
    return lines


def _identifiers(count: int) -> str:
    return f"{count} identifier{'' if count == 1 else 's'}"
