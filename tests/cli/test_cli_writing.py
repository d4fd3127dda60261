"""What a command writes: whole, over its own kind only, through links, with the rights that stood."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from hmic.cli.writing import write_result, write_whole
from hmic.diagnostics import DesignError


def test_a_link_stays_and_its_target_is_written(tmp_path: Path) -> None:
    target, link = tmp_path / "target", tmp_path / "link"
    target.write_bytes(b"old")
    link.symlink_to(target)
    write_whole(link, b"new")
    assert link.is_symlink() and target.read_bytes() == b"new"


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
    write_result(pipe, b"whole")
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
