"""A search guided by coverage (libFuzzer) over the three targets, for some seconds, and what it found before.

``HMIC_FUZZ_SECONDS`` says how many for each target. ``tests/player/corpus/`` holds, for each, the few inputs
that reach all that longer searches reached, as rows of a u32 length and as many bytes, compressed. To search
for long, and to keep what was new:

    python -m tests.player.test_player_fuzz SECONDS
"""

from __future__ import annotations

import lzma
import os
import random
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from hmic.pack.writer import write
from tests.display.test_display_line import two_screens
from tests.pack.test_pack_format import example
from tests.pack.test_pack_operations import ALL, drawing
from tests.player.test_player_hostile import STREAMS, stream
from tests.player.test_player_safety import needs_gcc
from tests.tools.changed import replace
from tests.tools.player import SOURCES, run, sources
from tests.wire.bad_line import Bench
from tests.wire.bad_peers import seen_bodies

HERE = Path(__file__).parent
CORPUS = HERE / "corpus"
TARGETS = ("pack", "frame", "line")
SECONDS = int(os.environ.get("HMIC_FUZZ_SECONDS", "6"))
LONGEST = {"pack": 2048, "frame": 1200, "line": 1024}
SANITIZED = ["-std=c99", "-g", "-O1", "-fno-sanitize-recover=all"]
FLAGS = [*SANITIZED, "-DHMIC_FUZZER", "-fsanitize=fuzzer,address,undefined"]


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


def packed(target: str) -> Path:
    """The file of a target's inputs."""
    return CORPUS / f"{target}.xz"


def rows(target: str) -> Iterator[bytes]:
    """The inputs that are kept for a target."""
    data, at = lzma.decompress(packed(target).read_bytes()), 0
    while at < len(data):
        length = int.from_bytes(data[at : at + 4], "little")
        yield data[at + 4 : at + 4 + length]
        at += 4 + length


def keep(target: str, inputs: list[bytes]) -> None:
    """Keeps inputs, in an order that is always the same."""
    CORPUS.mkdir(exist_ok=True)
    ordered = sorted(inputs, key=lambda data: (len(data), data))
    joined = b"".join(len(data).to_bytes(4, "little") + data for data in ordered)
    packed(target).write_bytes(lzma.compress(joined, preset=9))


def line_pack(folder: Path) -> Path:
    """The pack that the display of the line's target shows."""
    path = folder / "pack"
    path.write_bytes(write(replace(two_screens(), depth=16)))
    return path


def prepared(target: str, folder: Path) -> list[str]:
    """The search's program, and a folder of inputs to begin with."""
    seeds = folder / "seeds"
    seeds.mkdir()
    known = list(rows(target))
    if target == "pack":
        known += [write(example()), write(drawing(*ALL))]
    if target == "line":
        true, _ = seen_bodies(Bench(1))
        known += [stream(random.Random(seed), true)[: LONGEST["line"]] for seed in range(STREAMS)]
    for number, data in enumerate(known):
        (seeds / f"{number}").write_bytes(data)
    program = str(folder / "search")
    files = [HERE / f"fuzz_{target}.c", *sources()]
    run(["clang", *FLAGS, f"-I{SOURCES}", *map(str, files), "-o", program])
    return [program, f"-max_len={LONGEST[target]}", "-timeout=10", f"-artifact_prefix={folder}/"]


def searched(command: list[str], folder: Path) -> str:
    """What the search said; it must have found nothing."""
    surroundings = {**os.environ, "HMIC_PACK": str(line_pack(folder))}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=surroundings)
    assert done.returncode == 0, done.stderr[-4000:]
    return done.stderr


@pytest.mark.parametrize("target", TARGETS)
def test_a_search_finds_nothing(target: str, tmp_path: Path) -> None:
    if not has_fuzzer(tmp_path):
        pytest.skip("clang with libFuzzer is not installed: NO SEARCH GUIDED BY COVERAGE WAS RUN")
    command = prepared(target, tmp_path)
    said = searched([*command, "-seed=1", f"-max_total_time={SECONDS}", str(tmp_path / "seeds")], tmp_path)
    assert int(re.findall(r"Done (\d+) runs", said)[0]) > 1000


@needs_gcc
@pytest.mark.parametrize("target", TARGETS)
def test_what_was_found_before_holds_under_sanitizers(target: str, tmp_path: Path) -> None:
    program = str(tmp_path / "replay")
    files = [HERE / f"fuzz_{target}.c", *sources()]
    checks = [*SANITIZED, "-fsanitize=address,undefined"]
    run(["gcc", *checks, f"-I{SOURCES}", *map(str, files), "-o", program])
    file = tmp_path / "rows"
    file.write_bytes(lzma.decompress(packed(target).read_bytes()))
    run([program, *([str(line_pack(tmp_path))] if target == "line" else []), str(file)])


def test_the_corpus_is_small() -> None:
    assert 0 < sum(packed(target).stat().st_size for target in TARGETS) < 200_000


def main() -> None:
    """Searches for so many seconds a target, says what it came to, and keeps a few inputs that reach as
    much."""
    seconds = int(sys.argv[1])
    for target in TARGETS:
        with TemporaryDirectory() as name:
            folder = Path(name)
            command = prepared(target, folder)
            said = searched([*command, f"-max_total_time={seconds}", str(folder / "seeds")], folder)
            (folder / "kept").mkdir()
            searched([*command, "-set_cover_merge=1", str(folder / "kept"), str(folder / "seeds")], folder)
            keep(target, [path.read_bytes() for path in (folder / "kept").iterdir()])
            runs = re.findall(r"Done (\d+) runs", said)[0]
            reached = re.findall(r"cov: (\d+) ft: (\d+)", said)[-1]
            size = packed(target).stat().st_size
            kept = len(list((folder / "kept").iterdir()))
            print(f"{target}: {runs} runs in {seconds} s, {reached[0]} edges, {reached[1]} features", end="")
            print(f"; kept {kept} inputs, {size} bytes", flush=True)


if __name__ == "__main__":
    main()
