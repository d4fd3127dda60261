"""Whatever stands where a command looks for a file, or is to write one: it is told, at once, and nothing
else is touched. The places are found in the commands' own parsers and in the example design, so that a new
one is tried as soon as it is there."""

from __future__ import annotations

import argparse
import importlib
import os
import re
import shutil
import signal
import stat
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import hmic.cli.designs
import hmic.compile.compiling
import hmic.display.serve
import hmic.runtime.run
from hmic.cli.main import COMMANDS, main
from hmic.compile.compiling import compile_design
from hmic.places import examples_folder
from hmic.runtime.keeping import Sum, load_sums, save_sums

LARK = examples_folder() / "dunlin"
MOST_SECONDS = 20.0
"""A hang is one for ever; on two busy cores an honest answer may take its time."""
GARBAGE = bytes(range(256)) * 40_000

# Required arguments that are no files, and what makes a command come to its files.
NEEDED = {
    "port": ["--port", "/dev/none"],
    "at": ["--at", "0:00"],
    "language": ["--language", "de"],
    "code": ["U911"],
    "add": ["--add", "PackPower.Voltage"],
}
# What else makes a command come to its files.
BESIDE = {
    "survey-dbc": ["--log", str(LARK / "logs" / "ten_minutes.blf")],
    "survey-page": ["--log", str(LARK / "logs" / "ten_minutes.blf")],
    "new-dbc": ["--signals", "*.*"],
    "preview-design": ["--out", "pictures"],
    "preview-replay": ["--at", "1", "--out", "pictures"],
    "new-log": ["--dbc", str(LARK / "dunlin.dbc"), "--signals", "*.*"],
}
# Recordings that are read, where `run --log` writes one.
READ = {"survey-log", "new-log", "signals-log"}
# Arguments that name a file and have no type of their own.
BY_NAME = {"pipe", "pipe_out", "replay", "dbc", "log"}
# What is made, or may be, by a command; what a person would lose there is not touched.
WRITTEN = {
    "output", "report", "picture", "record", "log", "state", "store", "pipe_out", "directory", "out", "page"
}  # fmt: skip


@dataclass(frozen=True)
class Place:
    """An argument of a command that names a file or folder."""

    command: str
    argument: argparse.Action

    def __str__(self) -> str:
        return f"{self.command}-{self.argument.dest}"


def actions(command: str) -> list[argparse.Action]:
    parser = argparse.ArgumentParser(add_help=False)
    importlib.import_module(f"hmic.cli.{command}_command").add_arguments(parser)
    return parser._actions


def is_file(action: argparse.Action) -> bool:
    return action.type is Path or action.dest in BY_NAME


PLACES = [Place(command, action) for command in COMMANDS for action in actions(command) if is_file(action)]


def a_folder(path: Path) -> None:
    path.mkdir()


def a_folder_with_something(path: Path) -> None:
    path.mkdir()
    (path / "x").write_text("x")


def a_device(path: Path) -> None:
    try:
        os.mknod(path, 0o666 | stat.S_IFCHR, os.makedev(1, 5))  # reads as zeros without end
    except PermissionError:
        pytest.skip("only the administrator makes devices")


def a_link_to_a_treasure(path: Path) -> None:
    path.symlink_to(path.parent / "treasure")


def a_link_to_itself(path: Path) -> None:
    path.symlink_to(path)


def nothing(path: Path) -> None:
    pass


def garbage(path: Path) -> None:
    path.write_bytes(GARBAGE)


def a_socket(path: Path) -> None:
    import socket

    with socket.socket(socket.AF_UNIX) as line:
        line.bind(os.path.relpath(path))


KINDS: list[Callable[[Path], None]] = [
    os.mkfifo,
    a_folder,
    a_folder_with_something,
    a_device,
    a_link_to_a_treasure,
    a_link_to_itself,
    nothing,
    garbage,
    a_socket,
    lambda path: path.write_bytes(b""),
]
NAMES = ["pipe", "folder", "full", "device", "link", "loop", "nothing", "garbage", "socket", "empty"]
ODD_NAMES = ["a\0b", "x" * 300, "no/such/folder", "\udcff\udcfe"]


class TooSlow(BaseException):
    """Nothing on the way may take this for an error of its own."""


@contextmanager
def in_time() -> Iterator[None]:
    def ring(*_: object) -> None:
        raise TooSlow

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, MOST_SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A run and a display that end when they have opened all their files and used them once."""

    def run(runtime: Any, opened: Any, sources: Any, **more: Any) -> Any:
        for source in sources:
            for at in (0.0, 1.0):
                source.due(at)
            for finding in source.take_findings():
                more["on_event"](hmic.runtime.runtime.Problem(finding))
        for each in more["attendants"]:
            for finding in [*each.turn(0.0), *each.turn(100.0), *each.close()]:
                more["on_event"](hmic.runtime.runtime.Problem(finding))
        return hmic.runtime.run.Summary(0, 0, 0, ())

    def serve(server: Any) -> None:
        picture = server._picture
        if picture is not None:
            from PIL import Image

            server._save(Image.new("RGB", (4, 4)), picture)

    monkeypatch.setattr(hmic.runtime.run, "run", run)
    monkeypatch.setattr(hmic.display.serve.Server, "run", serve)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state_home"))


@pytest.fixture(autouse=True)
def example_compiled_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The example beside which strange files stand is always the same."""

    def compiled(folder: Path, language: str | None = None, *stamped: bytes | None) -> Any:
        return example() if (folder, language) == (LARK, None) else compile_design(folder, language, *stamped)

    for module in (hmic.cli.designs, hmic.compile.compiling):
        monkeypatch.setattr(module, "compile_design", compiled)


@cache
def example() -> Any:
    return compile_design(LARK)


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pack") / "good.pack"
    assert main(["build", str(LARK), "-o", str(path)]) == 0
    return path


def words_for(place: Place, path: str, pack: Path) -> list[str]:
    """A command line that is right but for this argument."""
    words = [place.command]
    for action in actions(place.command):
        mine = action.dest == place.argument.dest
        if not mine and not action.required:
            continue
        value = path if mine else None
        if value is None and action.dest in NEEDED:
            words += NEEDED[action.dest]
            continue
        if value is None:
            known = {"design": str(LARK), "file": str(pack), "out": "out", "output": "out.pack"}
            known["directory"] = "made"
            if place.command == "signals":
                known["design"] = str(shutil.copytree(LARK, "car", ignore=shutil.ignore_patterns("logs")))
            known["replay"] = str(LARK / "logs" / "ten_minutes.blf")
            value = known[action.dest]
        words += [action.option_strings[0], value] if action.option_strings else [value]
    return words + BESIDE.get(str(place), [])


def is_written(place: Place) -> bool:
    """Whether the command makes what stands there."""
    return place.argument.dest in WRITTEN and str(place) not in READ


def suffixed(place: Place, name: str) -> list[str]:
    """The names under which a command may look at a file differently."""
    ends = {"replay": [".blf", ".log", ".record", ".asc"], "path": [".layout", ""]}
    return [name + end for end in ends.get(place.argument.dest, [""])]


def tried(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    started = time.perf_counter()
    with in_time():
        code = main(words)
    assert time.perf_counter() - started < MOST_SECONDS
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return code, out + err


def what_fits(place: Place) -> set[str]:
    """The kinds with which a command may go on. What it reads is none of these; what it makes can stand
    where nothing, or nothing of worth, stood."""
    dest = place.argument.dest
    if dest == "pipe":
        return {"pipe", "empty", "garbage", "device", "link"}
    if dest == "path":
        return {"empty"}
    if not is_written(place):
        return set()
    # A log goes on where one stands; a record and sums set aside what does; requests are only written
    # once there is one.
    more = {
        "out": {"folder", "full", "device"} if place.command in ("preview", "demo", "player") else {"device"},
        "output": {"device"},
        "report": {"device"},
        "page": {"device"},
        "picture": set(NAMES),
        "directory": {"folder"},
        "log": {"garbage"},
        "record": {"garbage"},
        "state": set(NAMES),
        "pipe_out": set(NAMES),
    }
    return {"nothing", "empty"} | more.get(dest, set())


@pytest.mark.parametrize(("kind", "name"), list(zip(KINDS, NAMES, strict=True)), ids=NAMES)
@pytest.mark.parametrize("place", PLACES, ids=str)
def test_what_stands_there(
    place: Place, kind: Any, name: str, tmp_path: Path, pack: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fits = name in what_fits(place)
    if place.command == "demo" and (fits or name == "nothing"):
        pytest.skip("takes ten seconds, and has a test of its own")
    (tmp_path / "treasure").write_bytes(b"treasure")
    for file in suffixed(place, "named"):
        path = tmp_path / file
        kind(path)
        code, said = tried(words_for(place, str(path), pack), capsys)
        told = path.name in said and re.search(r"\b[A-Z]\d{3}\b", said) is not None and "remedy" in said
        assert fits or (code in (1, 2) and told), said
        assert code in (0, 1, 2)
        assert (tmp_path / "treasure").read_bytes() == b"treasure"
        if name in ("link", "loop"):
            assert path.is_symlink()


@pytest.mark.parametrize(("kind", "name"), list(zip(KINDS, NAMES, strict=True)), ids=NAMES)
@pytest.mark.parametrize("part", ["", ".older", ".part"])
def test_what_stands_where_sums_are_kept(part: str, kind: Any, name: str, tmp_path: Path) -> None:
    (tmp_path / "treasure").write_bytes(b"treasure")
    path = tmp_path / "named"
    kind(path.with_name(path.name + part))
    with in_time():
        sums, findings = load_sums(path)
        assert sums == {} and (bool(findings) or name == "nothing" or part == ".part")
        try:
            save_sums(path, {"a": Sum(1.0)})
        except OSError as told:
            assert told.strerror
        else:
            assert load_sums(path) == ({"a": Sum(1.0)}, [])
    assert (tmp_path / "treasure").read_bytes() == b"treasure"


@pytest.mark.parametrize("odd", ODD_NAMES, ids=ascii)
@pytest.mark.parametrize("place", PLACES, ids=str)
def test_a_name_that_no_file_can_have(
    place: Place, odd: str, pack: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if place.command == "demo" and len(odd) < 300 and "\0" not in odd:
        pytest.skip("takes ten seconds, and has a test of its own")
    for name in suffixed(place, odd):
        code, said = tried(words_for(place, name, pack), capsys)
        assert code in (1, 2) or is_written(place), said


APART = {"logs", "pictures"}
FILES = sorted(
    path.relative_to(LARK) for path in LARK.rglob("*") if path.is_file() and APART.isdisjoint(path.parts)
)
PICTURED = """screen look "Look"
    picture "face.png" means "a face" at 10 mm, 10 mm sized 10 mm x 10 mm
"""


@pytest.mark.parametrize(("kind", "name"), list(zip(KINDS, NAMES, strict=True)), ids=NAMES)
@pytest.mark.parametrize("file", [*FILES, Path("face.png"), Path("own.ttf")], ids=str)
def test_what_a_design_names(
    file: Path, kind: Any, name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    van = tmp_path / "van"
    shutil.copytree(LARK, van, ignore=shutil.ignore_patterns("logs"))
    (tmp_path / "van" / "treasure").write_bytes(b"treasure")
    if file.name == "own.ttf":
        settings = van / "design.yaml"
        text = settings.read_text("utf-8").replace("text: B612-Regular", "text: own.ttf")
        settings.write_text(text, "utf-8")
        assert "own.ttf" in text
    if file.name == "face.png":
        (van / "look.layout").write_text(PICTURED, "utf-8")
    if (van / file).exists():
        (van / file).unlink()
    kind(van / file)
    code, said = tried(["check", "van"], capsys)
    assert code == 0 or re.search(r"\b[A-Z]\d{3}\b", said), said
    if file.suffix in (".png", ".ttf"):
        assert code == 1 and (file.name in said or name == "link"), said
    assert (van / "treasure").read_bytes() == b"treasure"
