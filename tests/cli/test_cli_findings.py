"""How findings stand on a terminal, in a pipe and in the README."""

from __future__ import annotations

import os
import pty
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from rich.cells import cell_len

from hmic.cli.main import main
from hmic.diagnostics import Span, as_text, error

ROOT = Path(__file__).parents[2]


@pytest.fixture
def too_large(tmp_path: Path) -> Path:
    """The example with the mistake that the README shows."""
    folder = tmp_path / "dunlin"
    shutil.copytree(ROOT / "layouts" / "dunlin", folder)
    path = folder / "drive.layout"
    text = path.read_text(encoding="utf-8")
    assert text.count("text 100 arcmin") == 1
    path.write_text(text.replace("text 100 arcmin", "text 120 arcmin"), encoding="utf-8")
    return folder


def on_a_terminal(folder: Path, columns: int, **settings: str) -> str:
    """What ``hmic check`` writes to a terminal of so many columns."""
    own, other = pty.openpty()
    import fcntl
    import struct
    import termios

    fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    environment = {key: value for key, value in os.environ.items() if key != "NO_COLOR"} | {"TERM": "xterm"}
    words = [sys.executable, "-m", "hmic", "check", str(folder)]
    process = subprocess.Popen(words, stdout=other, stderr=other, env=environment | settings)
    os.close(other)
    told = b""
    while True:
        try:
            piece = os.read(own, 65536)
        except OSError:  # the other end is closed
            break
        if not piece:
            break
        told += piece
    os.close(own)
    assert process.wait() == 1
    return told.decode().replace("\r\n", "\n")


def test_colour_only_on_a_terminal_that_wants_it(too_large: Path) -> None:
    coloured = on_a_terminal(too_large, 100)
    assert "\x1b[31merror A350    \x1b[0m" in coloured and "\x1b[31m" + " " * 20 + "=====" in coloured
    assert "\x1b" in on_a_terminal(too_large, 100, NO_COLOR="")
    for settings in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        plain = on_a_terminal(too_large, 100, **settings)
        assert "\x1b" not in plain and "\nerror A350    the reading" in plain


def test_sentences_keep_their_margin_on_a_narrow_terminal(too_large: Path) -> None:
    lines = on_a_terminal(too_large, 60, NO_COLOR="1").split("\n")
    start = next(at for at, line in enumerate(lines) if line.startswith("error A350"))
    said = lines[start : next(at for at, line in enumerate(lines) if line.startswith("measured"))]
    assert len(said) > 2 and max(map(len, said)) <= 60
    assert all(line.startswith(" " * 14) and line[14] != " " for line in said[1:])
    wide = on_a_terminal(too_large, 400, NO_COLOR="1").split("\n")
    assert max(map(len, wide)) <= 100


@pytest.mark.parametrize("before", ["ab ", "\tä ", "e\u0301 ", "温度 ", "\x1b[2J "])
def test_the_mark_stands_below_what_is_meant(before: str) -> None:
    """By the widths that another library gives to letters."""
    text = f"{before}meant"
    span = Span("f", 1, len(before) + 1, 1, len(text) + 1)
    _, line, marks, _ = as_text([error("L101", "x", span)], {"f": text}).split("\n")
    ahead = line[: line.index("meant")]
    assert marks.lstrip() == "====="
    assert cell_len(marks[: -len("=====")].replace("\t", "")) == cell_len(ahead.replace("\t", ""))
    assert marks.count("\t") == ahead.count("\t")
    (meant,) = as_text([error("L101", "x", Span("f", 1, 1, 1, 3))], {"f": "温度"}).split("\n")[2:3]
    assert meant == "    ===="


@pytest.mark.parametrize("kept", [False, True])
def test_the_sum_is_of_what_is_listed(
    kept: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is said of each repetition of an ``each`` alike is listed once, and counted once."""
    folder = tmp_path / "dunlin"
    shutil.copytree(ROOT / "layouts" / "dunlin", folder)
    path = folder / "parked.layout"
    text = path.read_text(encoding="utf-8")
    wrong = text.replace('called "House {n}"', 'called "House {m}"')
    assert wrong != text
    path.write_text(wrong, encoding="utf-8")
    for _ in range(1 + kept):
        capsys.readouterr()
        main(["check", str(folder)])
    told = capsys.readouterr().out
    *_, sum_of_all = told.rstrip().split("\n")
    listed = re.findall(r"^(error|warning|note) [A-Z]\d+", told, re.MULTILINE)
    counted = {sort: int(count) for count, sort in re.findall(r"(\d+) (error|warning|note)", sum_of_all)}
    assert counted == Counter(listed) and listed
