"""A folder that holds far more than a design: it is told, or checked, at once and in bounded
memory."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import pytest

from hmic.cli.main import main
from hmic.compile.kept_findings import MOST_ENTRIES, MOST_FILES, stamp
from tests.check.good_design import FILES
from tests.tools.large_designs import written


def test_many_large_files_beside_a_design_take_no_memory(tmp_path: Path) -> None:
    written(tmp_path, FILES | {f"{n}.png": bytes(4_000_000) for n in range(20)})
    tracemalloc.start()
    try:
        assert stamp(tmp_path, None) is not None
        assert tracemalloc.get_traced_memory()[1] < 20_000_000
    finally:
        tracemalloc.stop()


def test_every_file_and_its_place_count(tmp_path: Path) -> None:
    written(tmp_path, FILES | {"a.png": b"", "b.png": b"x"})
    first = stamp(tmp_path, None)
    assert first == stamp(tmp_path, None) != stamp(tmp_path, "de")
    written(tmp_path, {"a.png": b"x", "b.png": b""})
    assert first != stamp(tmp_path, None)


def test_a_folder_of_very_many_files_is_not_gone_through(tmp_path: Path) -> None:
    few = len(FILES)
    written(tmp_path, FILES | {f"more/{n}.png": b"" for n in range(MOST_FILES - few)})
    assert stamp(tmp_path, None) is not None
    written(tmp_path, {"one.png": b"", "another.png": b""})
    assert stamp(tmp_path, None) is None
    for n in range(MOST_ENTRIES):
        (tmp_path / f"{n}.txt").touch()
    start = time.perf_counter()
    assert stamp(tmp_path, None) is None and time.perf_counter() - start < 20


@pytest.mark.parametrize("changes", [{}, {"design.yaml": "nothing"}])
def test_such_a_folder_is_checked_all_the_same(changes: dict[str, str], tmp_path: Path) -> None:
    written(tmp_path, FILES | {f"{n}.png": b"" for n in range(MOST_FILES)} | changes)
    assert main(["check", str(tmp_path)]) == bool(changes)
