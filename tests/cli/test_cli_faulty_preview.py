"""Pictures of a design with errors: all that can be painted, and nothing where something is wrong."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from PIL import Image, ImageChops

from hmic.check.finding_places import left_empty
from hmic.cli.main import main
from hmic.compile.compiling import Failed, compile_design
from hmic.paint.operations import Box


@pytest.fixture(scope="module")
def healthy(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The small design and its pictures."""
    folder = tmp_path_factory.mktemp("new")
    assert main(["new", str(folder / "car")]) == 0
    assert main(["preview", str(folder / "car"), "--out", str(folder / "out")]) == 0
    return folder / "car", folder / "out"


def spoilt(healthy: tuple[Path, Path], tmp_path: Path, *changes: tuple[str, str]) -> Path:
    folder = Path(shutil.copytree(healthy[0], tmp_path / "car"))
    text = (folder / "drive.layout").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    (folder / "drive.layout").write_text(text)
    return folder


def gaps(folder: Path, screen: str = "drive") -> list[Box]:
    result = compile_design(folder)
    assert isinstance(result, Failed) and result.with_gaps is not None
    (found,) = (each for each in result.with_gaps.arranged.screens if each.name == screen)
    return left_empty(result.findings, found)


def corners(box: Box) -> tuple[int, int, int, int]:
    return box.left, box.top, box.left + box.width, box.top + box.height


TOO_LARGE = ("text 90 arcmin", "text 300 arcmin")
WRONG_PHRASE = ('clock as "0:00"', 'clock as "0:00", upward')
UNREADABLE = ("bar pack.power from", "bar pack.power form")


@pytest.mark.parametrize("change", [TOO_LARGE, WRONG_PHRASE, UNREADABLE])
def test_only_the_place_of_what_is_wrong_is_left_empty(
    healthy: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str]
) -> None:
    folder = spoilt(healthy, tmp_path, change)
    out = tmp_path / "out"
    assert main(["preview", str(folder), "--out", str(out)]) == 1
    told = capsys.readouterr()
    assert "\nerror " in told.err and "\nremedy  " in told.err and "1 on 'drive'" in told.err
    (gap,) = gaps(folder)
    for good in healthy[1].iterdir():
        with Image.open(good) as before, Image.open(out / good.name) as after:
            if not good.name.startswith("drive"):
                assert ImageChops.difference(before, after).getbbox() is None
                continue
            inside = corners(Box(gap.left + 9, gap.top + 9, gap.width - 18, gap.height - 18))
            assert len(after.crop(inside).getcolors() or ()) == 1, "nothing stands in the place"
            assert len(before.crop(inside).getcolors() or ()) > 1
            band = after.crop((gap.left, gap.top, gap.left + gap.width, gap.top + 8))
            assert len(band.getcolors() or ()) > 1, "its edge is seen"
            for picture in (before, after):
                picture.paste((0, 0, 0), corners(gap))
            assert ImageChops.difference(before, after).getbbox() is None


def test_findings_are_numbered_on_the_empty_places(
    healthy: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = spoilt(healthy, tmp_path, TOO_LARGE, WRONG_PHRASE)
    words = ["preview", str(folder), "--out", str(tmp_path / "out"), "--screen", "drive", "--findings"]
    assert main([*words, "--sheet"]) == 1
    told = capsys.readouterr()
    assert "1 error A302 " in told.out and "2 error A350 " in told.out and "2 on 'drive'" in told.err
    assert (tmp_path / "out" / "contact-sheet.png").exists()
    with Image.open(tmp_path / "out" / "drive-day.png") as picture:
        for box in gaps(folder):
            assert picture.getpixel((box.left + box.width // 2, box.top)) == (255, 0, 200)


def test_a_misspelt_area_and_a_plan_that_does_not_fit_leave_their_places_empty(
    healthy: tuple[Path, Path], tmp_path: Path
) -> None:
    (gap,) = gaps(spoilt(healthy, tmp_path / "one", ("in speed ", "in sped ")))
    assert gap in gaps(spoilt(healthy, tmp_path / "two", TOO_LARGE))
    (whole,) = gaps(spoilt(healthy, tmp_path / "three", ("rows 14 mm, 1, 1", "rows 900 mm, 1, 1")))
    assert (whole.width, whole.height) == (800, 480)


def test_nothing_is_built_or_run(
    healthy: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, pack = spoilt(healthy, tmp_path, TOO_LARGE), tmp_path / "car.pack"
    for words in (
        ["build", str(folder), "-o", str(pack)],
        ["run", str(folder), "--port", "loop://", "--simulate"],
    ):
        assert main(words) == 1
        assert "A350" in capsys.readouterr().err
    assert not pack.exists()


def test_of_a_recording_there_is_no_picture_and_that_is_told(
    healthy: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, log = spoilt(healthy, tmp_path, TOO_LARGE), tmp_path / "a.log"
    log.write_text("(0.000000) can0 100#0000000000000000\n(9.000000) can0 100#0000000000000000\n")
    words = ["preview", str(folder), "--out", str(tmp_path / "out")]
    assert main([*words, "--replay", str(log), "--at", "0:05"]) == 1
    told = capsys.readouterr().err
    assert "A350" in told and "no picture of a recording while" in told and not (tmp_path / "out").exists()
    assert main(words) == 1 and (tmp_path / "out").exists()


def test_no_design_no_picture(
    healthy: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = spoilt(healthy, tmp_path)
    (folder / "design.yaml").write_text("name: nothing\n")
    assert main(["preview", str(folder), "--out", str(tmp_path / "out")]) == 1
    assert "error " in capsys.readouterr().err and not (tmp_path / "out").exists()


def test_a_swipe_to_a_screen_that_is_not_there_ends_no_check(
    healthy: tuple[Path, Path], tmp_path: Path
) -> None:
    folder = spoilt(healthy, tmp_path, ("    plan\n", "    swipe left goes to nowhere\n    plan\n"))
    result = compile_design(folder)
    assert [finding.code for finding in result.findings] == ["M240"]
