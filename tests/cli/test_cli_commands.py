"""The commands as a person runs them: output, exit codes, files; and what they say of bad input."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from hmic.cli.codes import USAGE
from hmic.cli.main import COMMANDS, main

ROOT = Path(__file__).parents[2]
DUNLIN = ROOT / "layouts" / "dunlin"
THEMES = ("day", "night")
SCREENS = ("drive", "charging", "cells", "coolant", "motor", "chart", "music", "parked")


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new") / "mycar"
    assert main(["new", str(folder)]) == 0
    return folder


@pytest.fixture
def own(starter: Path, tmp_path: Path) -> Path:
    """A copy of the small design, to spoil."""
    return Path(shutil.copytree(starter, tmp_path / "own"))


def changed(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text()
    assert old in text
    (folder / name).write_text(text.replace(old, new))


def found(folder: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, list[dict[str, object]]]:
    capsys.readouterr()
    code = main(["check", str(folder), "--json"])
    out = capsys.readouterr().out
    return code, json.loads(out)


def test_dunlin_is_clean(capsys: pytest.CaptureFixture[str]) -> None:
    assert found(DUNLIN, capsys) == (0, [])


def test_the_small_design_is_clean(starter: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert found(starter, capsys) == (0, [])


def test_new_overwrites_nothing(starter: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (starter / "drive.layout").read_bytes()
    assert main(["new", str(starter)]) == 1
    assert "U940" in capsys.readouterr().err
    assert (starter / "drive.layout").read_bytes() == before


def test_preview_paints_every_screen_and_theme(tmp_path: Path) -> None:
    assert main(["preview", str(DUNLIN), "--out", str(tmp_path), "--sheet"]) == 0
    for screen in SCREENS:
        for theme in THEMES:
            with Image.open(tmp_path / f"{screen}-{theme}.png") as picture:
                assert picture.size == (1024, 600)
                assert len(picture.getcolors(1 << 20) or ()) > 8
    with Image.open(tmp_path / "contact-sheet.png") as sheet:
        assert sheet.width > 1024


@pytest.mark.parametrize("name", ["night", "the_hours_between_the_last_light_and_the_first_one_of_the_day"])
def test_titles_of_the_contact_sheet_stay_above_their_frames(tmp_path: Path, name: str) -> None:
    """On a small panel, and where a screen or a theme has a long name."""
    folder = Path(shutil.copytree(ROOT / "layouts" / "roost", tmp_path / "roost"))
    themes = (folder / "themes.yaml").read_text(encoding="utf-8")
    changed = re.sub(r"\bnight:", f"{name}:", themes)
    (folder / "themes.yaml").write_text(changed, encoding="utf-8")
    assert main(["preview", str(folder), "--out", str(tmp_path / "out"), "--sheet"]) == 0
    with Image.open(tmp_path / "out" / "contact-sheet.png") as sheet:
        ground = sheet.getpixel((0, 0))
        across = (sheet.width - 12) // 6
        assert across - 12 >= 200
        for column in range(6):
            left = 12 + column * across
            gap = sheet.crop((left - 12, 0, left, sheet.height))
            assert gap.getcolors() == [(12 * sheet.height, ground)], column
            head = sheet.crop((left, 0, left + across - 12, 24))
            assert len(head.getcolors(1 << 16) or ()) > 1, column
        assert sheet.crop((sheet.width - 12, 0, sheet.width, sheet.height)).getcolors() == [
            (12 * sheet.height, ground)
        ]


def test_preview_shows_what_is_set(starter: Path, tmp_path: Path) -> None:
    def painted(name: str, *settings: str) -> bytes:
        out = tmp_path / name
        words = [word for setting in settings for word in ("--set", setting)]
        arguments = ["--out", str(out), "--screen", "drive", "--theme", "day", *words]
        assert main(["preview", str(starter), *arguments]) == 0
        assert [path.name for path in out.iterdir()] == ["drive-day.png"]
        with Image.open(out / "drive-day.png") as picture:
            return picture.tobytes()

    slow = painted("slow", "vehicle.speed=10")
    assert painted("same", "vehicle.speed=10 km/h") == slow
    assert painted("fast", "vehicle.speed=100 km/h") != slow
    assert painted("true", "pack.fault=True") == painted("on", "pack.fault=on") != slow
    stale = painted("stale", "vehicle.speed=stale")
    assert stale not in (
        slow,
        painted("unseen", "vehicle.speed=unseen"),
        painted("out", "vehicle.speed=9999"),
    )


@pytest.mark.parametrize(
    ("setting", "code"),
    [
        ("vehicle.speed", "M290"),
        ("vehicle.sped=3", "M292"),
        ("vehicle.speed=3 V", "M293"),
        ("pack.fault=1", "M293"),
        ("clock.time=25", "M291"),
    ],
)
def test_preview_refuses_bad_settings(
    starter: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], setting: str, code: str
) -> None:
    assert main(["preview", str(starter), "--out", str(tmp_path), "--set", setting]) == 1
    error = capsys.readouterr().err
    assert code in error and "\nremedy  " in error


def test_two_builds_are_the_same_bytes(tmp_path: Path) -> None:
    """In processes of their own, with other hash seeds, time zones and working folders."""
    packs = []
    for seed, zone in (("1", "UTC"), ("77", "Asia/Tokyo")):
        place = tmp_path / seed
        place.mkdir()
        environment = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "PYTHONPATH": str(ROOT)}
        command = [sys.executable, "-m", "hmic", "build", str(DUNLIN), "-o", "d.pack"]
        subprocess.run(command, cwd=place, env=environment, check=True, capture_output=True)
        packs.append((place / "d.pack").read_bytes())
    assert packs[0] == packs[1]


def test_inspect_accounts_for_every_byte(
    starter: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pack = tmp_path / "car.pack"
    assert main(["build", str(starter), "-o", str(pack)]) == 0
    capsys.readouterr()
    assert main(["inspect", str(pack), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    offset = 0
    for entry in record["bytes"]:
        assert entry["offset"] == offset and entry["what"]
        offset += entry["length"]
    assert offset == record["size"] == pack.stat().st_size
    assert [screen["name"] for screen in record["screens"]] == ["battery", "drive"]


def test_findings_name_place_reason_and_remedy(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed(own, "drive.layout", "vehicle.speed", "vehicle.sped")
    changed(own, "battery.layout", 'text 36 arcmin, called "Voltage"', 'txt 36 arcmin, called "Voltage"')
    changed(own, "themes.yaml", '"#f8f3e6"', '"white"')
    code, findings = found(own, capsys)
    assert code == 1
    assert {finding["file"] for finding in findings} >= {"drive.layout", "battery.layout", "themes.yaml"}
    for finding in findings:
        assert finding["line"] and finding["message"] and finding["remedy"]


def test_what_was_found_is_remembered_only_while_nothing_changes(
    own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    changed(own, "drive.layout", "vehicle.speed", "vehicle.sped")
    first = found(own, capsys)
    assert first[0] == 1 and list((tmp_path / "cache" / "hmic").glob("findings-*"))
    assert found(own, capsys) == first
    changed(own, "drive.layout", "vehicle.sped", "vehicle.speed")
    assert found(own, capsys) == (0, [])
    for file in (tmp_path / "cache" / "hmic").glob("findings-*"):
        file.write_text('[{"code": 1}]')
    assert found(own, capsys) == (0, [])


def test_check_tells_what_a_run_would_not_ask_for(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed(own, "signals.yaml", "from: Motor.Temperature", "from: obd 7E, every: 1 s")
    code, findings = found(own, capsys)
    assert code == 1 and [finding["code"] for finding in findings] == ["R760"]
    changed(own, "signals.yaml", "obd 7E", "obd 0D")
    assert [finding["code"] for finding in found(own, capsys)[1]] == ["R761"]
    changed(own, "signals.yaml", "obd 0D", "obd 05")
    assert found(own, capsys) == (0, [])


def test_strict_counts_warnings(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (own / "battery.layout").read_text()
    rows = [line for line in text.splitlines() if line.startswith("        ") and "in " not in line][:4]
    for number, row in enumerate(rows):
        assert len(row.split()) == 2
        text = text.replace(row, f"{row}   {'free' if number == 0 else row.split()[1]}", 1)
    (own / "battery.layout").write_text(text)
    assert found(own, capsys)[0] == 0
    assert main(["check", str(own), "--strict"]) == 1


def test_what_check_finds_can_be_paged_and_kept(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    changed(own, "drive.layout", "reading", "raeding")
    for _ in range(2):  # the second time as remembered
        capsys.readouterr()
        assert main(["check", str(own)]) == 1
        captured = capsys.readouterr()
        assert captured.err == ""
        assert captured.out.startswith("drive.layout:") and "\nerror L" in captured.out
        assert "\nremedy  " in captured.out
        assert captured.out.endswith(f"\n\n{own}: 1 error\n")
        assert captured.out.split("\n\n")[-2].startswith("what rests on the whole design is looked at once")


def test_an_error_of_a_whole_design_holds_nothing_back(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changed(own, "design.yaml", "dbc:", 'limits: {"text floor": {limit: 60, because: of this test}}\ndbc:')
    capsys.readouterr()
    assert main(["check", str(own)]) == 1
    told = capsys.readouterr().out
    assert "error C401" in told and "what rests on" not in told and "look yourself" in told


def test_json_of_check_is_one_list_though_no_report_can_be_written(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (own / "themes.yaml").unlink()
    capsys.readouterr()
    assert main(["check", str(own), "--json", "--report", str(own / "r.html")]) == 1
    codes = [item["code"] for item in json.loads(capsys.readouterr().out)]
    assert "U970" in codes and len(codes) > 1


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["check", "no/such/folder"], "M220"),
        (["build", "{own}", "-o", "/proc/nowhere/x.pack"], "U910"),
        (["build", "{own}", "-o", "{own}/drive.layout"], "U912"),
        (["build", "{own}", "-o", "{own}"], "U910"),
        (["build", "{own}", "-o", "."], "U910"),
        (["check", "{own}", "--report", "{own}/signals.yaml"], "U912"),
        (["inspect", "no-such.pack"], "U911"),
        (["inspect", "{own}/car.dbc"], "P5"),
        (["display", "{own}/car.dbc"], "P5"),
        (["push", "{own}/car.dbc", "--port", "/dev/null"], "P5"),
        (["run", "{own}", "--port", "/dev/no-such-port", "--can", "no", "--replay", "x.log"], "U930"),
        (["run", "{own}", "--port", "/dev/no-such-port", "--replay", "{own}/none.log"], "R701"),
        (["run", "{own}", "--port", "/dev/no-such-port", "--replay", "{own}/drive.layout"], "R7"),
        (["run", "{own}", "--port", "/dev/no-such-port"], "W640"),
        (["run", "{own}", "--port", "/dev/no-such-port", "--theme", "dai"], "U920"),
        (["preview", "{own}", "--out", "x", "--screen", "drve"], "U920"),
    ],
)
def test_bad_input_is_a_finding(
    own: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: str
) -> None:
    assert main([word.format(own=own) for word in arguments]) == (2 if code in USAGE else 1)
    captured = capsys.readouterr()
    error = captured.out if arguments[0] == "check" else captured.err
    assert code in error, error
    assert "\nremedy  " in error and "Traceback" not in error


@pytest.mark.parametrize("arguments", [[], ["chek"], ["check"], ["run", "x"], ["check", "x", "--nonsense"]])
def test_wrong_usage_exits_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    assert "hmic" in capsys.readouterr().err


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    page = capsys.readouterr().out
    for command in COMMANDS:
        assert f"  {command}" in page
        assert main([command, "--help"]) == 0
        assert "usage: hmic" in capsys.readouterr().out


def test_demo_does_it_all(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "hmic", "demo", "--out", str(tmp_path)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    for word in ("built", "display", "pushed", "replayed", "picture", "done"):
        assert f"\n{word}" in "\n" + done.stdout
    pictures = sorted(tmp_path.glob("*.png"))
    assert len(pictures) >= 6
    # After silence the display shows the drive screen in another state than live.
    live = next(path for path in pictures if path.name.startswith("6-drive-day"))
    assert live.read_bytes() != (tmp_path / "drive-after-silence.png").read_bytes()


def test_warnings_of_libraries_reach_nobody() -> None:
    code = (
        "import sys, warnings, hmic.cli.main as m\n"
        "m.main = lambda: warnings.warn('said by a library') or 0\nsys.exit(m.program())"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("", "")
