"""Pictograms of a design's own SVG files, and lamps that are not there while they have nothing to say."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageChops

from hmic.cli.main import main
from hmic.cli.pages import BASE
from hmic.compile.compiling import Compiled, compile_design
from hmic.editor.completion import complete
from hmic.editor.project import View
from hmic.paint.operations import LIVE, Moment
from hmic.paint.painter import Painter

KETTLE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24"><path d="M4 20h12l1-11H3z"/></svg>'
LAYOUT = """screen drive "Drive"
    plan
        here
    in here
        {sentence}
"""
LAMP = 'lamp kettle, danger while pack.fault, caution while pack.charge < 20 %, means "It boils"'


def made(folder: Path, sentence: str = LAMP, svg: str = KETTLE, named: str = "kettle: kettle.svg") -> Path:
    shutil.copytree(BASE, folder)
    with (folder / "design.yaml").open("a", encoding="utf-8") as settings:
        settings.write(f"pictograms: {{{named}}}\n")
    (folder / "kettle.svg").write_text(svg, encoding="utf-8")
    (folder / "drive.layout").write_text(LAYOUT.format(sentence=sentence), encoding="utf-8")
    return folder


def compiled(folder: Path) -> Compiled:
    result = compile_design(folder)
    assert isinstance(result, Compiled), result.findings
    return result


def shown(result: Compiled, raw: int, clock: int = 0) -> Image.Image:
    drawing = result.arranged.drawing
    assert len(drawing.channels) == 1
    return Painter(drawing).paint(Moment(0, 0, (raw,), clock))


def colours(image: Image.Image) -> set[Any]:
    return {colour for _, colour in image.getcolors(1 << 16) or ()}


def test_an_own_pictogram_has_the_states_of_a_built_in_one(tmp_path: Path) -> None:
    result = compiled(made(tmp_path / "a"))
    roles = result.design.themes[0].roles
    for raw, role in ((LIVE, "line"), (LIVE + 1, "danger"), (LIVE + 2, "caution"), (0, "stale")):
        assert roles[role] in colours(shown(result, raw))


def test_a_symbol_may_show_it_and_its_size_is_checked(tmp_path: Path) -> None:
    result = compile_design(made(tmp_path / "a", "symbol kettle, sized 3 mm"))
    assert [each.code for each in result.findings if each.code == "C445"] == ["C445"]


def findings(folder: Path) -> list[tuple[str, str, int, int]]:
    found = compile_design(folder).findings
    return [
        (each.code, each.span.file, each.span.line, each.span.column)
        for each in found
        if each.span is not None and each.code not in ("M247", "C402", "C421")
    ]


def test_what_is_wrong_with_a_file_is_told_once_with_its_place(tmp_path: Path) -> None:
    wrong = KETTLE.replace("<path", "\n<circle r='9'/><path")
    assert findings(made(tmp_path / "a", svg=wrong)) == [("A395", "kettle.svg", 2, 1)]
    assert findings(made(tmp_path / "b", "label \"A\"", svg=wrong)) == [("A395", "kettle.svg", 2, 1)]


def test_all_that_is_refused_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    """As one finding, with every place; what stands within something refused is none of its own."""
    wrong = KETTLE.replace(
        "<path",
        '\n<circle r="9"/>\n<g transform="scale(2)"><rect/></g>\n<text>tea</text>'
        '\n<path stroke="#000" d="M4 20h12"/>\n<path d="X"/><path',
    )
    folder = made(tmp_path / "a", svg=wrong)
    (told,) = (each for each in compile_design(folder).findings if each.code == "A395")
    assert told.span is not None and told.span.line == 2 and "a `circle`" in told.message
    lines = wrong.split("\n")
    marked = [lines[at.line - 1][at.column - 1 :] for at in told.also]
    begins = ['scale(2)"', "<rect", "<text", '#000"', 'X"/>']
    assert [text.startswith(start) for text, start in zip(marked, begins, strict=True)] == [True] * 5
    for each in ("in line 3 `transform`", "in line 5 `stroke`", "in line 6 a path begins"):
        assert each in told.message
    for each in ("convert it to a path", "draw it as filled paths", "SVG 2"):
        assert each in str(told.remedy)


@pytest.mark.parametrize(
    ("named", "code"),
    [
        ("kettle: kettl.svg", "M221"),
        ("kettle: ../kettle.svg", "M224"),
        ("kettle: kettle.png", "M225"),
        ("kettle: 3", "M230"),
        ("Kettle: kettle.svg", "M230"),
        ("battery: kettle.svg", "A395"),
    ],
)
def test_a_name_or_path_that_is_wrong_is_told_once(tmp_path: Path, named: str, code: str) -> None:
    sentence = LAMP if not named.startswith("battery") else LAMP.replace("kettle", "plug")
    found = findings(made(tmp_path / "a", sentence, named=named))
    assert [(each[0], each[1]) for each in found] == [(code, "design.yaml")]


def test_a_misspelt_name_is_told_by_those_of_the_design(tmp_path: Path) -> None:
    told = compile_design(made(tmp_path / "a", "symbol ketle")).findings
    (found,) = (each for each in told if each.code == "A324")
    assert found.remedy == "did you mean 'kettle'?"


def test_the_editor_offers_it_first(tmp_path: Path) -> None:
    folder = made(tmp_path / "a")
    text = "screen a \"A\"\n    plan\n        b\n    in b    lamp \n"
    view = View(folder, compiled(folder).design, {"a.layout": text}, {})
    offered = complete(view, "a.layout", 3, len("    in b    lamp "))
    assert [each.text for each in offered][:2] == ["kettle", "abs"]


def test_a_hidden_lamp_is_there_when_it_is_lit_and_when_in_doubt(tmp_path: Path) -> None:
    caption = ', called "Tea"'
    plain = compiled(made(tmp_path / "a", LAMP + caption))
    hidden = compiled(made(tmp_path / "b", LAMP + caption + ", otherwise hidden"))
    ground = hidden.design.themes[0].roles["ground"]
    assert colours(shown(hidden, LIVE)) == {ground}
    for raw in (0, 1, 2, LIVE + 1, LIVE + 2):
        assert ImageChops.difference(shown(plain, raw), shown(hidden, raw)).getbbox() is None
    # Nothing is asked of a lamp's contrast that is not there.
    assert {each.code for each in hidden.findings} <= {each.code for each in plain.findings}


def test_a_hidden_lamp_that_flashes_goes_between_its_flashes(tmp_path: Path) -> None:
    sentence = LAMP.replace("danger while", "flashing danger while") + ", otherwise hidden"
    result = compiled(made(tmp_path / "a", sentence))
    assert result.design.themes[0].roles["danger"] in colours(shown(result, LIVE + 1, 0))
    assert len(colours(shown(result, LIVE + 1, 500))) == 1
    assert len(colours(shown(result, 0, 500))) > 1


def test_a_lamp_looks_one_way_when_it_is_not_lit(tmp_path: Path) -> None:
    found = findings(made(tmp_path / "a", LAMP + ", otherwise good, otherwise hidden"))
    assert [each[0] for each in found] == ["A307"]


def test_all_pictograms_are_painted_with_their_names(tmp_path: Path, capsys: Any) -> None:
    out = tmp_path / "out"
    design = str(made(tmp_path / "a"))
    assert main(["preview", design, "--out", str(out), "--pictograms", "--theme", "day"]) == 0
    assert "pictograms-day.png" in capsys.readouterr().out
    assert Image.open(out / "pictograms-day.png").width > 300
    assert not (out / "pictograms-night.png").exists()
