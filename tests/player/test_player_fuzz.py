"""A search guided by coverage (libFuzzer), for some seconds: ``HMIC_FUZZ_SECONDS`` says how many."""

from __future__ import annotations

import os
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from hmic.pack.writer import write
from tests.display.test_display_line import two_screens
from tests.pack.test_pack_format import example
from tests.pack.test_pack_operations import ALL, drawing
from tests.tools.player import SOURCES, sources

HERE = Path(__file__).parent
SECONDS = int(os.environ.get("HMIC_FUZZ_SECONDS", "10"))
FLAGS = ["-std=c99", "-g", "-O1", "-DHMIC_FUZZER", "-fsanitize=fuzzer,address,undefined"]


def has_fuzzer(folder: Path) -> bool:
    """Whether clang and libFuzzer are installed (Debian: clang, libclang-rt-dev)."""
    probe = folder / "probe.c"
    probe.write_text(
        "#include <stddef.h>\n#include <stdint.h>\n"
        "int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) { return data && size ? 0 : 0; }\n"
    )
    if shutil.which("clang") is None:
        return False
    command = ["clang", *FLAGS, str(probe), "-o", str(folder / "probe")]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


@pytest.mark.parametrize("target", ["pack", "line"])
def test_a_search_finds_nothing(target: str, tmp_path: Path) -> None:
    if not has_fuzzer(tmp_path):
        pytest.skip("clang with libFuzzer is not installed: no search guided by coverage was run")
    seeds = tmp_path / "seeds"
    seeds.mkdir()
    for number, whole in enumerate((example(), drawing(*ALL))):
        (seeds / f"{number}").write_bytes(write(whole))
    pack = tmp_path / "pack"
    pack.write_bytes(write(replace(two_screens(), depth=16)))
    program = str(tmp_path / "search")
    files = [HERE / f"fuzz_{target}.c", *sources()]
    options = [*FLAGS, "-fno-sanitize-recover=all", f"-I{SOURCES}"]
    subprocess.run(["clang", *options, *map(str, files), "-o", program], check=True)
    limits = [f"-max_total_time={SECONDS}", "-timeout=10", "-seed=1", f"-artifact_prefix={tmp_path}/"]
    done = subprocess.run(
        [program, *limits, str(seeds)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "HMIC_PACK": str(pack)},
    )
    assert done.returncode == 0, done.stderr[-4000:]
