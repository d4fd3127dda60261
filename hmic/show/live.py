"""A design as it stands in its folder now, for a page that is looked at while it is written.

No thread and no socket of its own: who has one calls ``Watched.turn`` again and again, and asks for the
rest.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hmic.check.finding_places import places
from hmic.compile.compiling import Compiled, Failed, compile_in_steps, examine
from hmic.compile.kept_findings import SUFFIXES, folders_of
from hmic.compile.mending import mended, write
from hmic.diagnostics import DesignError, Finding, held_against, sorted_findings
from hmic.model.builtin import CLOCK
from hmic.model.channels import signals_of
from hmic.model.design import Design, SignalDefinition, sources_of
from hmic.model.expressions import Doubt, Value, ValueKind
from hmic.model.samples import sample_values, set_value
from hmic.model.touch_progress import TouchState
from hmic.show.screens import raw_values
from hmic.show.share import facts

MOST_FILES = 2000
"""Files of a folder that are watched: one named by mistake has more."""


@dataclass(frozen=True)
class Sight:
    """What there is to see. ``shown`` is the last design without an error in what is painted, or one with
    places left empty until there was one, ``drawn`` how many it has been; it is ``behind`` while the folder
    holds such an error. ``findings`` are of what stands there now, which has an error if ``failed``.
    ``checked`` once the checks have been through it."""

    version: int
    shown: Compiled | None
    findings: tuple[Finding, ...]
    failed: bool
    behind: bool
    checked: bool
    drawn: int = 0


class Watched:
    """A design's folder. For one thread at a time; what it gives stays as it is."""

    def __init__(self, folder: Path, language: str | None = None) -> None:
        self._folder, self._language = folder, language
        self._stamp: object = None
        self._folders = [folder]
        self._steps: Iterator[Compiled | Failed] = iter(())
        self._taken = 0
        """Steps that have been gone since the last change: arranging, then the checks."""
        self._good = False
        self.sight = Sight(0, None, (), failed=True, behind=True, checked=False)

    def turn(self) -> bool:
        """Takes one step: looks for a change, arranges, checks. Whether there is something new to see."""
        if _stamp(self._folders) != self._stamp:
            self._folders, self._taken = _folders(self._folder), 0
            self._stamp = _stamp(self._folders)
            self._steps = compile_in_steps(self._folder, self._language)
        try:
            step = next(self._steps, None)
        except DesignError as raised:
            step = Failed(tuple(raised.findings), {})
        version = self.sight.version + 1
        if step is not None:
            self._taken += 1
            self.sight = self._seen(step, version)
        elif not self.sight.checked:
            self.sight = replace(self.sight, checked=True, version=version)
        else:
            return False
        return True

    def _seen(self, step: Compiled | Failed, version: int) -> Sight:
        compiled = step.with_gaps if isinstance(step, Failed) else step
        # What the checks alone find an error in can be shown as it is.
        whole = not isinstance(step, Failed) or step.compiled is not None
        shown, behind = self.sight.shown, True
        if compiled is not None and (whole or not self._good):
            shown, behind, self._good = compiled, not whole, whole
        failed = isinstance(step, Failed)
        # The checks look at what was arranged, and arrange nothing.
        before = self.sight.shown
        fresh = shown is not None and (before is None or shown.arranged is not before.arranged)
        drawn = self.sight.drawn + fresh
        return Sight(version, shown, step.findings, failed, behind, checked=self._taken > 1, drawn=drawn)

    def mend(self, version: int, number: int) -> str:
        """Applies the remedy of a finding of what is to see, by its place in the list that a page has of
        that ``version``, to the design's files. Says what was done; raises ``Unmended`` with why not."""
        findings = sorted_findings(self.sight.findings)
        if version != self.sight.version or _stamp(self._folders) != self._stamp:
            raise Unmended("the design was saved since; look again")
        if not 0 <= number < len(findings) or findings[number].mend is None:
            raise Unmended("this has no remedy that can be applied")
        finding = findings[number]
        try:
            design, _, found = examine(self._folder, self._language)
        except DesignError as raised:
            raise Unmended(raised.findings[0].message) from None

        def examined(texts: Mapping[str, str]) -> Sequence[Finding]:
            return examine(self._folder, self._language, texts)[2]

        sources = {} if design is None else design.sources
        done = mended(found, sources, examined, lambda item, _: item == finding)
        if not done.gone:
            raise Unmended("its remedy would bring something else, or leave it: mend it by hand")
        try:
            write(self._folder, done.texts)
        except OSError as failed:
            raise Unmended(f"cannot write: {failed.strerror or 'something is in the way'}") from None
        return f"{' and '.join(sorted(done.texts))}: {finding.remedy}"


class Unmended(Exception):
    """Nothing was changed, for a reason that a person is told."""


def _folders(folder: Path) -> list[Path]:
    """A design's own folder and those of its shared parts, as far as they can be told."""
    try:
        return folders_of(folder)
    except (OSError, DesignError):
        return [folder]


def _stamp(folders: Sequence[Path]) -> object:
    """What tells that a design has changed: names, times and sizes of the files that it can have."""
    found: list[tuple[str, int, int]] = []
    try:
        for path in sorted(path for folder in folders for path in folder.rglob("*")):
            if len(found) == MOST_FILES:
                break
            if path.suffix.lower() in SUFFIXES:
                facts = path.stat()
                found.append((str(path), facts.st_mtime_ns, facts.st_size))
    except OSError as gone:
        # Between two looks a file can go away; the next look finds it gone.
        return (str(gone), len(found))
    return tuple(found)


def state(sight: Sight) -> dict[str, Any]:
    """All but the pack that a page shows of it, as JSON."""
    shown = sight.shown
    told: dict[str, Any] = {
        "version": sight.version,
        "failed": sight.failed,
        "behind": sight.behind,
        "checked": sight.checked,
        "drawn": sight.drawn,
        "findings": [_told(item, shown) for item in sorted_findings(sight.findings)],
    }
    if shown is not None:
        samples = sample_values(shown.design)
        told["name"] = shown.design.name
        told["facts"] = facts(shown)
        told["unjudged"] = [{"question": each.question, "where": each.where} for each in shown.unjudged]
        told["signals"] = {
            name: _signal(shown.design.signals[name], samples.get(name)) for name in sorted(_read(shown))
        }
        told["reads"] = [sorted(_of_screen(shown, number)) for number in range(len(shown.arranged.screens))]
    return told


def _told(item: Finding, shown: Compiled | None) -> dict[str, object]:
    screens = () if shown is None else shown.arranged.screens
    boxes = [[number, *box] for number, screen in enumerate(screens) for _, box in places([item], screen)]
    return {
        "level": item.severity.value,
        "code": item.code,
        "message": item.message,
        "place": f"{item.span.file}:{item.span.line}" if item.span else "",
        "measured": held_against(item) or "",
        "remedy": item.remedy or "",
        "mends": item.mend is not None,
        "source": item.source or "",
        "boxes": boxes,
    }


def _of_screen(shown: Compiled, number: int) -> frozenset[str]:
    """The declared signals from outside that a screen's values come from."""
    arranged, design = shown.arranged, shown.design
    channels = [arranged.channels[at] for at in arranged.drawing.screens[number].channels]
    names = frozenset().union(*(signals_of(channel) for channel in channels))
    return sources_of(names, design) & design.signals.keys()


def _read(shown: Compiled) -> frozenset[str]:
    return frozenset().union(*(_of_screen(shown, number) for number in range(len(shown.arranged.screens))))


def _signal(definition: SignalDefinition, sample: Value | None) -> dict[str, object]:
    """How a page lets a signal be set."""
    now = sample[0] if isinstance(sample, tuple) else sample
    told: dict[str, object] = {
        "kind": definition.kind.value,
        "unit": definition.unit.spelling if definition.unit is not None else "",
        "count": definition.count or 0,
        "now": None if isinstance(now, Doubt) else now,
        "words": list(definition.words.values()),
    }
    if definition.kind is ValueKind.NUMBER:
        bounded = math.isfinite(definition.low) and math.isfinite(definition.high)
        told["range"] = [definition.low, definition.high] if bounded else None
        told["step"] = definition.resolution or 0
    return told


def values(design: Design, settings: Mapping[str, str]) -> dict[str, Value]:
    """Sample values with some set, as ``--set`` takes them; what is no signal any more is left out. Raises
    ``DesignError`` for a value that is none."""
    found = sample_values(design)
    for name, text in settings.items():
        if name in design.signals or name == CLOCK:
            found.update([set_value(design, f"{name}={text}")])
    return found


def raw(shown: Compiled, settings: Mapping[str, str], touch: str) -> bytes:
    """The raw value of every channel, u16 each, little endian. Raises ``DesignError`` as ``values`` does."""
    known = touch if touch in set(TouchState) else TouchState.IDLE
    numbers = raw_values(shown, values(shown.design, settings), known)
    return b"".join(number.to_bytes(2, "little") for number in numbers)


def as_json(told: object) -> str:
    """JSON as pages get it."""
    return json.dumps(told, separators=(",", ":"), allow_nan=False)
