"""What a signal's ``sample`` says is what pictures show, and one that it cannot be is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.cli.pages import BASE
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


@pytest.mark.parametrize(
    "declared",
    [
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
