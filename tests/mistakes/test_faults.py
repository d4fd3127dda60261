"""Findings that need a device, a fault or another system: each made to happen. The pages of
`hmic explain` name these tests."""

from __future__ import annotations

import builtins
import math
import os
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from hmic.cli.main import main
from hmic.cli.pages import BASE
from hmic.cli.push_command import misfit
from hmic.compile.compiling import Compiled, compile_design
from hmic.diagnostics import DesignError, Finding
from hmic.link import push as pushing
from hmic.pack import writer
from hmic.wire.events import Connected, Mismatched, Outcome, Transferred


class Line:
    """A line on which nothing ever comes."""

    def read(self) -> bytes:
        return b""

    def write(self, data: bytes) -> int:
        return len(data)

    def descriptor(self) -> int | None:
        return None

    def close(self) -> None:
        pass


def seconds() -> Iterator[float]:
    now = 0.0
    while True:
        now += 1.0
        yield now


def push(monkeypatch: pytest.MonkeyPatch, events: Sequence[object]) -> str:
    """Pushes to a session that gives ``events`` once; gives the code of the finding."""
    given = [list(events)]
    session = SimpleNamespace(
        transfer=lambda pack, dry: None,
        receive=lambda data, now: given.pop() if given else [],
        outgoing=lambda now: b"",
        next_deadline=lambda: None,
    )
    monkeypatch.setattr(pushing, "HostSession", lambda *arguments: session)
    clock = seconds()
    with pytest.raises(DesignError) as raised:
        pushing.push(Line, b"pack", 115200, lambda facts: None, clock=lambda: next(clock))
    (finding,) = raised.value.findings
    assert finding.remedy
    return finding.code


def facts(width: int = 1024) -> Any:
    return SimpleNamespace(width=width, height=600, depth=24)


def test_no_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    assert push(monkeypatch, []) == "W650"


def test_a_display_that_stops(monkeypatch: pytest.MonkeyPatch) -> None:
    assert push(monkeypatch, [Connected(facts())]) == "W651"


@pytest.mark.parametrize("outcome", [Outcome.REFUSED, Outcome.DIFFERS, Outcome.NOT_ACTIVATED])
def test_a_display_that_refuses(monkeypatch: pytest.MonkeyPatch, outcome: Outcome) -> None:
    assert push(monkeypatch, [Transferred(outcome)]) == "W652"


def test_another_version_at_a_push(monkeypatch: pytest.MonkeyPatch) -> None:
    assert push(monkeypatch, [Mismatched(99)]) == "W653"


def base() -> Compiled:
    result = compile_design(BASE)
    assert isinstance(result, Compiled)
    return result


def test_another_panel() -> None:
    drawing = base().arranged.drawing
    assert misfit(drawing, facts()) is None
    finding = misfit(drawing, facts(800))
    assert isinstance(finding, Finding)
    assert finding.code == "W654"


def test_no_pseudo_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    from hmic.link.pseudo_terminal import PseudoTerminal

    def refused() -> tuple[int, int]:
        raise OSError("none left")

    monkeypatch.setattr(os, "openpty", refused)
    with pytest.raises(DesignError) as raised:
        PseudoTerminal()
    assert [item.code for item in raised.value.findings] == ["W644"]


def test_a_pack_for_another_panel() -> None:
    from hmic.display.display import Glass
    from hmic.display.serve import open_display

    pack = writer.write(base().arranged.drawing)
    with pytest.raises(DesignError) as raised:
        open_display(pack, None, Glass(320, 240, 16))
    assert [item.code for item in raised.value.findings] == ["W663"]


def test_a_pack_that_is_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(writer, "LARGEST_PACK", 100)
    with pytest.raises(DesignError) as raised:
        writer.write(base().arranged.drawing)
    assert [item.code for item in raised.value.findings] == ["P506"]


def test_another_version_at_a_run() -> None:
    from hmic.compile.bind import bind
    from hmic.runtime.runtime import Problem, Runtime
    from hmic.runtime.vehicle_time import VehicleTime

    runtime = Runtime(bind(base()), 1, VehicleTime(1.0))
    runtime._refuse_version(99)
    (event,) = runtime._events
    assert isinstance(event, Problem)
    assert event.finding.code == "R723"


def test_the_editor_without_its_library(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    importing = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name.split(".")[0] in ("pygls", "lsprotocol"):
            raise ImportError(name)
        return importing(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    monkeypatch.delitem(__import__("sys").modules, "hmic.editor.server", raising=False)
    assert main(["editor"]) == 1
    assert "error U961 " in capsys.readouterr().err


ON_A_LEVEL = """\
screen drive "Drive"
    plan
        here
    in here freely
        level pack.charge from 0 % to 100 %, at 60 mm across 40 mm down, sized 100 mm by 60 mm
        label "Left", text 20 arcmin, at 60 mm across 40 mm down
"""


def in_the_sun(colour: str, veil: float, white: float = 600, contrast: float = 500) -> float:
    """The luminance of a colour by the sRGB transfer, with the light that the glass sends back."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    black = white / contrast
    return black + (white - black) * (0.2126 * red + 0.7152 * green + 0.0722 * blue) + veil


@pytest.mark.parametrize(("doubt", "lost"), [("#a18aac", False), ("#f0ece0", True)])
def test_text_on_a_hatch(doubt: str, lost: bool, tmp_path: Path) -> None:
    """Letters on a level that is hatched in doubt, in the colour of the hatch or in another."""
    van = tmp_path / "van"
    shutil.copytree(BASE, van)
    themes = (van / "themes.yaml").read_text(encoding="utf-8").replace("#8fd3f4", "#14508c")
    assert 'ink: "#f8f3e6"' in themes and "#a18aac" in themes
    (van / "themes.yaml").write_text(themes.replace("#a18aac", doubt), encoding="utf-8")
    (van / "drive.layout").write_text(ON_A_LEVEL, encoding="utf-8")
    found = [item for item in compile_design(van).findings if item.code == "C423"]
    assert len(found) == lost
    for item in found:
        veil = 45000 * 0.01 / math.pi
        ratio = in_the_sun("#f8f3e6", veil) / in_the_sun(doubt, veil)
        assert item.measured == pytest.approx(ratio) and ratio < 1.5 == item.limit
        assert item.span is not None and item.span.line == 6


def test_a_counter_that_stands_still() -> None:
    from hmic.diagnostics import Span
    from hmic.model.design import MessageCheck
    from hmic.runtime.guarding import Guard

    guard = Guard(MessageCheck("Pack", "Counter", None, "sum", False, Span("signals.yaml", 1, 1, 1, 2)), None)
    passed = [guard.passes(272, bytes(8), 5) for _ in range(5)]
    assert passed == [True, False, False, False, False]
    assert [item.code for item in guard.take_findings()] == ["R714"]
    # A frame that is too short for its counter is no sign of life, and breaks no stillness.
    passed = [guard.passes(272, b"", counter) for counter in (None, 5, None, 5)]
    assert passed == [False] * 4
    assert guard.passes(272, bytes(8), 6)


def test_a_pipe_that_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from hmic.runtime import pipe
    from hmic.runtime.vehicle_time import VehicleTime

    feed = tmp_path / "feed"
    feed.write_text("")
    source = pipe.Pipe(str(feed), base().design.signals, VehicleTime(1.0))

    def refused(descriptor: int, count: int) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(pipe.os, "read", refused)
    source.due(0.0)
    assert [item.code for item in source.take_findings()] == ["R742"]
