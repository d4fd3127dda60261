"""Measures with published models: by the publications' own figures, and by numpy on what is painted."""

from __future__ import annotations

import csv
import math
import random
from pathlib import Path

import numpy as np
import pytest
from good_design import FILES, arranged_in, found_in, spoiled
from PIL import Image

from hmic.check.clutter import edge_density
from hmic.check.glare import at_the_eye, night_veil, veil
from hmic.check.task_time import task_time
from hmic.model.actions import ToggleOutput, ZoneAction
from hmic.model.channels import LIVE
from hmic.model.limits import DEFAULTS, Limits
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter

REFERENCE = Path(__file__).parents[1] / "reference" / "14_human_factors.csv"


def figures(subject: str) -> list[float]:
    """What the reviewer read in the publication."""
    lines = REFERENCE.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    (value,) = [row["figure"] for row in rows if row["subject"] == subject]
    return [float(each) for each in value.split(" / ")]


def test_a_veil_is_by_the_printed_equation() -> None:
    """``10 (1 + (age / 70)^4) / angle^2``, Vos 2003: ten cd/m2 of a lux at one degree to a young
    eye, twice that at 70 years, by the square of the distance from the line of sight."""
    assert veil(1, 1, 0) == 10 and veil(1, 1, 70) == 20
    assert veil(3, 30, 35) == pytest.approx(3 * 10 * (1 + 1 / 16) / 900)
    assert veil(1, 5, 40) == pytest.approx(4 * veil(1, 10, 40))


@pytest.fixture(scope="module")
def heron(tmp_path_factory: pytest.TempPathFactory):
    return arranged_in(tmp_path_factory.mktemp("heron"), FILES)[:2]


@pytest.mark.parametrize("degrees", [10, 20, 30])
def test_light_at_the_eye_is_that_of_all_its_spots(degrees: int, heron) -> None:
    """Each square millimetre of a glass that is turned to the eye, by the law of the distance and both
    cosines; the whole as one source is near to that."""
    panel = heron[0].panel
    across, down = np.meshgrid(
        np.arange(0.5, panel.width_mm) - panel.width_mm / 2,
        np.arange(0.5, panel.height_mm) - panel.height_mm / 2,
    )
    squared = across**2 + down**2 + panel.eye_distance**2
    facing = panel.eye_distance / np.sqrt(squared)
    turn = math.radians(degrees)
    # The road lies above the glass.
    ahead = (panel.eye_distance * math.cos(turn) + down * math.sin(turn)) / np.sqrt(squared)
    whole = float((5.0 * facing * ahead / squared).sum())
    assert at_the_eye(5.0, panel, degrees) == pytest.approx(whole, rel=0.03)


def test_the_veil_of_a_design_is_that_of_its_brightest_screen(heron) -> None:
    design, arranged = heron
    found = night_veil(design, arranged, Limits(design))
    assert found is not None and found.theme == "night"
    night = design.themes[1].luminance
    painter, means = Painter(arranged.drawing), {}
    for place, screen in enumerate(arranged.screens):
        for top in (0, 1):
            raw = tuple(LIVE + top * (count - 1) for count in arranged.drawing.channels)
            code = np.asarray(painter.paint(Moment(place, 1, raw)).convert("RGB")) / 255
            light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
            share = float((light @ np.array([0.2126, 0.7152, 0.0722])).mean())
            mean = night / 500 + (night - night / 500) * share
            means[screen.name] = max(mean, means.get(screen.name, 0))
    area = 154.1 * 85.9 / 700**2
    lux = max(means.values()) * area * math.cos(math.radians(20))
    assert found.amount == pytest.approx(10 * (1 + (60 / 70) ** 4) * lux / 400, rel=1e-3)
    assert found.screen == max(means, key=means.__getitem__)


def test_the_seconds_of_an_act_are_the_published_ones() -> None:
    (press,), (near, far), (search,) = (
        figures(f"in-vehicle keystroke: {name}") for name in ("press", "reach near / far", "visual search")
    )
    switch = ToggleOutput("heat.on")
    here = task_time(0, ZoneAction(switch))
    assert here.seconds == here.longest == pytest.approx(search + far + press)
    two = task_time(2, ZoneAction(switch, held_ms=1500, confirm="Heat?"))
    assert two.longest == here.longest
    assert two.seconds == pytest.approx(4 * search + far + 2 * near + 4 * press + 1.5)
    assert figures("glance / task time limits") == [
        DEFAULTS[f"{name} while driving"].value for name in ("glance", "task")
    ]


NEVER = ("battery.layout", ", allowed when vehicle.speed < 1 km/h\n    in mode", "\n    in mode")


def limits(**said: float) -> tuple[str, str, str]:
    lines = "".join(
        f"  {name} while driving: {{limit: {value!r} s, because: driven in narrow lanes}}\n"
        for name, value in said.items()
    )
    return ("design.yaml", "start: road\n", f"limits:\n{lines}start: road\n")


# From `road` to `battery` one touch, there the switch: 0.54 + 0.75 + 0.64 and 0.54 + 0.42 + 0.64.
@pytest.mark.parametrize(
    ("said", "codes"),
    [
        ({}, []),
        ({"task": 3.54}, []),
        ({"task": 3.52}, ["C471"]),
        ({"glance": 1.94}, []),
        ({"glance": 1.92}, ["C472"]),
    ],
)
def test_an_act_on_the_road_is_held_against_its_limits(
    said: dict[str, float], codes: list[str], tmp_path: Path
) -> None:
    found = found_in(tmp_path, spoiled(NEVER, *([limits(**said)] if said else [])))
    assert [item.code for item in found] == codes
    assert not codes or found[0].measured == pytest.approx(3.53 if "task" in said else 1.93)


def test_what_is_done_standing_is_no_act_on_the_road(tmp_path: Path) -> None:
    assert found_in(tmp_path, spoiled(limits(task=1, glance=1))) == []


def far_away(steps: int) -> dict[str, str]:
    """The switch of `battery` behind so many screens."""
    files = spoiled(NEVER, ("road.layout", "goes to battery", "goes to step1"))
    for step in range(1, steps + 1):
        goes = f"step{step + 1}" if step < steps else "battery"
        files[f"step{step}.layout"] = (
            f'screen step{step} "Step {step}"\n    plan\n        next lamps\n    rows 1\n\n'
            f'    in next   button "On", goes to {goes}\n'
            '    in lamps  lamp battery, danger while pack.fault, means "Battery fault: stop"\n'
        )
    return files


@pytest.mark.parametrize(("steps", "codes"), [(4, []), (5, ["C416"]), (6, ["C471"])])
def test_far_acts_are_told_once(steps: int, codes: list[str], tmp_path: Path) -> None:
    """1.93 s and 1.6 s a touch: six touches more than 12 s, of which six are 11.5."""
    found = found_in(tmp_path, far_away(steps))
    assert [item.code for item in found if item.code in ("C416", "C471", "C472")] == codes


def picture(seed: int, width: int, height: int) -> Image.Image:
    generator = random.Random(seed)
    made = Image.new("RGB", (width, height), (12, 16, 20))
    for _ in range(6):
        left, top = generator.randrange(width), generator.randrange(height)
        size = (generator.randint(1, 9), generator.randint(1, 9))
        made.paste(
            tuple(generator.randrange(256) for _ in range(3)), (left, top, left + size[0], top + size[1])
        )
    return made


@pytest.mark.parametrize("seed", range(5))
def test_edges_are_sobels(seed: int) -> None:
    made = picture(seed, 40, 28)
    grey = np.asarray(made.convert("L"), dtype=float)
    near = np.lib.stride_tricks.sliding_window_view(grey, (3, 3))
    across = np.array([[-1, 0, 1], [-2, 0, 2], [-1, 0, 1]])
    steep = np.maximum(np.abs((near * across).sum(axis=(2, 3))), np.abs((near * across.T).sum(axis=(2, 3))))
    # Pillow rounds to a code before it is held against the limit.
    edges = np.floor(np.minimum(steep / 4, 255) + 0.5) > 255 / 8
    assert edge_density(made) == pytest.approx(100 * edges.sum() / grey.size)


def test_an_even_picture_has_no_edge() -> None:
    assert edge_density(Image.new("RGB", (20, 10), (200, 30, 90))) == 0
    assert edge_density(Image.new("RGB", (1, 1))) == 0
