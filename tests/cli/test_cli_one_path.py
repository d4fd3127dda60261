"""`check` and `build` agree on every design: what stops the one stops the other, by the same codes."""

from __future__ import annotations

import json
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from hmic.cli.main import main
from tests.tools.designs import LAYOUTS

Change = Callable[[random.Random, dict[str, str]], None]

SETTINGS = "design.yaml"
PANELS = ((128, 64), (240, 240), (320, 240), (480, 272), (800, 480), (1280, 480), (2400, 900), (4096, 4096))


def resize(chance: random.Random, texts: dict[str, str]) -> None:
    """Another panel, seen from another distance, with another memory behind it."""
    width, height = chance.choice(PANELS)
    pitch = chance.choice((0.08, 0.153, 0.198, 0.25))
    for key, value in (
        ("pixels", f"[{width}, {height}]"),
        ("size", f"[{width * pitch:.2f} mm, {height * pitch * chance.choice((1, 1.02)):.2f} mm]"),
        ("eye distance", f"{chance.choice((300, 500, 700, 1100))} mm"),
        ("flash", chance.choice(("64 kB", "512 kB", "64 MB"))),
        ("memory", chance.choice(("8 kB", "64 kB", "1 MB"))),
        ("baud", chance.choice(("9600", "115200"))),
    ):
        texts[SETTINGS] = re.sub(rf"(?m)^(  {key}:).*$", rf"\1 {value}", texts[SETTINGS])


def lose_a_line(chance: random.Random, texts: dict[str, str]) -> None:
    name = chance.choice(sorted(texts))
    lines = texts[name].split("\n")
    del lines[chance.randrange(len(lines))]
    texts[name] = "\n".join(lines)


def double_a_line(chance: random.Random, texts: dict[str, str]) -> None:
    name = chance.choice(sorted(texts))
    lines = texts[name].split("\n")
    at = chance.randrange(len(lines))
    lines.insert(at, lines[at])
    texts[name] = "\n".join(lines)


def another_number(chance: random.Random, texts: dict[str, str]) -> None:
    name = chance.choice(sorted(texts))
    numbers = list(re.finditer(r"\d+(?:\.\d+)?", texts[name]))
    if numbers:
        found = chance.choice(numbers)
        other = chance.choice(("0", "1", "7", "60", "999", "100000", "0.001", "4294967296"))
        texts[name] = texts[name][: found.start()] + other + texts[name][found.end() :]


def another_word(chance: random.Random, texts: dict[str, str]) -> None:
    """A word of a file in the place of another."""
    name = chance.choice(sorted(texts))
    words = list(re.finditer(r"[\w.]+", texts[name]))
    place, other = chance.choice(words), chance.choice(words)
    texts[name] = texts[name][: place.start()] + other.group() + texts[name][place.end() :]


CHANGES: tuple[Change, ...] = (resize, resize, lose_a_line, double_a_line, another_number, another_word)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new") / "car"
    assert main(["new", str(folder)]) == 0
    return folder


def spoilt(origin: Path, folder: Path, chance: random.Random, changes: list[Change]) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(origin, folder)
    names = [path for path in folder.rglob("*") if path.suffix in (".yaml", ".layout")]
    texts = {str(path.relative_to(folder)): path.read_text() for path in names}
    for change in changes:
        change(chance, texts)
    for name, text in texts.items():
        (folder / name).write_text(text)


def agreement(folder: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The codes of the errors that both commands tell of."""
    capsys.readouterr()
    checked = main(["check", str(folder), "--json"])
    told = json.loads(capsys.readouterr().out)
    pack = folder / "out.pack"
    built = main(["build", str(folder), "-o", str(pack)])
    shown = re.findall(r"^error (\w+)  ", capsys.readouterr().err, re.MULTILINE)
    errors = sorted(item["code"] for item in told if item["severity"] == "error")
    assert checked == built == bool(errors), (checked, built, errors)
    assert sorted(shown) == errors
    assert pack.exists() == (not errors)
    assert "P505" not in errors, [item for item in told if item["code"] == "P505"]
    return errors


@pytest.mark.parametrize("seed", range(40))
def test_of_a_mangled_design(
    starter: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    chance = random.Random(seed)
    origin = chance.choice((starter, LAYOUTS / "roost"))
    changes = [resize] if seed % 2 else [chance.choice(CHANGES) for _ in range(chance.randint(1, 3))]
    spoilt(origin, tmp_path / "car", chance, changes)
    agreement(tmp_path / "car", capsys)


def test_of_a_panel_that_a_dial_once_left(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "roost"
    shutil.copytree(LAYOUTS / "roost", folder)
    text = (folder / SETTINGS).read_text()
    text = text.replace("[320, 240]", "[480, 272]").replace("[48.96 mm, 36.72 mm]", "[95.04 mm, 53.86 mm]")
    (folder / SETTINGS).write_text(text)
    assert agreement(folder, capsys) == []


def test_of_a_drawing_that_no_pack_can_hold(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the writer refuses, `check` tells."""
    from hmic.pack import validity

    monkeypatch.setattr(validity, "names_alike", lambda drawing: iter(["two screens are one"]))
    folder = tmp_path / "roost"
    shutil.copytree(LAYOUTS / "roost", folder)
    assert main(["check", str(folder)]) == 1
    assert "error P505" in capsys.readouterr().out
    assert main(["build", str(folder), "-o", str(tmp_path / "out.pack")]) == 1
    assert "error P505" in capsys.readouterr().err


def test_what_a_changed_hmic_finds_is_not_remembered_for_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A copy of what the test before refused, found sound; after a check of it that test holds too."""
    folder = tmp_path / "roost"
    shutil.copytree(LAYOUTS / "roost", folder)
    assert agreement(folder, capsys) == []
