"""Surfaces and shades, by the pixels that are painted."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from PIL import Image, ImageChops

from hmic.arrange.compose import arrange
from hmic.language.parser import parse
from hmic.language.tidy import tidy
from hmic.model.uses import check_uses
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.paint.shapes import soft_box
from tests.tools import widget_pictures
from tests.tools.changed import replace
from tests.tools.widget_pictures import alone, dunlin, paint

SIZE = (60, 40)


def screen(*lines: str) -> str:
    """A screen of two areas."""
    head = ['screen only "Only"', "    plan", "        left  right", "    margin 2 mm", *lines]
    return "\n".join([*head, '    in left     label "Le"', '    in right    label "Ri"']) + "\n"


def roles(name: str) -> tuple[int, int, int]:
    day = next(theme for theme in dunlin().themes if theme.name == "day")
    return day.roles[name]


def column(picture: Image.Image, x: int) -> list[tuple[int, int, int]]:
    return [picture.getpixel((x, y)) for y in range(picture.height)]


def test_a_surface_lies_under_its_areas_and_only_there() -> None:
    picture = paint(alone(screen("    surface under left"), SIZE))
    middle, corner = picture.height // 2, round(dunlin().panel.pixels_from_mm(2))
    assert picture.getpixel((corner + 1, middle)) == roles("surface")
    assert picture.getpixel((corner, corner)) == roles("ground")
    assert picture.getpixel((picture.width - 14, middle)) == roles("ground")


def test_what_stands_on_a_surface_keeps_away_from_its_edge() -> None:
    text = screen("    surface under left, right").replace('label "Le"', "shape box, colour danger")
    picture = paint(alone(text, SIZE))
    red = Image.new("RGB", picture.size, roles("danger"))
    lit = [
        (x, y)
        for x in range(picture.width)
        for y in range(picture.height)
        if picture.getpixel((x, y)) == red.getpixel((0, 0))
    ]
    edge = dunlin().panel.pixels_from_mm(3.5)
    assert abs(min(x for x, _ in lit) - edge) <= 1 and abs(min(y for _, y in lit) - edge) <= 1


@pytest.mark.parametrize("depth", [16, 24])
@pytest.mark.parametrize("way", ["", "upward ", "rightward ", "leftward "])
def test_a_shade_runs_evenly_between_two_roles(way: str, depth: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its mean over eight lines is never further from the straight way than half a step of the panel."""
    own = dunlin()
    other = replace(own, panel=replace(own.panel, depth=depth))
    monkeypatch.setattr(widget_pictures, "dunlin", lambda: other)
    text = screen(f"    surface under left, right, corner 0 mm, shaded {way}from ground to line")
    text = re.sub('label ".."', "shape line, colour line", text)
    picture = paint(alone(text, SIZE))
    rim = round(own.panel.pixels_from_mm(2))
    upright = way in ("", "upward ")
    length = (picture.height if upright else picture.width) - 2 * rim
    points = [(rim + 3, rim + at) if upright else (rim + at, rim + 3) for at in range(length)]
    colours = [picture.getpixel(point) for point in points]
    if way in ("upward ", "leftward "):
        colours.reverse()
    cut = [8 - bits for bits in ((5, 6, 5) if depth == 16 else (8, 8, 8))]
    for part, lost in enumerate(cut):
        first, last = (shown(roles(role)[part], lost) for role in ("ground", "line"))
        for at in range(4, length - 4, 5):
            mean = sum(colour[part] for colour in colours[at - 4 : at + 4]) / 8
            ideal = first + (last - first) * at / length
            assert abs(mean - ideal) <= (1 << lost) * 0.5 + 1.2, (part, at, mean, ideal)


def shown(value: int, lost: int) -> int:
    """A part of a colour as a panel with fewer bits shows it."""
    kept = value >> lost
    return value if not lost else kept << lost | kept >> 8 - 2 * lost


def test_an_edge_goes_round_box_and_disc() -> None:
    box = paint(alone(screen("    surface under left, edge danger, corner 4 mm"), SIZE))
    middle, rim = box.height // 2, round(dunlin().panel.pixels_from_mm(2))
    assert box.getpixel((rim, middle)) == roles("danger")
    assert box.getpixel((rim + 2, middle)) == roles("surface")


def test_a_disc_is_shaded_from_its_middle() -> None:
    shape = "shape disc, shaded outward from danger to ground"
    picture = paint(alone(screen().replace('label "Le"', shape), SIZE))
    box = picture.width // 4 + 3, picture.height // 2
    assert picture.getpixel(box) == roles("danger")
    reds = [colour[0] for colour in column(picture, box[0])[box[1] :]]
    assert all(one >= other for one, other in pairwise(reds))


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("surface under middle", "A303"),
        ("surface under left, edge line, edge ink", "A307"),
        ("surface under left, colour surface, shaded from line to ground", "A302"),
        ("surface under left, shaded outward from line to ground", "A302"),
    ],
)
def test_what_a_surface_cannot_be_is_told(line: str, code: str) -> None:
    layout, findings = parse(screen(f"    {line}"), "a.layout")
    assert not findings
    _, found = arrange(replace(dunlin(), screens={"only": layout.screens[0]}, start="only"))
    assert [item.code for item in found] == [code] and all(item.remedy for item in found)


def test_roles_of_shades_and_edges_are_looked_up() -> None:
    layout, _ = parse(screen("    surface under left, edge lin, shaded from surfac to ground"), "a.layout")
    design = replace(dunlin(), screens={"only": layout.screens[0]}, start="only")
    assert [item.code for item in check_uses(design) if item.code == "M252"] == ["M252", "M252"]


def test_a_surface_line_is_made_tidy() -> None:
    text = screen("    surface under left,right , shaded   rightward from line to ground")
    made, findings = tidy(text, "a.layout")
    assert not findings and "    surface under left, right, shaded rightward from line to ground\n" in made
    assert tidy(made, "a.layout")[0] == made



def test_a_soft_shape_fades_from_its_middle_to_nothing() -> None:
    """Evenly: over four pixels in a row its mean never rises, and its rim is the ground."""
    shape = "shape disc, colour danger, soft 9 mm"
    picture = paint(alone(screen().replace('label "Le"', shape), SIZE))
    middle = picture.width // 4 + 3, picture.height // 2
    reds = [colour[0] for colour in column(picture, middle[0])[middle[1] :]]
    means = [sum(reds[at : at + 4]) for at in range(len(reds) - 4)]
    assert all(other <= one + 8 for one, other in pairwise(means))
    assert picture.getpixel(middle) == roles("danger") and reds[-14] == roles("ground")[0]


@pytest.mark.parametrize(
    ("width", "height", "radius", "soft"), [(9, 9, 4, 4), (40, 24, 6, 5), (31, 30, 15, 12)]
)
def test_a_fade_is_the_same_from_all_sides(width: int, height: int, radius: int, soft: int) -> None:
    """But for the pattern that mixes two steps; full in the middle, nothing outside the round corner."""
    mask = soft_box(width, height, radius, soft)
    rows = [mask.coverage[at : at + width] for at in range(0, len(mask.coverage), width)]
    for y in range(height):
        for x in range(width):
            assert abs(rows[y][x] - rows[height - 1 - y][width - 1 - x]) <= 1
    assert rows[height // 2][width // 2] >= 14 and rows[0][0] == 0


@pytest.mark.parametrize(
    "sentence",
    [
        "shape box, soft 3 mm, edge line",
        "shape disc, soft 3 mm, shaded outward from line to ground",
        "shape disc, soft 60 mm",
        "shape ring, soft 3 mm",
        "shape line, edge line",
        "shape disc, shaded from line to ground",
    ],
)
def test_what_a_shape_cannot_be_is_told(sentence: str) -> None:
    layout, findings = parse(screen().replace('label "Le"', sentence), "a.layout")
    assert not findings
    _, found = arrange(replace(dunlin(), screens={"only": layout.screens[0]}, start="only"))
    assert [item.code for item in found] == ["A302"] and all(item.remedy for item in found)


@pytest.mark.parametrize(
    "piece", ["shape box, corner 3 mm", "shape disc, soft 4 mm", 'picture "pictures/dunlin.png"']
)
def test_what_is_shown_while_something_holds_is_hatched_in_doubt(piece: str) -> None:
    """Painted at each raw value: nothing, the whole of it, and a hatch that is neither."""
    compiled = alone(screen().replace('label "Le"', f"{piece}, shown while charge.power > 1 kW"), SIZE)
    always = alone(screen().replace('label "Le"', piece), SIZE)
    drawing = compiled.arranged.drawing
    frames = [Painter(drawing).paint(Moment(0, 0, (raw,) * len(drawing.channels))) for raw in range(5)]
    plain = Painter(always.arranged.drawing).paint(Moment(0, 0, ()))
    assert frames[4].tobytes() == plain.tobytes()
    changed = [ImageChops.difference(frame, frames[3]).getbbox() for frame in frames]
    assert changed[3] is None and all(changed[raw] is not None for raw in (0, 1, 2, 4))
    assert len({frame.tobytes() for frame in frames}) == 5


VAN = 'picture "pictures/dunlin.png"'


def themed(sentence: str, theme: int) -> Image.Image:
    compiled = alone(f"{HEAD}    in here     {sentence}\n", SIZE)
    return Painter(compiled.arranged.drawing).paint(Moment(0, theme, ()))


HEAD = 'screen only "Only"\n    plan\n        here\n    margin 2 mm\n'


@pytest.mark.parametrize("theme", range(len(dunlin().themes)))
def test_a_drawing_in_a_role_has_its_shape_and_the_roles_colour(theme: int) -> None:
    role = dunlin().themes[theme].roles["line"]
    own, drawn = themed(VAN, theme), themed(f"{VAN}, colour line", theme)
    ground = own.getpixel((0, 0))
    lit = [ImageChops.difference(each, Image.new("RGB", each.size, ground)) for each in (own, drawn)]
    assert lit[0].getbbox() == lit[1].getbbox()
    counted = {colour: count for count, colour in drawn.getcolors(1 << 16) or []}
    assert counted[role] > 0.9 * (drawn.width * drawn.height - counted[ground])


@pytest.mark.parametrize("theme", range(len(dunlin().themes)))
def test_a_shaded_picture_keeps_to_the_way_between_its_roles_and_to_its_lightness(theme: int) -> None:
    first, last = (dunlin().themes[theme].roles[role] for role in ("surface", "ink"))
    own, drawn = themed(VAN, theme), themed(f"{VAN}, shaded from surface to ink", theme)
    middle = [(x, drawn.height // 2) for x in range(drawn.width // 4, drawn.width * 3 // 4)]
    for place in middle:
        light = own.convert("L").getpixel(place) / 255
        for part in range(3):
            ideal = first[part] + (last[part] - first[part]) * light
            # A step of sixteen, and the picture's own colours are of five and six bits.
            assert abs(drawn.getpixel(place)[part] - ideal) <= 0.06 * abs(last[part] - first[part]) + 3


@pytest.mark.parametrize(
    "phrases",
    ["colour line, shaded from line to ink", "shaded rightward from line to ink"],
)
def test_what_a_picture_cannot_be_is_told(phrases: str) -> None:
    layout, findings = parse(f"{HEAD}    in here     {VAN}, {phrases}\n", "a.layout")
    assert not findings
    _, found = arrange(replace(dunlin(), screens={"only": layout.screens[0]}, start="only"))
    assert [item.code for item in found] == ["A302"] and all(item.remedy for item in found)


@pytest.mark.parametrize(
    ("line", "trough"),
    [
        ("gap 2 mm", "surface"),
        ("surface under left", "ground"),
        ("surface under left, edge line", "ground"),
        ("surface under left, colour ground, edge surface", "surface"),
        ("surface under left, shaded from surface to ground", "ground"),
    ],
)
def test_an_empty_scale_is_seen_on_a_surface(line: str, trough: str) -> None:
    text = screen(f"    {line}").replace('label "Le"', "bar pack.charge from 0 % to 100 %")
    compiled = alone(text.replace('label "Ri"', "bar pack.charge from 0 % to 100 %, rightward"), SIZE)
    drawing = compiled.arranged.drawing
    picture = Painter(drawing).paint(Moment(0, 0, (3,) * len(drawing.channels)))
    day = dunlin().themes[0].roles
    left = picture.crop((0, 0, picture.width // 2 - 8, picture.height))
    counted = {colour: count for count, colour in left.getcolors(1 << 16) or []}
    assert counted.get(day[trough], 0) > 0.1 * left.width * left.height
    right = picture.getpixel((picture.width * 3 // 4, picture.height // 2))
    assert right == day["surface"]
