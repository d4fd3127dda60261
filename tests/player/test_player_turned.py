"""A panel that is mounted turned: what the port's help says, held to numpy's turning of whole pictures."""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

import numpy
import pytest

from hmic.cli.main import main
from tests.tools.designs import LAYOUTS
from tests.tools.player import SOURCES, compiler, run

PROGRAM = """\
#include "hmic_turned.h"
#include <stdio.h>
#include <stdlib.h>

/* turned width height left top part_width part_height: sends the part to a panel, asks back for fingers. */
int main(int count, char **words)
{
    unsigned given[7];
    for (int at = 0; at < 7; at++)
        given[at] = (unsigned)atoi(words[at + 1]);
    hmic_window part = {(uint16_t)given[3], (uint16_t)given[4], (uint16_t)given[5], (uint16_t)given[6]};
    hmic_window on = hmic_turned_window(given[0], (uint16_t)given[1], (uint16_t)given[2], part);
    (void)count;
    for (uint16_t y = 0; y < on.height; y++)
        for (uint16_t x = 0; x < on.width; x++) {
            uint32_t pixel = hmic_turned_pixel(given[0], part, x, y);
            uint16_t fx = (uint16_t)(on.left + x), fy = (uint16_t)(on.top + y);
            printf("%u %u %u ", fx, fy, (unsigned)pixel);
            hmic_upright_finger(given[0], (uint16_t)given[1], (uint16_t)given[2], &fx, &fy);
            printf("%u %u\\n", fx, fy);
        }
    return 0;
}
"""


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("turned")
    (folder / "turned.c").write_text(PROGRAM)
    words = ["-std=c99", "-Wall", "-Wextra", "-Werror", f"-I{SOURCES}", str(folder / "turned.c")]
    run([*compiler(), *words, "-o", str(folder / "turned")])
    return folder / "turned"


@pytest.mark.parametrize("seed", range(24))
def test_parts_and_fingers_are_those_of_the_whole_picture_turned(program: Path, seed: int) -> None:
    dice = random.Random(seed)
    turned = (0, 90, 180, 270)[seed % 4]
    width, height = dice.randint(1, 40), dice.randint(1, 40)
    left, top = dice.randrange(width), dice.randrange(height)
    wide, high = dice.randint(1, width - left), dice.randint(1, height - top)
    upright = numpy.arange(width * height).reshape(height, width)
    # Mounted clockwise the panel needs the picture the other way round.
    native = numpy.rot90(upright, turned // 90)
    part = upright[top : top + high, left : left + wide].ravel()
    command = [str(program), *map(str, (turned, width, height, left, top, wide, high))]
    said = subprocess.run(command, capture_output=True, text=True, check=True)
    seen = set()
    for line in said.stdout.splitlines():
        x, y, number, finger_x, finger_y = map(int, line.split())
        assert native[y, x] == part[number]
        assert upright[finger_y, finger_x] == native[y, x]
        seen.add(number)
    assert seen == set(range(wide * high))


def test_the_written_player_has_the_turning_of_its_design(tmp_path: Path) -> None:
    design = tmp_path / "roost"
    design.mkdir()
    for path in (LAYOUTS / "roost").iterdir():
        if path.is_file():
            (design / path.name).write_bytes(path.read_bytes())
    text = (design / "design.yaml").read_text()
    (design / "design.yaml").write_text(text.replace("panel:\n", "panel:\n  turned: 270\n"))
    assert main(["player", "--out", str(tmp_path / "out"), "--for", str(design)]) == 0
    assert "#define HMIC_TURNED 270" in (tmp_path / "out" / "src" / "hmic_settings.h").read_text()
    sources = f"-I{tmp_path / 'out' / 'src'}"
    board = ["-c", str(tmp_path / "out" / "board" / "board.c"), "-o", str(tmp_path / "board.o")]
    run([*compiler(), "-std=c99", "-Wall", "-Wextra", "-Werror", sources, *board])
