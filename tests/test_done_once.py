"""What is dear, or must not differ, is done once: counted while a command or a run does its work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hmic.cli.main import main
from hmic.compile.compiling import compile_design
from hmic.display.flash import FileFlash
from hmic.language.spelling import written
from hmic.model import expressions, values
from hmic.model.expressions import Doubt
from hmic.model.load import load
from hmic.pack import planes
from hmic.pack.reader import read
from hmic.runtime import state
from hmic.runtime.decoding import Arrival, Reading
from hmic.runtime.state import SignalTable

LAYOUTS = Path(__file__).parents[1] / "layouts"
DUNLIN = LAYOUTS / "dunlin"


def counted(monkeypatch: pytest.MonkeyPatch, owner: object, name: str) -> list[tuple[Any, ...]]:
    """The arguments of each call of ``owner.name`` from here on."""
    calls: list[tuple[Any, ...]] = []
    real: Callable[..., Any] = getattr(owner, name)

    def count(*arguments: Any, **named: Any) -> Any:
        calls.append(arguments)
        return real(*arguments, **named)

    monkeypatch.setattr(owner, name, count)
    return calls


@pytest.mark.parametrize("name", ["dunlin", "roost"])
def test_no_expression_is_typed_twice(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    calls = counted(monkeypatch, expressions, "_typed")
    compile_design(LAYOUTS / name)
    whole: Counter[tuple[object, ...]] = Counter()
    for node, typing, depth in calls:
        if depth == 0:
            counters = tuple((each, value.low) for each, value in typing.scope.names.items())
            whole[written(node), counters, id(typing.scope.signals)] += 1
    assert len(whole) > 10
    assert [key for key, times in whole.items() if times > 1] == []


def test_a_pack_is_written_once_and_its_own_bytes_are_not_read_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    written_masks, read_masks = (
        counted(monkeypatch, planes, name) for name in ("encode_mask", "decode_mask")
    )
    assert main(["build", str(DUNLIN), "-o", str(tmp_path / "a.pack")]) == 0
    drawing = read((tmp_path / "a.pack").read_bytes())
    soft = sum(bool(picture.coverage) for picture in drawing.pictures)
    assert len(written_masks) == len(drawing.masks) + soft
    assert len(read_masks) == len(written_masks)


def test_a_pack_is_read_once_wherever_it_comes_from(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pack, other, store = tmp_path / "a.pack", tmp_path / "b.pack", tmp_path / "store"
    assert main(["build", str(LAYOUTS / "roost"), "-o", str(pack)]) == 0
    changed = tmp_path / "roost"
    changed.mkdir()
    for file in (LAYOUTS / "roost").iterdir():
        if file.is_file():
            (changed / file.name).write_bytes(file.read_bytes())
    themes = changed / "themes.yaml"
    themes.write_text(themes.read_text().replace("brightness: 100", "brightness: 90"))
    assert main(["build", str(changed), "-o", str(other)]) == 0
    masks = len(read(pack.read_bytes()).masks)
    # The display is gone as soon as it is there, and lets go of its store.
    opened: list[FileFlash] = []

    def flash(path: Path) -> FileFlash:
        opened.append(FileFlash(path))
        return opened[-1]

    monkeypatch.setattr("hmic.display.serve.FileFlash", flash)
    monkeypatch.setattr("hmic.display.serve.Server.run", lambda self: [each.close() for each in opened])
    calls = counted(monkeypatch, planes, "decode_mask")

    def times(*words: str) -> float:
        calls.clear()
        opened.clear()
        assert main(["display", *words]) == 0
        return len(calls) / masks

    assert times(str(pack)) == 1
    assert times(str(pack), "--store", str(store)) == 1
    assert times("--store", str(store)) == 1
    # The one in use, and the one that takes its place.
    assert times(str(other), "--store", str(store)) == 2
    calls.clear()
    assert main(["inspect", str(pack)]) == 0
    assert len(calls) == masks


SIGNALS = """signals:
  a.b: {from: pipe, unit: V, range: [0, 400], stale: 1 s}
  a.twice: {is: a.b * 2, range: [0, 500]}
"""


def test_the_range_of_a_value_is_held_against_it_once(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As it comes, or as it is worked out; a formula holds what it reads against the declaration by itself,
    whoever gives it."""
    for file in (LAYOUTS / "roost").iterdir():
        if file.is_file():
            (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "signals.yaml").write_text(SIGNALS)
    checked: list[object] = []
    real = values.number_check

    def counting(low: float, high: float) -> Callable[[object], values.Item]:
        check = real(low, high)

        def count(value: object) -> values.Item:
            checked.append(value)
            return check(value)

        return count

    monkeypatch.setattr(state, "number_check", counting)
    monkeypatch.setattr(values, "number_check", counting)
    design, _ = load(tmp_path)
    assert design is not None
    table = SignalTable(design.signals)
    table.feed(Arrival(0.0, (Reading("a.b", None, 200.0),)))
    assert table.lookup("a.b") == 200.0 and checked == [200.0]
    # By the formula that reads it, and the result.
    assert table.lookup("a.twice") == 400.0 and checked == [200.0, 200.0, 400.0]
    checked.clear()
    derived = design.signals["a.twice"].derived
    assert derived is not None
    assert values.lookup_over({"a.b": 200.0}, {"a.twice": derived})("a.twice") == 400.0
    assert checked == [200.0, 400.0]
    table.feed(Arrival(0.0, (Reading("a.b", None, 300.0),)))
    assert table.lookup("a.twice") is Doubt.OUT_OF_RANGE
