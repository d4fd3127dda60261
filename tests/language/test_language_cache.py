"""The grammar's cache is a convenience: without it, or with a broken one, parsing is the same."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

CODE = "from hmic.language.parser import parse; print(parse('screen s \"S\"\\n', 'x')[0].screens[0].name)"


def run(cache: Path) -> tuple[str, str]:
    """Output and error output of a fresh process with this cache folder."""
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache), "PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(
        [sys.executable, "-c", CODE], env=environment, capture_output=True, text=True, check=True
    )
    return done.stdout.strip(), done.stderr


def test_cache_is_written_used_and_survives_damage(tmp_path: Path) -> None:
    assert run(tmp_path) == ("s", "")
    (file,) = (tmp_path / "hmic").iterdir()
    assert file.stat().st_size > 1000
    assert run(tmp_path) == ("s", "")
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    assert run(tmp_path) == ("s", "")
    file.write_bytes(b"nonsense")
    assert run(tmp_path) == ("s", "")


def test_folder_that_cannot_be_written(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    assert run(blocked) == ("s", "")
    assert blocked.read_text() == "not a folder"
