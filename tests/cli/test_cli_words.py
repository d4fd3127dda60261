"""`hmic words`: a table of texts to fill in, and never a lost word of a person."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from hmic.cli.main import main
from hmic.diagnostics import Finding
from hmic.model.load import load

ROOT = Path(__file__).parents[2]


@pytest.fixture
def car(tmp_path: Path) -> Path:
    assert main(["new", str(tmp_path / "car")]) == 0
    return tmp_path / "car"


def words(folder: Path, language: str = "de") -> int:
    return main(["words", str(folder), "--language", language])


def lacking(folder: Path) -> list[Finding]:
    design, findings = load(folder, "de")
    assert design is not None
    return findings


def test_a_new_table_has_every_text_and_says_how_many_lack(
    car: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (missing,) = lacking(car)
    assert missing.code == "M273" and "`hmic words DESIGN --language de`" in (missing.remedy or "")
    capsys.readouterr()
    assert words(car) == 0
    table = car / "words" / "de.yaml"
    added = re.search(r"(\d+) texts added", capsys.readouterr().out)
    text = table.read_text(encoding="utf-8")
    assert added and int(added[1]) == text.count(': ""') > 10
    for line in ('"Switch the pump?": ""', '"Battery fault: stop and leave the vehicle": ""', '"On": ""'):
        assert text.count(line + "\n") == 1
    assert "# drive.layout" in text and "# battery.layout" in text
    (one,) = lacking(car)
    assert one.code == "M274" and one.message.startswith(f"{added[1]} texts have no translation")
    assert one.remedy == "fill in the lines of words/de.yaml that are empty"
    table.write_text(re.sub(r'"([^"]*)": ""', r'"\1": "\1"', text), encoding="utf-8")
    assert lacking(car) == []
    assert words(car) == 0 and "every text" in capsys.readouterr().out


@pytest.mark.parametrize("end", ["\n", "\r\n", ""])
def test_what_a_person_wrote_stays_to_the_letter(car: Path, end: str) -> None:
    lines = [
        "# Übersetzt von Jo",
        'Speed:   "Tempo"   # kurz',
        "'Drive': Fahrt",
        '"Battery": "Akku"',
        'Power: ""',
    ]
    own = (end or "\n").join(lines) + end
    (car / "words").mkdir()
    table = car / "words" / "de.yaml"
    table.write_bytes(own.encode())
    assert words(car) == 0
    once = table.read_bytes()
    assert once.startswith(own.encode()) and once.count(b"Power") == 1 and b'"Motor": ""' in once
    assert (b"\r\n" in once) == (end == "\r\n") and once.count(b"\n") == once.count(end.encode() or b"\n")
    assert words(car) == 0
    assert table.read_bytes() == once
    assert {finding.code for finding in lacking(car)} == {"M274", "M275"}


def test_few_texts_are_told_one_by_one(car: Path) -> None:
    assert words(car) == 0
    table = car / "words" / "de.yaml"
    text = re.sub(r'"([^"]*)": ""', r'"\1": "\1"', table.read_text())
    text = text.replace('"Motor": "Motor"', '"Motor": ""').replace('"Voltage": "Voltage"\n', "")
    table.write_text(text)
    found = {finding.message.split('"')[1]: finding.remedy or "" for finding in lacking(car)}
    assert set(found) == {"Motor", "Voltage"}
    number = text.split("\n").index('"Motor": ""') + 1
    assert found["Motor"] == f'fill in line {number} `"Motor": "..."` there'
    assert found["Voltage"] == 'add a line `"Voltage": "..."` there'


@pytest.mark.parametrize(
    ("table", "code"),
    [
        ("{Drive: Fahrt}\n", "M279"),
        ("Drive: Fahrt\n...\n", "M279"),
        ("  Drive: Fahrt\n", "M279"),
        ("Drive: [\n", "M226"),
        ("- Drive\n", "M2"),
        ("Drive: Fahrt\nDrive: Weg\n", "M2"),
    ],
)
def test_a_table_that_cannot_take_a_line_is_left_as_it_is(
    car: Path, capsys: pytest.CaptureFixture[str], table: str, code: str
) -> None:
    (car / "words").mkdir()
    (car / "words" / "de.yaml").write_text(table)
    assert words(car) == 1
    assert code in capsys.readouterr().err
    assert (car / "words" / "de.yaml").read_text() == table


def test_an_empty_table_is_filled(car: Path) -> None:
    (car / "words").mkdir()
    (car / "words" / "de.yaml").write_text("# nothing yet\n")
    assert words(car) == 0
    text = (car / "words" / "de.yaml").read_text()
    assert text.startswith("# nothing yet\n") and '"Motor": ""' in text


def test_nothing_is_written_outside_the_folder(
    car: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert words(car, "../x") == 2 and "U980" in capsys.readouterr().err
    (tmp_path / "out").mkdir()
    (car / "words").symlink_to(tmp_path / "out")
    assert words(car) == 1 and "M224" in capsys.readouterr().err
    assert list((tmp_path / "out").iterdir()) == []


def test_errors_of_the_design_are_told_beside_the_table(
    car: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    layout = car / "drive.layout"
    layout.write_text(layout.read_text().replace("reading", "raeding"))
    assert words(car) == 1
    captured = capsys.readouterr()
    assert "raeding" in captured.err and "run this again" in captured.out
    assert (car / "words" / "de.yaml").exists()
    (car / "design.yaml").write_text("")
    assert words(car, "fr") == 1 and not (car / "words" / "fr.yaml").exists()


def test_the_examples_have_whole_tables(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = Path(shutil.copytree(ROOT / "layouts" / "roost", tmp_path / "roost"))
    before = (folder / "words" / "de.yaml").read_bytes()
    assert words(folder) == 0
    assert (folder / "words" / "de.yaml").read_bytes() == before
    capsys.readouterr()
    assert main(["check", str(folder), "--language", "de", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == []
