"""What others wrote reaches a terminal only as text that shows what it is."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.cli.main import main
from hmic.diagnostics import Span, as_text, error
from hmic.foreign_text import VisibleOutput, drawn_on, visible
from hmic.places import examples_folder

EVIL = "a\x1b[2Jb\x9b31mc\u202ed\u200be\x07f\u2028g\U000e0041h\rk\x7f"
SHOWN = "a\\u001b[2Jb\\u009b31mc\\u202ed\\u200be\\u0007f\\u2028g\\udb40\\udc41h\\u000dk\\u007f"


@pytest.mark.skipif(shutil.which("perl") is None, reason="perl knows Unicode's own properties")
def test_every_control_and_invisible_character_of_unicode_is_written_out() -> None:
    """Against the properties as another program has them."""
    kinds = r"\p{Default_Ignorable_Code_Point}|\p{Bidi_Control}|\p{Cc}|\p{Cf}|\p{Zl}|\p{Zp}"
    code = f'for (0..0xD7FF, 0xE000..0x10FFFF) {{ print "$_\\n" if chr =~ /{kinds}/ }}'
    told = subprocess.run(["perl", "-e", code], capture_output=True, text=True, check=True, timeout=60)
    hidden = {chr(int(line)) for line in told.stdout.split()}
    assert len(hidden) > 4000 and hidden > {"\x1b", "\x9b", "\u202e", "\u2066", "\u200b", "\ufeff"}
    for char in hidden:
        assert visible(char, kept="") != char and visible(char, kept="").isascii(), hex(ord(char))


def test_what_can_be_seen_stays() -> None:
    seen = "Düse 45 °C → Ω „ß“ Привет 温度 עברית क्षि é e\u0301 \u00a0 \ufffd\ue000"
    assert visible(seen) == seen


@given(st.text(st.characters(codec=None)))
def test_what_is_written_out_says_the_same_in_json(text: str) -> None:
    told = json.dumps({"said": text}, ensure_ascii=False, indent=1)
    shown = visible(told, kept="\n\t")
    assert json.loads(shown) == {"said": text}
    assert all(char in "\n\t" or unicodedata.category(char) not in ("Cc", "Cf", "Cs") for char in shown)


def test_a_finding_shows_what_is_foreign_on_its_lines_and_marks_the_right_place() -> None:
    text = f"x {EVIL} bad"
    at = text.index("bad") + 1
    span = Span(f"{EVIL}.layout", 1, at, 1, at + 3)
    shown = as_text([error("L101", EVIL + "\nerror L102    made up", span, EVIL)], {span.file: text})
    assert not set(shown) & (set(EVIL) - set("abcdefghk[2J31m"))
    assert shown.count(SHOWN) == 4 and "\nerror L102" not in shown
    line = next(line for line in shown.splitlines() if line.endswith(" bad"))
    marks = next(line for line in shown.splitlines() if line.endswith("==="))
    assert line.index("bad") == marks.index("===")


def test_a_stream_writes_out_what_its_character_set_lacks() -> None:
    held = io.BytesIO()
    ascii_only = io.TextIOWrapper(held, "ascii")
    stream = VisibleOutput(ascii_only)
    print("Ω\udc80\x1b é", file=stream, flush=True)
    assert held.getvalue() == b"\\u03a9\\udc80\\u001b \\u00e9\n"
    assert drawn_on(stream) is ascii_only and drawn_on(ascii_only) is ascii_only


@pytest.fixture
def evil(tmp_path: Path) -> Path:
    """A design whose every text tries something, in a folder that does too."""
    folder = tmp_path / EVIL.replace("/", "")
    shutil.copytree(examples_folder() / "dunlin", folder, ignore=shutil.ignore_patterns("logs"))
    for path in folder.glob("*.layout"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace('"Dunlin', f'"{EVIL}Dunlin') + f"\n# {EVIL}\nwrong {EVIL}\n", "utf-8")
    (folder / f"{EVIL}.layuot").write_text("", encoding="utf-8")
    signals = folder / "signals.yaml"
    escaped = json.dumps(EVIL)
    signals.write_text(
        signals.read_text(encoding="utf-8") + f"\n  {escaped}: {{unit: {escaped}}}\n", encoding="utf-8"
    )
    dbc = next(folder.glob("*.dbc"))
    dbc.write_text(f"BO_ {EVIL}\n" + dbc.read_text(encoding="cp1252"), encoding="utf-8")
    return folder


WORDS = [
    ["check", "DESIGN"],
    ["check", "DESIGN", "--json"],
    ["check", "DESIGN", "--language", EVIL],
    ["check", f"{EVIL}/none"],
    ["tidy", "DESIGN"],
    ["words", "DESIGN", "--language", "de"],
    ["preview", "DESIGN", "--out", "OUT", "--screen", EVIL],
    ["preview", "DESIGN", "--out", "OUT", "--set", f"{EVIL}=1"],
    ["build", "DESIGN", "-o", f"OUT/{EVIL}"],
    ["run", "DESIGN", "--port", EVIL],
    ["run", "LARK", "--port", EVIL, "--can", f"virtual:{EVIL}"],
    ["run", "LARK", "--port", EVIL, "--can", f"{EVIL}:x"],
    ["run", "LARK", "--port", "/dev/null", "--theme", EVIL],
    ["run", "LARK", "--port", "/dev/null", "--replay", f"{EVIL}.log"],
    ["trace", "LARK", "--replay", f"{EVIL}.log", "--at", EVIL, "--out", "OUT/x.png"],
    ["push", f"{EVIL}.pack", "--port", EVIL],
    ["inspect", EVIL],
    ["display", EVIL],
    ["display", "--store", f"{EVIL}/x"],
    ["explain", EVIL],
    ["new", f"OUT/{EVIL}"],
    [EVIL],
    ["check", "--speed", EVIL],
    ["run", "LARK", "--port", "x", "--speed", EVIL],
]


@pytest.mark.parametrize(
    "words", WORDS, ids=lambda words: "-".join(words).encode("ascii", "replace").decode()
)
def test_no_command_lets_it_through(
    words: list[str], evil: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    places = {"DESIGN": str(evil), "OUT": str(tmp_path / "out"), "LARK": str(examples_folder() / "dunlin")}
    said = ["/".join(places.get(piece, piece) for piece in word.split("/")) for word in words]
    main(said)
    out, err = capsys.readouterr()
    for char in (out + err).replace("\n", ""):
        assert visible(char) == char, (hex(ord(char)), out + err)
    if "--json" in words:
        assert any("\x1b" in finding["message"] for finding in json.loads(out))


def test_a_file_name_that_is_no_text_is_shown_and_no_traceback(tmp_path: Path) -> None:
    folder = os.fsencode(tmp_path) + b"/\xff\x1b[31m"
    for encoding in ("utf-8", "ascii"):
        done = subprocess.run(
            [sys.executable, "-m", "hmic", "check", folder],
            capture_output=True,
            env=os.environ | {"PYTHONIOENCODING": encoding},
            timeout=30,
        )
        assert done.returncode == 1 and b"Traceback" not in done.stderr
        assert b"\x1b" not in done.stdout + done.stderr and b"\\udcff" in done.stdout


def test_a_report_shows_what_is_foreign(tmp_path: Path) -> None:
    folder = tmp_path / "roost"
    shutil.copytree(examples_folder() / "roost", folder)
    design = folder / "design.yaml"
    lines = design.read_text(encoding="utf-8").splitlines()
    named = [line if not line.startswith("name:") else 'name: "Roost\\e[31m \\u202e<b>"' for line in lines]
    design.write_text("\n".join(named) + "\n", encoding="utf-8")
    report = tmp_path / "report.html"
    assert main(["check", str(folder), "--report", str(report)]) == 0
    page = report.read_text(encoding="utf-8")
    assert "Roost\\u001b[31m \\u202e&lt;b&gt;" in page
    assert not any(char != "\n" and unicodedata.category(char) in ("Cc", "Cf") for char in page)
