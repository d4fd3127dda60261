"""What a command writes: whole, over its own kind only, through no link, with the rights that stood."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

from hmic.cli.writing import write_result, write_whole
from hmic.diagnostics import DesignError


@pytest.mark.parametrize("there", [True, False])
def test_nothing_is_written_through_a_link(tmp_path: Path, there: bool) -> None:
    """Somebody else may have put it there, to have another file of ours overwritten."""
    target, link = tmp_path / "target", tmp_path / "link"
    if there:
        target.write_bytes(b"old")
    link.symlink_to(target)
    with pytest.raises(DesignError, match="it is a link; name the file itself"):
        write_whole(link, b"new")
    assert link.is_symlink() and target.exists() == there and (not there or target.read_bytes() == b"old")


def test_nor_through_a_link_at_the_name_that_it_takes_meanwhile(tmp_path: Path) -> None:
    target, path = tmp_path / "target", tmp_path / "file"
    target.write_bytes(b"old")
    (tmp_path / f".file.{os.getpid()}.part").symlink_to(target)
    write_whole(path, b"new")
    assert target.read_bytes() == b"old" and path.read_bytes() == b"new" and not path.is_symlink()
    assert sorted(each.name for each in tmp_path.iterdir()) == ["file", "target"]


def test_a_link_to_what_is_no_file_is_followed(tmp_path: Path) -> None:
    link = tmp_path / "stdout"
    link.symlink_to("/dev/null")
    write_result(link, b"x")
    assert link.is_symlink()


def test_rights_stay(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"old")
    path.chmod(0o600)
    write_whole(path, b"new")
    assert path.stat().st_mode & 0o777 == 0o600 and path.read_bytes() == b"new"


def test_what_is_no_file_is_written_into(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = subprocess.Popen(
        [sys.executable, "-c", f"print(open({str(pipe)!r}).read())"], stdout=subprocess.PIPE, text=True
    )
    for _ in range(500):
        # Until the reader is there.
        with suppress(DesignError):
            write_result(pipe, b"whole")
            break
        time.sleep(0.01)
    assert reader.communicate(timeout=10)[0] == "whole\n" and pipe.is_fifo()


@pytest.mark.parametrize("standing", [b"", b"PACK older"])
def test_its_own_kind_is_replaced(tmp_path: Path, standing: bytes) -> None:
    path = tmp_path / "x.pack"
    path.write_bytes(standing)
    write_result(path, b"PACK newer")
    assert path.read_bytes() == b"PACK newer"


def test_another_kind_is_not(tmp_path: Path) -> None:
    path = tmp_path / "drive.layout"
    path.write_text("screen drive", encoding="utf-8")
    with pytest.raises(DesignError) as raised:
        write_result(path, b"PACK")
    assert [finding.code for finding in raised.value.findings] == ["U912"]
    assert path.read_text(encoding="utf-8") == "screen drive" and list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("words", [["explain"], ["explain", "L106"], ["--version"]])
def test_a_closed_or_full_output_is_no_traceback(words: list[str]) -> None:
    command = [sys.executable, "-m", "hmic", *words]
    closed = subprocess.run(
        ["sh", "-c", '"$@" >&-', "sh", *command], capture_output=True, text=True, check=False, timeout=30
    )
    assert closed.returncode == 0 and closed.stderr == ""
    if words[0] == "explain" and Path("/dev/full").exists():
        with Path("/dev/full").open("wb") as full:
            ended = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, timeout=30)
        assert ended.returncode == 1 and "cannot be written" in ended.stderr
        assert "Traceback" not in ended.stderr
