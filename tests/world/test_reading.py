"""The driver's eye reads what is painted: the picture is the one of the pixel rules, and faults of painting
are found by it."""

from __future__ import annotations

from typing import Any
from unittest import mock

from hmic.display.display import Display
from tests.paint.reference_painter import paint
from tests.tools.changed import replace
from tests.world.plan import Plan, Setup, event
from tests.world.reading import numbers
from tests.world.world import World, live

DRIVE = Plan(1, Setup(107, length=9.0), (event(3.0, "drive", 5.0), event(6.5, "pipe stops", 2.5)))


def test_the_picture_in_a_world_is_that_of_the_pixel_rules() -> None:
    world = World(DRIVE)
    seen: list[tuple[Any, Any]] = []
    for at in (5.0, 8.8):
        world.at(at, lambda: seen.append((world.player.shown(world.now), world.player.picture(world.now))))  # type: ignore[union-attr]
    outcome = world.live()
    assert not outcome.failures
    assert outcome.met["number read"] > 20
    drawing = world.compiled.arranged.drawing  # type: ignore[union-attr]
    for moment, picture in seen:
        wanted = paint(drawing, moment)
        image = picture.convert("RGB")
        image_bytes = b"".join(bytes(pixel) for row in wanted for pixel in row)
        assert image.tobytes() == image_bytes
        assert numbers(drawing, moment.screen, image)


def test_another_number_than_the_value_that_came_is_found() -> None:
    whole = Display.moment

    def wrong(display: Display, now: float) -> Any:
        moment = whole(display, now)
        return replace(moment, raw=tuple(raw + 3 if raw >= 3 else raw for raw in moment.raw))

    def image(display: Display, now: float) -> Any:
        with mock.patch.object(Display, "moment", wrong):
            return painted(display, now)

    painted = Display.image
    with mock.patch.object(Display, "image", image):
        found = live(DRIVE).failures
    assert {each.oracle for each in found} == {"eye"}


def test_a_picture_that_stands_still_is_found() -> None:
    first: list[Any] = []
    painted = Display.image

    def image(display: Display, now: float) -> Any:
        if now > 4.0 and first:
            return first[-1]
        first.append(painted(display, now).copy())
        return first[-1]

    with mock.patch.object(Display, "image", image):
        found = live(DRIVE).failures
    assert {each.oracle for each in found} == {"eye"}


def test_a_picture_without_figures_is_found() -> None:
    painted = Display.image

    def image(display: Display, now: float) -> Any:
        return painted(display, now).point(lambda _: 128)

    with mock.patch.object(Display, "image", image):
        found = live(DRIVE).failures
    assert {each.oracle for each in found} == {"eye"}
