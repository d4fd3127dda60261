"""Two versions of a design, in all measures."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from good_design import FILES, spoiled

from hmic.cli.main import main


def written(folder: Path, files: dict[str, str]) -> Path:
    folder.mkdir()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


WORSE = spoiled(
    ("road.layout", "text 90 arcmin", "text 50 arcmin"),
    ("road.layout", 'clock as "00:00", text 20 arcmin', 'clock as "00:00", text 14 arcmin'),
    ("themes.yaml", 'quiet: "#8c7b70"', 'quiet: "#80726a"'),
    ("themes.yaml", "luminance: 36", "luminance: 50"),
    ("design.yaml", "baud: 115200", "baud: 57600"),
)
CHANGED = {
    "warnings found": "worse",
    "smallest reading": "worse",
    "least contrast of text at night": "worse",
    "mean of a screen at night": "worse",
    "veil on the road at night": "worse",
    "worst delay of a value": "worse",
    "load of the line": "worse",
}
ALIKE = ("errors found", "smallest touch target", "letters to read", "colours while nothing is wrong")


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("versions")
    return written(folder / "good", FILES), written(folder / "worse", WORSE)


def test_what_became_worse_and_what_did_not(
    both: tuple[Path, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    good, worse = map(str, both)
    assert main(["check", worse, "--against", good, "--json", "--strict"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert {each["code"] for each in told["findings"]} >= {"C402"}
    rows = {row["name"]: row for row in told["measures"]}
    assert len(rows) == len(told["measures"]) > 20
    for name, verdict in CHANGED.items():
        assert rows[name]["verdict"] == verdict, rows[name]
    assert {rows[name]["verdict"] for name in ALIKE} == {"same"}
    assert rows["smallest reading"]["other"] > rows["smallest reading"]["value"]
    # The other way round each is the other way.
    assert main(["check", good, "--against", worse, "--strict"]) == 0
    text = capsys.readouterr().out
    for name in CHANGED:
        (line,) = [line for line in text.splitlines() if line.startswith(f"{name}  ")]
        assert " better" in line and line == line.rstrip()


def test_what_cannot_be_measured_is_told(
    both: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = str(both[0])
    nothing, broken = (
        tmp_path / "nothing",
        written(tmp_path / "broken", {**FILES, "themes.yaml": "themes: 3\n"}),
    )
    for other in (nothing, broken, both[0] / "design.yaml"):
        assert main(["check", good, "--against", str(other)]) == 1
        said = capsys.readouterr().out
        assert "error U969" in said and f"hmic check {other}" in said and "least contrast" not in said
    assert main(["check", str(broken), "--against", good, "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["measures"] == [] and told["findings"][-1]["code"] == "U969"
