"""The page that shows a design in any browser: what it holds, and in a real browser what it shows."""

from __future__ import annotations

import base64
import json
import re
import struct
import zlib
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import given

from hmic.cli.codes import USAGE
from hmic.cli.main import main
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.samples import doubtful_values, sample_values
from hmic.model.values import Doubt
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.show.screens import fault_values, raw_values
from hmic.show.share import changes, page
from tests.tools.pages import LAYOUTS, compiled
from tests.tools.short_log import short_log

EXAMPLES = ("dunlin", "roost")


def states(data: bytes, channels: int) -> list[tuple[int, ...]]:
    """Read back as the docstring of ``changes`` has it."""
    found, raw, at = [], [0] * channels, 0
    while at < len(data):
        (count,) = struct.unpack_from("<H", data, at)
        for number, value in struct.iter_unpack("<HH", data[at + 2 : at + 2 + 4 * count]):
            raw[number] = value
        found.append(tuple(raw))
        at += 2 + 4 * count
    return found


def held(text: str, name: str) -> bytes:
    """Data that a page holds."""
    found = re.search(rf'<script type="application/octet-stream" id="{name}-data">([^<]*)</script>', text)
    assert found
    return zlib.decompress(base64.b64decode(found[1]))


def facts(text: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="facts">([^<]*)</script>', text)
    assert found
    result: dict[str, Any] = json.loads(found[1])
    return result


@given(st.integers(0, 5).flatmap(lambda n: st.lists(st.tuples(*[st.integers(0, 65535)] * n), max_size=8)))
def test_states_read_back(given: list[tuple[int, ...]]) -> None:
    assert states(changes(given), len(given[0]) if given else 0) == given


@pytest.mark.parametrize("name", EXAMPLES)
def test_it_holds_the_pack_and_the_looks(name: str) -> None:
    design = compiled(name)
    text = page(design, None)
    assert text == page(design, None)
    assert held(text, "pack") == design.pack
    samples = sample_values(design.design)
    wanted = [raw_values(design, samples), raw_values(design, fault_values(design, samples))]
    doubts = (Doubt.STALE, Doubt.UNSEEN, Doubt.OUT_OF_RANGE)
    wanted += [raw_values(design, doubtful_values(design.design, doubt)) for doubt in doubts]
    assert states(held(text, "looks"), len(wanted[0])) == wanted
    assert held(text, "moments") == b"" and "Sample values" in text and "Recorded" not in text
    for finding in design.findings:
        assert finding.code in text


def test_a_minute_is_what_the_replay_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each moment's values are those that ``hmic trace`` paints; the page is below 1 MB."""
    out = tmp_path / "van.html"
    words = ["share", str(LAYOUTS / "dunlin"), "-o", str(out), "--replay", str(short_log()), "--from", "0:30"]
    assert main([*words, "--clock", "10:24"]) == 0
    assert "60.1 s of ten_minutes.blf" in capsys.readouterr().out
    assert out.stat().st_size < 1_000_000
    text = out.read_text(encoding="utf-8")
    known = facts(text)
    drawing = compiled("dunlin").arranged.drawing
    moments = states(held(text, "moments"), len(drawing.channels))
    assert known["begin"] == 30 and len(moments) == len(known["inSight"]) == len(known["inTheme"]) == 1201
    painter = Painter(drawing)
    for seconds, screen in ((0, "drive"), (17.35, "chart"), (60, "coolant")):
        picture, number = tmp_path / "then.png", [each.name for each in drawing.screens].index(screen)
        moment = ["--at", f"{30 + seconds}", "--screen", screen, "--theme", "night", "--clock", "10:24"]
        assert main(["trace", *words[1:2], *words[4:6], *moment, "--out", str(picture)]) == 0
        theme = [each.name for each in drawing.themes].index("night")
        shown = painter.paint(Moment(number, theme, moments[round(seconds * 20)]))
        shown.save(tmp_path / "shared.png")
        assert (tmp_path / "shared.png").read_bytes() == picture.read_bytes(), (seconds, screen)


def test_what_a_design_says_stays_text(tmp_path: Path) -> None:
    """A name can leave neither the title nor the data, and is taken for no place to fill."""
    name = "</title></script><script>alert(1)</script>%%DATA%%"
    main(["new", str(tmp_path / "car")])
    file = tmp_path / "car" / "design.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text(re.sub(r"(?m)^name:.*$", lambda _: f"name: {json.dumps(name)}", text), encoding="utf-8")
    result = compile_design(tmp_path / "car")
    assert isinstance(result, Compiled) and result.design.name == name
    made = page(result, None)
    assert "alert(1)</script>" not in made and "&lt;/title&gt;" in made
    assert made.count('id="pack-data"') == 1 and facts(made)["screens"]


@pytest.mark.parametrize(
    ("extra", "code"),
    [
        (["--from", "1:00"], "U944"),
        (["--replay", "LOG", "--from", "0:03", "--to", "0:02"], "U945"),
        (["--replay", "LOG", "--from", "0:00", "--to", "10:01"], "U945"),
        (["--replay", "LOG", "--from", "1:50"], "U937"),
        (["--replay", "LOG", "--from", "1:30", "--to", "2:20"], "U937"),
        (["--replay", "LOG", "--from", "soon"], "U938"),
    ],
)
def test_a_part_that_is_none(
    extra: list[str], code: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "van.html"
    extra = [str(short_log()) if word == "LOG" else word for word in extra]
    assert main(["share", str(LAYOUTS / "dunlin"), "-o", str(out), *extra]) == (2 if code in USAGE else 1)
    assert code in capsys.readouterr().err and not out.exists()
