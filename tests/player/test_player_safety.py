"""Warnings of two compilers, and the player under sanitizers on random drawings and mangled packs."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from hmic.pack.writer import write
from hmic.paint.operations import Drawing
from tests.pack.test_pack_format import example
from tests.pack.test_pack_operations import ALL, drawing
from tests.player.test_player_pack import ODD
from tests.tools.drawings import drawings
from tests.tools.player import SOURCES, WARNINGS, run, sources

HERE = Path(__file__).parent
ZIG = [sys.executable, "-m", "ziglang", "cc"]
MANGLED = 12

needs_gcc = pytest.mark.skipif(shutil.which("gcc") is None, reason="gcc is not installed: half of the check")


@pytest.mark.parametrize(
    ("name", "command"),
    [pytest.param("gcc", ["gcc"], marks=needs_gcc), ("clang", ZIG)],
)
def test_no_warning(name: str, command: list[str], tmp_path: Path) -> None:
    for source in sources():
        made = str(tmp_path / "made.o")
        run([*command, *WARNINGS, "-ffreestanding", "-Os", "-c", str(source), "-o", made])


@needs_gcc
def test_the_analyser_of_gcc_finds_nothing(tmp_path: Path) -> None:
    for source in sources():
        run(["gcc", *WARNINGS, "-fanalyzer", "-Os", "-c", str(source), "-o", str(tmp_path / "made.o")])


def test_only_four_functions_are_asked_of_a_library(tmp_path: Path) -> None:
    """Freestanding: nothing undefined but memory functions and what compilers bring for division."""
    made = []
    for source in sources():
        made.append(tmp_path / f"{source.stem}.o")
        bare = ["-target", "x86_64-linux-musl", "-Os", "-ffreestanding"]
        run([*ZIG, *bare, "-c", str(source), "-o", str(made[-1])])
    listed = subprocess.run(
        ["nm", *map(str, made)], capture_output=True, text=True, check=True
    ).stdout.splitlines()
    undefined = {line.split()[-1] for line in listed if " U " in line}
    defined = {line.split()[-1] for line in listed if " T " in line}
    assert undefined - defined <= {"memcpy", "memmove", "memset", "memcmp"}
    assert not [line for line in listed if line.split()[-2:-1] and line.split()[-2] in "BbDdCc"], "no globals"


def several(tmp_path: Path) -> Path:
    """A file of packs: random drawings, and each mangled some times."""
    chance = random.Random(20)
    packs: list[bytes] = [write(example()), write(drawing(*ALL))]

    @settings(
        max_examples=150,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
        database=None,
    )
    @given(drawings(), st.just(None))
    def gather(whole: Drawing, _: None) -> None:
        packs.append(write(whole))

    gather()
    for data in list(packs):
        for _ in range(MANGLED):
            broken = bytearray(data)
            for _ in range(chance.choice((1, 1, 2, 4))):
                broken[chance.randrange(20, len(broken))] = chance.choice((*ODD, chance.randrange(256)))
            packs.append(bytes(broken))
    packs += [data[: chance.randrange(len(data))] for data in packs[:60]]
    file = tmp_path / "packs"
    file.write_bytes(b"".join(len(data).to_bytes(4, "little") + data for data in packs))
    return file


@needs_gcc
def test_sanitizers_find_nothing_wrong_with_sound_or_mangled_packs(tmp_path: Path) -> None:
    program = str(tmp_path / "fuzz_pack")
    checks = ["-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
    files = [HERE / "fuzz_pack.c", *sources()]
    run(["gcc", "-std=c99", *checks, f"-I{SOURCES}", *map(str, files), "-o", program])
    run([program, str(several(tmp_path))])


def test_undefined_behaviour_traps_nowhere(tmp_path: Path) -> None:
    program = str(tmp_path / "fuzz_pack")
    checks = ["-O1", "-fsanitize=undefined", "-fsanitize-trap=undefined"]
    files = [HERE / "fuzz_pack.c", *sources()]
    run([*ZIG, "-std=c99", *checks, f"-I{SOURCES}", *map(str, files), "-o", program])
    run([program, str(several(tmp_path))])
