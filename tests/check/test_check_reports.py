"""Pictures of findings, and the report."""

import re
from html.parser import HTMLParser

import pytest
from good_design import FILES, spoiled
from PIL import Image

from hmic.cli.main import main


@pytest.fixture
def heron(tmp_path):
    folder = tmp_path / "heron"
    folder.mkdir()
    for name, text in spoiled(("road.layout", "text 90 arcmin", "text 13 arcmin")).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.links, self.open = [], []

    def handle_starttag(self, tag, attributes):
        self.links += [value for key, value in attributes if key in ("src", "href")]
        if tag not in ("meta", "img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open and self.open[-1] == tag, (self.open, tag)
        self.open.pop()


def test_a_report_is_one_file_with_all_of_it(heron, tmp_path, capsys):
    path = tmp_path / "report.html"
    assert main(["check", str(heron), "--report", str(path)]) == 0
    text = path.read_text(encoding="utf-8")
    tags = Tags()
    tags.feed(text)
    assert not tags.open and tags.links
    assert all(link.startswith("data:image/png;base64,") for link in tags.links)
    assert "url(" not in text and "<script" not in text
    assert "C402" in text and "13" in text and "no proof of compliance" in text
    for name in (
        "Screen road",
        "Screen battery",
        "text floor",
        "confirm before relying on it",
        "least contrast",
    ):
        assert name in text
    again = tmp_path / "again.html"
    main(["check", str(heron), "--report", str(again)])
    assert again.read_bytes() == path.read_bytes()
    assert str(tmp_path) not in text


def test_a_report_is_written_in_spite_of_an_error(heron, tmp_path, capsys):
    layout = heron / "road.layout"
    layout.write_text(layout.read_text(encoding="utf-8").replace("13 arcmin", "8 arcmin"), encoding="utf-8")
    path = tmp_path / "report.html"
    assert main(["check", str(heron), "--report", str(path)]) == 1
    assert "C401" in path.read_text(encoding="utf-8")


def test_what_cannot_be_laid_out_has_no_report(heron, tmp_path, capsys):
    (heron / "themes.yaml").unlink()
    path = tmp_path / "report.html"
    assert main(["check", str(heron), "--report", str(path)]) == 1
    assert not path.exists()
    told = capsys.readouterr().out
    assert "U970" in told and "themes.yaml" in told


def test_frames_stand_where_findings_are(heron, tmp_path, capsys):
    assert main(["preview", str(heron), "--out", str(tmp_path / "a"), "--theme", "day"]) == 0
    plain = Image.open(tmp_path / "a" / "road-day.png").convert("RGB")
    capsys.readouterr()
    assert main(["preview", str(heron), "--out", str(tmp_path / "b"), "--theme", "day", "--findings"]) == 0
    marked = Image.open(tmp_path / "b" / "road-day.png").convert("RGB")
    out = capsys.readouterr().out
    number = next(line.split()[0] for line in out.splitlines() if "C402" in line)
    assert re.fullmatch(r"\d+", number)
    frame = (255, 0, 200)
    assert frame in {colour for _, colour in marked.getcolors(1 << 20)}
    assert frame not in {colour for _, colour in plain.getcolors(1 << 20)}


def test_an_error_of_the_checks_keeps_no_picture_away(heron, tmp_path, capsys):
    layout = heron / "road.layout"
    layout.write_text(layout.read_text(encoding="utf-8").replace("13 arcmin", "8 arcmin"), encoding="utf-8")
    assert main(["preview", str(heron), "--out", str(tmp_path / "p"), "--findings"]) == 1
    assert "error C401 " in capsys.readouterr().out
    assert (tmp_path / "p" / "road-day.png").exists()


@pytest.mark.parametrize(
    "options", [["--seen-at", "sun"], ["--vision", "grey"], ["--vision", "tritan", "--seen-at", "night"]]
)
def test_pictures_for_the_eye(heron, tmp_path, options, capsys):
    assert main(["preview", str(heron), "--out", str(tmp_path / "p"), "--screen", "road", *options]) == 0
    picture = Image.open(tmp_path / "p" / "road-day.png")
    assert picture.size == ((848, 528) if "--seen-at" in options else (800, 480))


def test_the_files_are_those_of_the_good_design(heron):
    assert sorted(FILES) == sorted(path.name for path in heron.iterdir())
