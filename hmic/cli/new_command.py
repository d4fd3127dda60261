"""Writes a small design to start from: it checks, previews and runs as it is. With --dbc it is made from the
vehicle's own description, and with --log from what a recording shows of it: units, ranges, stale times,
words, counters and checksums, and screens of what was chosen.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hmic.cli.findings import show
from hmic.cli.recordings import surveyed
from hmic.cli.writing import write_whole
from hmic.diagnostics import DesignError, Severity, did_you_mean, error
from hmic.model.values import ValueKind

if TYPE_CHECKING:
    from hmic.model.panel_form import PanelForm
    from hmic.survey.draft import Placed
    from hmic.survey.proposal import Source

EPILOG = """\
examples:
  hmic new mycar
  hmic new mycar --dbc car.dbc --log drive.blf
  hmic new mycar --dbc car=donor.dbc --dbc drive=inverter.dbc --log car=trip.blf#1 --log drive=trip.blf#2
  hmic new mycar --dbc car.dbc --panel 800x480@154x92.4mm --signals 'Pack*.*' --signals Motion.Speed
"""
STANDARD = "800x480@154.1x92.5mm"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("directory", type=Path, metavar="DIR", help="folder to make; it must not exist yet")
    parser.add_argument(
        "--dbc",
        action="append",
        default=[],
        metavar="[BUS=]FILE",
        help="make it from this description; once a bus",
    )
    parser.add_argument(
        "--log",
        action="append",
        default=[],
        metavar="[BUS=]LOG[#CHANNEL]",
        help="and from this recording; may be repeated",
    )
    parser.add_argument(
        "--panel",
        default=STANDARD,
        metavar="WxH@WxHmm",
        help="pixels and lit area, with ' round' behind it for round glass (default %(default)s)",
    )
    parser.add_argument(
        "--signals",
        action="append",
        default=[],
        metavar="MESSAGE.SIGNAL",
        help="what to show, or a pattern of it; may be repeated (without it a terminal is asked)",
    )


def run(arguments: argparse.Namespace) -> int:
    """Writes the files and says what to do next."""
    folder: Path = arguments.directory
    _vacant(folder)
    if arguments.dbc:
        files = _from_the_car(arguments)
    elif arguments.log or arguments.signals:
        message, remedy = "a recording says nothing without its description", "give --dbc FILE too"
        raise DesignError([error("U941", message, None, remedy)])
    else:
        from hmic.cli import starter

        files = {name: text.encode() for name, text in starter.FILES.items()}
    for name, data in files.items():
        write_whole(folder / name, data)
        print(folder / name)
    print(f"\nNext: hmic check {folder}\n      hmic preview {folder} --out pictures")
    return 0


def _vacant(folder: Path) -> None:
    try:
        taken = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except OSError as fault:
        message, remedy = f"cannot write {folder}: {fault.strerror}", "choose a place you may write to"
        raise DesignError([error("U910", message, None, remedy)]) from None
    if taken:
        message = f"{folder} exists already, and nothing of it is overwritten"
        raise DesignError([error("U940", message, None, "choose another name")])


def _from_the_car(arguments: argparse.Namespace) -> dict[str, bytes]:
    from hmic.cli.starter import THEMES
    from hmic.model.files import LARGEST
    from hmic.model.panel_form import panel_of
    from hmic.plain_files import read_plain
    from hmic.runtime.wiring import part_of, told_apart
    from hmic.survey import draft
    from hmic.survey.choosing import group_of
    from hmic.survey.describe import Descriptions
    from hmic.survey.proposal import checks_of, propose_all, sources

    panel = panel_of(arguments.panel)
    if panel is None:
        message = f"'{arguments.panel}' is no panel"
        raise DesignError([error("U941", message, None, "write pixels and mm: 800x480@154x92.4mm")])
    described = _described(arguments.dbc)
    logs = told_apart([bus for bus, _ in described], arguments.log, "--log")
    descriptions = Descriptions([path for _, path in described], [bus for bus, _ in described])
    found = surveyed(descriptions, logs)
    fields = sources(descriptions, found)
    names = _chosen(arguments, fields, found is not None)
    proposals = propose_all(fields, names, set())
    placed: list[Placed] = []
    for proposal in proposals:
        if proposal.kind != ValueKind.NUMBER or proposal.decimals is not None:
            placed.append((*group_of(fields[proposal.source])[:2], proposal))
        elif not proposal.count:
            print(f"{proposal.name} is on no screen: its range is too wide to be shown; narrow it first")
    if not placed:
        message = "what was chosen is too wide to be shown: a number below zero has 60,000 steps at most"
        remedy = "give its field a range in the DBC, or a recording with --log"
        raise DesignError([error("U942", message, None, remedy)])
    placed.sort(key=lambda each: _ORDER.index(each[0]))
    paths = dict.fromkeys([*(path for _, path in described), *(part_of(log.what)[0] for log in logs)])
    origin = " and ".join(path.name for path in paths)
    files = {
        "signals.yaml": draft.signals_yaml(
            proposals, checks_of([fields[name] for name in names]), design_text(origin)
        ),
        "themes.yaml": THEMES,
    }
    name = design_text(arguments.directory.name) or "My car"
    kept = {bus: (_file_name(path), read_plain(path, LARGEST)) for bus, path in described}
    groups = descriptions.unsaid()
    return _fitted(files, placed, panel=panel, name=name, described=kept, groups=groups)


def _described(given: Sequence[str]) -> list[tuple[str, Path]]:
    """The descriptions by bus; of several, one without a name is of the bus that its file is called by."""
    from hmic.runtime.wiring import named
    from hmic.survey.proposal import snake

    described: list[tuple[str, Path]] = []
    for text in given:
        bus, what = named(text)
        described.append((bus or (snake(Path(what).stem) if len(given) > 1 else ""), Path(what)))
    for at, (bus, path) in enumerate(described):
        for other, before in described[:at]:
            if bus == other:
                message = f"two descriptions are given for the bus '{bus}'"
                remedy = "give each bus a name of its own: --dbc BUS=FILE"
                raise DesignError([error("U943", message, None, remedy)])
            if _file_name(path) == _file_name(before) and path.resolve() != before.resolve():
                message = f"two descriptions are both called '{path.name}', and one folder is to hold them"
                raise DesignError([error("U943", message, None, "rename one of them")])
    return described


def _file_name(path: Path) -> str:
    return re.sub(r"[^\w.-]", "_", path.name)


_ORDER = ("drive", "battery", "heat", "states", "more")


def design_text(text: str) -> str:
    """Words that may stand in a YAML file without quotes."""
    return " ".join(re.sub(r"[^\w. -]", " ", text).split())


def _chosen(arguments: argparse.Namespace, fields: Mapping[str, Source], recorded: bool) -> list[str]:
    from hmic.survey.choosing import likely, matching

    wanted: list[str] = arguments.signals
    offered = likely(fields, recorded)
    if not wanted and sys.stdin is not None and sys.stdin.isatty():
        wanted = _asked(offered)
    names, lacking = matching(wanted, fields) if wanted else (offered, [])
    if lacking:
        message = f"'{lacking[0]}' is no field of {' or '.join(map(repr, arguments.dbc))}"
        raise DesignError([error("U942", message, None, did_you_mean(lacking[0], fields, "fields"))])
    if not names:
        told = " and ".join(map(repr, arguments.dbc))
        message = f"{told} and the recording show nothing that a screen would"
        remedy = "name fields with --signals MESSAGE.SIGNAL; `hmic survey` lists them"
        raise DesignError([error("U942", message, None, remedy)])
    return names


def _asked(offered: Sequence[str]) -> list[str]:
    """What a person at a terminal chooses; nothing takes all that is offered."""
    for number, name in enumerate(offered, 1):
        print(f"{number:3}  {name}")
    said = input("Which? Numbers, names or patterns such as Pack*.*, parted by blanks [all]: ").split()
    return [
        offered[int(word) - 1] if word.isdigit() and 1 <= int(word) <= len(offered) else word for word in said
    ]


def _fitted(
    files: Mapping[str, str],
    placed: Sequence[Placed],
    *,
    panel: PanelForm,
    name: str,
    described: Mapping[str, tuple[str, bytes]],
    groups: Sequence[str],
) -> dict[str, bytes]:
    """The files with the fullest screens that pass the checks; the emptiest where none do. ``described`` has
    file and content of each bus's description, ``groups`` are the buses that must be said to speak J1939."""
    from hmic.compile.compiling import examine
    from hmic.language.tidy import tidy
    from hmic.survey import draft

    whole: dict[str, bytes] = {}
    named = {bus: file for bus, (file, _) in described.items()}
    for fit in draft.FITS:
        screens = {key: tidy(text, key)[0] for key, text in draft.layouts(placed, fit).items()}
        start = next(iter(screens)).removesuffix(".layout")
        texts = {"design.yaml": draft.design_yaml(name, panel, named, start, groups), **files, **screens}
        whole = {key: text.encode() for key, text in texts.items()} | dict(described.values())
        with tempfile.TemporaryDirectory(prefix="hmic-new-") as folder:
            for key, data in whole.items():
                (Path(folder) / key).write_bytes(data)
            *_, findings = examine(Path(folder))
        if not any(finding.severity is Severity.ERROR for finding in findings):
            return whole
    show([finding for finding in findings if finding.severity is Severity.ERROR], {})
    return whole
