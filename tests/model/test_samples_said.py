"""What a signal's ``sample`` says is what pictures show, and one that it cannot be is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.cli.pages import BASE
from hmic.model.design import Design
from hmic.model.expressions import Doubt
from hmic.model.load import load
from hmic.model.samples import sample_values
from hmic.model.values import Value

NUMBER = "unit: V, range: [8, 16]"
WORDS = "words: {0: Cold, 1: Warm}"


def loaded(folder: Path, declared: str) -> tuple[Value | None, list[str]]:
    shutil.copytree(BASE, folder)
    text = (folder / "signals.yaml").read_text(encoding="utf-8")
    line = f"  net.one: {{{declared}, from: pipe, stale: 5 s}}\n"
    (folder / "signals.yaml").write_text(text.replace("signals:\n", f"signals:\n{line}", 1), encoding="utf-8")
    design, findings = load(folder)
    assert design is not None
    codes = [each.code for each in findings if each.code != "M247"]
    return sample_values(design).get("net.one"), codes


@pytest.mark.parametrize(
    ("declared", "shown"),
    [
        (f"{NUMBER}, sample: 13.5", 13.5),
        (f"{NUMBER}, sample: 8", 8.0),
        (NUMBER, pytest.approx(8 + 0.62 * 8)),
        ("flag: true, sample: true", True),
        ("flag: true", False),
        (f"{WORDS}, sample: Cold", "Cold"),
        (WORDS, "Warm"),
        ('text: true, sample: "Stop"', "Stop"),
        (f"{NUMBER}, sample: unseen", Doubt.UNSEEN),
        ("flag: true, sample: stale", Doubt.STALE),
        ("words: {0: out, 1: in}, sample: out", "out"),
        ('text: true, sample: "out"', "out"),
    ],
)
def test_pictures_show_the_sample(tmp_path: Path, declared: str, shown: Value) -> None:
    assert loaded(tmp_path / "a", declared) == (shown, [])


def test_the_elements_of_a_list_lie_around_it(tmp_path: Path) -> None:
    values, codes = loaded(tmp_path / "a", f"{NUMBER}, count: 30, sample: 12")
    assert isinstance(values, tuple) and codes == [] and len(set(values)) > 20
    assert abs(sum(map(float, values)) / 30 - 12) < 0.1  # type: ignore[arg-type]
    assert loaded(tmp_path / "b", f"{WORDS}, count: 2, sample: Cold")[0] == ("Cold", "Cold")


def test_a_list_says_its_elements_and_begins_anew_where_it_ends(tmp_path: Path) -> None:
    shown, codes = loaded(tmp_path / "a", f"{NUMBER}, count: 5, sample: [12, 13.5, stale]")
    assert (shown, codes) == ((12.0, 13.5, Doubt.STALE, 12.0, 13.5), [])
    assert loaded(tmp_path / "b", 'text: true, count: 3, sample: ["out", "in"]')[0] == ("out", "in", "out")


def moments(folder: Path, samples: str) -> tuple[Design, list[tuple[str, str | None]]]:
    shutil.copytree(BASE, folder)
    file = folder / "signals.yaml"
    file.write_text(file.read_text(encoding="utf-8") + f"samples:\n  {samples}\n", encoding="utf-8")
    design, findings = load(folder)
    assert design is not None
    return design, [(each.code, each.remedy) for each in findings if each.code != "M247"]


def test_a_screen_is_pictured_in_its_own_moment(tmp_path: Path) -> None:
    design, findings = moments(tmp_path / "a", "drive: {pack.voltage: 351.5, pack.cells: [3.5, unseen]}")
    usual, there = sample_values(design), sample_values(design, "drive")
    assert findings == [] and usual == sample_values(design, "charging")
    assert there["pack.voltage"] == 351.5 != usual["pack.voltage"]
    cells = there["pack.cells"]
    assert isinstance(cells, tuple) and cells[:3] == (3.5, Doubt.UNSEEN, 3.5)
    assert {name for name in usual if usual[name] != there[name]} == {"pack.voltage", "pack.cells"}


def test_a_moment_of_no_screen_is_noted(tmp_path: Path) -> None:
    shutil.copytree(BASE, tmp_path / "a")
    file = tmp_path / "a" / "signals.yaml"
    file.write_text(file.read_text(encoding="utf-8") + "samples:\n  drve: {pack.voltage: 350}\n", "utf-8")
    (said,) = [each for each in load(tmp_path / "a")[1] if "drve" in each.message]
    assert (said.code, said.remedy) == ("M247", "did you mean 'drive'?")


@pytest.mark.parametrize(
    ("samples", "code", "remedy"),
    [
        ("drive: {pack.voltag: 350}", "M292", "did you mean 'pack.voltage'?"),
        ("drive: {pack.voltage: 3500}", "M293", "write one from 200 to 420"),
        ("drive: {pack.voltage: [350, 351]}", "M293", "write a sample for one value at most"),
    ],
)
def test_a_moment_that_cannot_be_is_told(tmp_path: Path, samples: str, code: str, remedy: str) -> None:
    assert moments(tmp_path / "a", samples)[1] == [(code, remedy)]


@pytest.mark.parametrize(
    "declared",
    [
        f"{NUMBER}, count: 2, sample: [12, 13, 14]",
        f"{NUMBER}, count: 2, sample: [12, 16.1]",
        f"{NUMBER}, sample: 16.1",
        f"{NUMBER}, sample: true",
        f"{NUMBER}, sample: Cold",
        "flag: true, sample: 1",
        f"{WORDS}, sample: Hot",
        "text: true, sample: 3",
    ],
)
def test_what_a_signal_cannot_be_is_told(tmp_path: Path, declared: str) -> None:
    assert loaded(tmp_path / "a", declared)[1] == ["M293"]
