"""The files of a design out of chosen fields: what a person would have written."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hmic.model.panel_form import PanelForm
from hmic.model.values import ValueKind
from hmic.survey.proposal import Proposal


@dataclass(frozen=True)
class Fit:
    """How much stands on a screen: columns and rows of values, and how tall their figures are (arcmin)."""

    columns: int
    rows: int
    text: int


FITS = tuple(
    Fit(columns, rows, text)
    for columns, rows, text in (
        *((3, 3, 40), (3, 2, 34), (2, 3, 34), (2, 2, 34), (2, 2, 28), (2, 2, 22), (1, 3, 24)),
        *((1, 2, 24), (1, 2, 20), (1, 1, 24), (1, 1, 18), (1, 1, 16), (1, 1, 14), (1, 1, 12)),
    )
)
"""Ways to fill a screen, from the fullest; the first that passes the checks is taken."""

GLANCE = 4
"""Values of the screen for the road at most."""

Placed = tuple[str, str, Proposal]
"""A screen's name, its title, and what stands on it."""


def design_yaml(
    name: str, panel: PanelForm, files: Mapping[str, str], start: str, groups: Sequence[str] = ()
) -> str:
    """design.yaml. ``files`` are the descriptions by bus, which is empty for the only one; ``groups`` the
    buses of which it must say that they speak J1939."""
    named = ", ".join(f"{bus}: {file}" for bus, file in files.items())
    buses = f"dbc: {files['']}" if "" in files else f"buses: {{{named}}}"
    if groups:
        speak = "true" if len(groups) == len(files) else f"[{', '.join(groups)}]"
        buses += "\n# Identifiers that end in FE or FF are those of any sender.\n" + f"j1939: {speak}"
    shape = "  shape: round\n" if panel.round else ""
    return f"""\
# The glass in your dash. Measure `size` on the lit area, `eye distance` from your eye to the glass.
name: {name}

panel:
  pixels: [{panel.width}, {panel.height}]
  size: [{panel.wide:g} mm, {panel.tall:g} mm]
  eye distance: 700 mm
  colour depth: 16
  baud: 115200
  flash: 4 MB
  memory: 256 kB
{shape}
fonts:
  text: B612-Regular
  figures: B612-Bold

start: {start}
{buses}
"""


def signals_yaml(proposals: Sequence[Proposal], checks: Mapping[str, str], origin: str) -> str:
    """signals.yaml. ``origin`` says what it was made from."""
    text = (
        f"# Made from {origin}. Hold each unit and range against the vehicle before you trust it.\nsignals:\n"
    )
    text += "".join(proposal.lines for proposal in proposals)
    if checks:
        text += "\n# These held in every frame of the recording; a frame that fails is not used.\nmessages:\n"
        text += "".join(f"  {quoted(message)}: {entry}\n" for message, entry in checks.items())
    return text


def quoted(name: str) -> str:
    """A key as YAML takes it."""
    return name if re.fullmatch(r"(?:\w+/)?[A-Za-z_]\w*", name) else '"' + name.replace('"', "'") + '"'


def layouts(placed: Sequence[Placed], fit: Fit) -> dict[str, str]:
    """A layout file for each screen: values in a grid, and a button to the next."""
    kinds: dict[tuple[str, str], list[Proposal]] = {}
    for screen, title, proposal in placed:
        kinds.setdefault((screen, title), []).append(proposal)
    screens: list[tuple[str, str, list[Proposal]]] = []
    for (screen, title), proposals in kinds.items():
        # As many on each: none is left with a single value.
        pages = math.ceil(len(proposals) / _room(fit, screen))
        for at in range(pages):
            some = proposals[at * len(proposals) // pages : (at + 1) * len(proposals) // pages]
            named = (f"{screen}_{at + 1}", f"{title} {at + 1}") if at else (screen, title)
            screens.append((*named, some))
    files = {}
    for at, (name, title, proposals) in enumerate(screens):
        following = screens[(at + 1) % len(screens)] if len(screens) > 1 else None
        files[f"{name}.layout"] = _layout(name, title, proposals, following, fit)
    return files


def _room(fit: Fit, screen: str) -> int:
    return min(fit.columns * fit.rows, GLANCE if screen == "drive" else 99)


def _layout(
    name: str,
    title: str,
    proposals: Sequence[Proposal],
    following: tuple[str, str, list[Proposal]] | None,
    fit: Fit,
) -> str:
    # As many in each row: four stand in two rows of two.
    columns = math.ceil(len(proposals) / math.ceil(len(proposals) / fit.columns))
    areas = [f"v{at + 1}" for at in range(len(proposals))]
    areas += ["."] * (-len(areas) % columns)
    rows = [areas[at : at + columns] for at in range(0, len(areas), columns)]
    lines = [f'screen {name} "{title}"', "    plan"]
    if following is not None:
        lines.append("        " + " ".join(["next"] * columns))
    lines += ["        " + " ".join(row) for row in rows]
    if following is not None:
        lines.append("    rows 14 mm, " + ", ".join("1" for _ in rows))
        lines += ["", f'    in next     button "{following[1]}", goes to {following[0]}']
    else:
        lines.append("")
    lines += [f"    in {area:<8} {_shown(each, fit)}" for area, each in zip(areas, proposals, strict=False)]
    return "\n".join(lines) + "\n"


def _shown(proposal: Proposal, fit: Fit) -> str:
    called = f'called "{proposal.caption}"'
    if proposal.kind == ValueKind.WORD:
        return f"words {proposal.name}, text {min(fit.text, 24)} arcmin, {called}"
    if proposal.kind == ValueKind.FLAG:
        return f'lamp check, notice while {proposal.name}, {called}, means "{proposal.caption}"'
    digits = "0" if not proposal.decimals else "0." + "0" * proposal.decimals
    pattern = f"{digits} {proposal.unit}".rstrip()
    return f'reading {proposal.name} as "{pattern}", text {fit.text} arcmin, {called}'
