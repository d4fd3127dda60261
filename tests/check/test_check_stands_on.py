"""What stands on pictures and on each other: against pixels counted one by one."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import pytest
from good_design import spoiled
from PIL import Image

from hmic.arrange.compose import Arranged, arrange
from hmic.check.contrast import measures
from hmic.check.painted import Painted
from hmic.check.rules import check
from hmic.diagnostics import Finding
from hmic.language.syntax import Text
from hmic.model.design import Design
from hmic.model.limits import Limits
from hmic.model.load import load
from hmic.paint.operations import LIVE, Moment, Run
from hmic.paint.painter import Painter
from hmic.paint.pictures import colours
from tests.tools.changed import replace

VOLTS = 'reading pack.voltage as "0.0 V", text 36 arcmin, called "Voltage"'


def made(
    folder: Path, body: str, shade: Callable[[int, int], tuple[int, ...]], *changes: tuple[str, str, str]
) -> tuple[Design, Arranged]:
    """The good design with a free area and a picture of which each pixel is told."""
    files = spoiled(("battery.layout", VOLTS, f"freely\n        {body}"), *changes)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    pixels = b"".join(bytes(shade(x, y)) for y in range(100) for x in range(160))
    picture = Image.frombytes("RGBA", (160, 100), pixels)
    picture.save(folder / "under.png")
    design, found = load(folder)
    assert design is not None, found
    arranged, findings = arrange(design)
    assert arranged is not None, findings
    return design, arranged


READING = 'reading pack.voltage as "0.0 V", text 36 arcmin, at 22 mm across 15 mm down'


def found(folder: Path, body: str, shade: Callable[[int, int], tuple[int, ...]]) -> list[Finding]:
    return check(*made(folder, body, shade))


ON = (
    'picture "under.png", behind, at 20 mm across 14 mm down\n'
    '        label "Hull", text 30 arcmin, at 20 mm across 14 mm down'
)


def test_contrast_is_that_of_the_worst_part_of_the_picture(tmp_path: Path) -> None:
    """Noise of every luminance: of the pixels in the place of a text as many as count are no better."""
    noise = random.Random(3)
    design, arranged = made(tmp_path, ON, lambda x, y: (*(noise.randrange(256) for _ in range(3)), 255))
    number = [screen.name for screen in arranged.screens].index("battery")
    painted = Painted(arranged, number)
    at = next(at for at in range(len(painted.operations)) if _says(painted, at, "Hull"))
    box, under = painted.operations[at].box, painted.operations[at - 1].box
    whole = colours(arranged.drawing.pictures[0])
    left, top = box.left - under.left, box.top - under.top
    pixels = [
        whole.getpixel((x, y))
        for x in range(left, left + box.width)
        for y in range(top, top + box.height)
    ]
    for measure in measures(design, Limits(design), painted):
        if measure.index == at:
            ratios = sorted(measure.light.ratio(measure.ink, pixel) for pixel in pixels)
            assert ratios[0] <= measure.ratio <= ratios[len(ratios) * 4 // 100]


@pytest.mark.parametrize(
    ("shade", "codes"),
    [
        ((20, 30, 34, 255), set()),
        ((230, 230, 220, 255), {"C420"}),
        ((230, 230, 220, 0), set()),
        ((20, 30, 34, 200), set()),
    ],
)
def test_a_text_on_a_picture(shade: tuple[int, ...], codes: set[str], tmp_path: Path) -> None:
    told = found(tmp_path, ON, lambda x, y: shade)
    assert {item.code for item in told} == codes, [(item.code, item.message) for item in told]


def test_a_bright_part_of_a_picture_beside_the_text_is_none_below_it(tmp_path: Path) -> None:
    told = found(tmp_path, ON, lambda x, y: (230, 230, 220, 255) if y < 10 else (20, 30, 34, 255))
    assert {item.code for item in told} <= {"C424", "C425"}


def test_a_lamp_on_a_picture_of_its_colour(tmp_path: Path) -> None:
    lamp = 'lamp motor, caution while motor.temperature > 90 °C, means "Hot", at 20 mm across 14 mm down'
    body = f'picture "under.png", behind, at 20 mm across 14 mm down\n        {lamp}'
    assert {item.code for item in found(tmp_path, body, lambda x, y: (255, 208, 74, 255))} >= {"C421"}


@pytest.mark.parametrize(
    ("standing", "code"),
    [
        ('lamp motor, caution while motor.temperature > 90 °C, means "Hot"', "C421"),
        ('label "Hull", text 30 arcmin', "C420"),
    ],
)
def test_what_a_drawing_hides_is_no_fault_of_its_colour(standing: str, code: str, tmp_path: Path) -> None:
    """The remedy names the drawing, and the ground that it proposes, pasted, mends."""
    behind = 'picture "under.png", behind, at 20 mm across 14 mm down'

    def told(between: str = "") -> list[str]:
        folder = tmp_path / str(len(between))
        folder.mkdir()
        lines = [behind, *([between] if between else []), f"{standing}, at 20 mm across 14 mm down"]
        body = "\n        ".join(lines)
        bright = found(folder, body, lambda x, y: (250, 214, 120, 255))
        return [str(item.remedy) for item in bright if item.code == code]

    before = told()
    assert len(before) == 1
    assert "change the drawing" in before[0] and "themes.yaml" not in before[0]
    pasted = before[0].split("`")[1]
    assert told(pasted) == [], pasted


def test_a_picture_over_a_text_that_it_covers(tmp_path: Path) -> None:
    over = ON.replace(", behind", "").split("\n        ")
    told = found(tmp_path, "\n        ".join(reversed(over)), lambda x, y: (20, 30, 34, 255))
    assert {item.code for item in told} == {"C428"}


def test_a_shape_over_a_value_hides_it_and_a_small_one_over_a_filled_place_does_not(tmp_path: Path) -> None:
    bar = "bar motor.temperature from -40 °C to 160 °C, at 20 mm across 14 mm down, sized 30 mm by 8 mm"
    for name, side, codes in (("small", 3, set()), ("large", 8, {"C480"})):
        folder = tmp_path / name
        folder.mkdir()
        box = f"shape box, colour quiet, at 20 mm across 14 mm down, sized {side} mm"
        told = found(folder, f"{bar}\n        {box}", lambda x, y: (0, 0, 0, 0))
        assert {item.code for item in told} == codes, [(item.code, item.message) for item in told]


@pytest.mark.parametrize("depth", ["16", "24"])
@pytest.mark.parametrize(
    ("shade", "codes"),
    [
        ("from ground to surface", set()),
        ("from ground to ink", {"C420"}),
        ("rightward from ink to ground", {"C420"}),
    ],
)
def test_a_text_on_a_shade_is_held_against_the_worst_band(
    shade: str, codes: set[str], depth: str, tmp_path: Path
) -> None:
    body = f"shape box, shaded {shade}, behind, sized 44 mm by 30 mm\n        {READING}"
    changes = [("design.yaml", "colour depth: 24", f"colour depth: {depth}")]
    told = check(*made(tmp_path, body, lambda x, y: (0, 0, 0, 0), *changes))
    assert {item.code for item in told} - {"C424", "C425"} == codes


def test_a_needle_on_a_shaded_face_is_held_against_its_bands(tmp_path: Path) -> None:
    dial = "dial motor.temperature from -40 °C to 160 °C, figures none, at 20 mm across 14 mm down"
    for name, way, codes in (("dark", "surface to ground", set()), ("light", "ink to ground", {"C421"})):
        folder = tmp_path / name
        folder.mkdir()
        face = f"shape disc, shaded outward from {way}, behind, at 20 mm across 14 mm down, sized 26 mm"
        told = found(folder, f"{face}\n        {dial}, sized 24 mm", lambda x, y: (0, 0, 0, 0))
        assert {item.code for item in told} & {"C421"} == codes, [(each.code, each.message) for each in told]


def test_a_text_on_a_soft_shape_is_held_against_what_is_painted(tmp_path: Path) -> None:
    """The lowest ratio is that of the pixels of a picture of the screen without the text."""
    glow = "shape disc, colour accent, soft 9 mm, behind, at 15 mm across 15 mm down, sized 20 mm"
    body = f'{glow}\n        label "Hull", text 30 arcmin, at {{}} mm across 15 mm down'
    for across, codes in ((15, {"C420"}), (12, {"C420"}), (36, set())):
        folder = tmp_path / str(across)
        folder.mkdir()
        as_painted(made(folder, body.format(across), lambda x, y: (0, 0, 0, 0)), codes)


@pytest.mark.parametrize(
    ("way", "codes"), [("shaded from ground to surface", set()), ("shaded from ground to ink", {"C420"})]
)
def test_a_text_on_a_picture_in_roles_is_held_against_what_is_painted(
    way: str, codes: set[str], tmp_path: Path
) -> None:
    body = ON.replace(", behind", f", {way}, behind")
    as_painted(made(tmp_path, body, lambda x, y: (x * 3 // 2, x * 3 // 2, x * 3 // 2, 255)), codes)


def as_painted(design_of: tuple[Design, Arranged], codes: set[str]) -> None:
    """The ratios of the label "Hull" are those of pixels painted below it, the worst but for a few."""
    design, arranged = design_of
    number = [screen.name for screen in arranged.screens].index("battery")
    painted = Painted(arranged, number)
    at = next(at for at in range(len(painted.operations)) if _says(painted, at, "Hull"))
    for theme, named in enumerate(design.themes):
        pixels = _without(arranged, number, at, theme)
        for measure in measures(design, Limits(design), painted):
            if measure.index == at and measure.light.theme == named.name and not measure.pair.doubt:
                ratios = sorted(measure.light.ratio(measure.ink, pixel) for pixel in pixels)
                assert ratios[0] * 0.99 <= measure.ratio <= ratios[len(ratios) // 20] * 1.01
    assert {item.code for item in check(design, arranged)} & {"C420"} == codes


def _says(painted: Painted, at: int, text: str) -> bool:
    piece = painted.pieces[at]
    subject = piece.widget.subject if piece is not None else None
    return isinstance(painted.operations[at], Run) and isinstance(subject, Text) and subject.text == text


def _without(arranged: Arranged, number: int, at: int, theme: int) -> list[tuple[int, int, int]]:
    """The pixels in the place of an operation, as painted without it and what comes after it."""
    drawing = arranged.drawing
    shown = replace(drawing.screens[number], operations=drawing.screens[number].operations[:at])
    screens = (*drawing.screens[:number], shown, *drawing.screens[number + 1 :])
    values = (LIVE,) * len(drawing.channels)
    picture = Painter(replace(drawing, screens=screens)).paint(Moment(number, theme, values))
    box = drawing.screens[number].operations[at].box
    return [
        picture.getpixel((x, y))
        for x in range(box.left, box.left + box.width)
        for y in range(box.top, box.top + box.height)
    ]


def test_what_is_shown_only_for_a_while_is_seen_in_doubt(tmp_path: Path) -> None:
    """A picture that is there while a fault holds: its doubt is told."""
    during = 'picture "under.png", behind, shown while pack.fault, at 20 mm across 14 mm down'
    told = found(tmp_path, during, lambda x, y: (20, 30, 34, 255))
    assert {item.code for item in told} == set(), [(item.code, item.message) for item in told]
