"""Fingers on the glass: where they press and lift, and what the control there says that it means."""

from __future__ import annotations

from typing import Any

from tests.world.judge import Touch
from tests.world.plan import Event

SHORT = 0.08
"""Seconds of each tap of two."""
SWIPE = 100
"""Pixels of a swipe: 25 mm."""
ACROSS = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}


class Fingers:
    """The fingers of a world."""

    def __init__(self, world: Any) -> None:
        self.world = world
        self._touched = 0
        self._down = False

    def begin(self, each: Event) -> None:
        """Does what an event says, from now on."""
        if each.kind == "swipe":
            self._swipe(each)
            return
        box = self._box(each["zone"])
        if box is None:
            return
        lasts = SHORT if each.kind == "double tap" else each.lasts
        felt = self._press(self._place(box), lasts)
        self._struck(each.kind, felt and each.kind in ("tap", "hold"))
        if each.kind == "double tap":
            self._again(each, 0.2, None)
        elif each.kind == "answer":
            self._again(each, each.lasts + each["after"], box)

    def _again(self, each: Event, after: float, box: Any) -> None:
        """A second touch: of the same place, or of the control that has the same number by then."""

        def touch() -> None:
            found = self._box(each["zone"]) if box is None else box
            if found is not None:
                self._struck(each.kind, self._press(self._place(found), SHORT))

        self.world.at(self.world.now + after, touch)

    def _struck(self, kind: str, felt: bool) -> None:
        self.world.struck[kind] += felt

    def _zones(self) -> list[tuple[Any, Any]]:
        """What the touch zones of the screen in sight do, and where they are."""
        world = self.world
        if world.player is None or world.player.identity() != world.identity:
            return []
        screen = world.player.shown(world.now).screen
        arranged = world.compiled.arranged
        boxes = [zone.box for zone in arranged.drawing.screens[screen].zones]
        return list(zip([zone.action for zone in arranged.screens[screen].zones], boxes, strict=True))

    def _box(self, number: int) -> Any:
        """Where a touch zone of the screen in sight is, if there is one."""
        zones = self._zones()
        return zones[number % len(zones)][1] if zones else None

    def _place(self, box: Any) -> tuple[int, int]:
        """A place within. Each touch has one of its own, by which it is known again."""
        self._touched += 1
        return (
            box.left + 2 + self._touched % max(1, box.width - 4),
            box.top + 2 + self._touched // max(1, box.width - 4) % max(1, box.height - 4),
        )

    def _meant(self, x: int, y: int) -> dict[str, Any]:
        """What a finger means that comes down at a place."""
        world = self.world
        screen = self._screen()
        zones = self._zones()
        under = [(action, box) for action, box in zones
                 if 0 <= x - box.left < box.width and 0 <= y - box.top < box.height]  # fmt: skip
        if not under:
            return {"name": "", "way": 1, "control": None, "screen": screen}
        action, _ = min(under, key=lambda each: each[1].width * each[1].height)
        name = getattr(action, "name", getattr(action, "screen", "acknowledge"))
        same = [each for each, _ in zones if getattr(each, "name", None) == name]
        control = next(
            (each for each in world.spec.controls if (each.signal, each.screen) == (name, screen)), None
        )
        option = same.index(action) if control is not None and len(control.options) > 1 else 0
        way = 1 if getattr(action, "by", 1.0) > 0 else -1
        return {"name": name, "way": way, "control": control, "screen": screen, "option": option}

    def _screen(self) -> str:
        world = self.world
        shown = world.player.shown(world.now).screen
        return str(world.compiled.arranged.drawing.screens[shown].name)

    def _press(
        self, place: tuple[int, int], lasts: float, to: tuple[int, int] | None = None, toward: str = ""
    ) -> bool:
        """A finger comes down, and lifts there or elsewhere; whether it was felt."""
        world = self.world
        if world.player is None or self._down:
            # A panel knows one finger at a time.
            return False
        meant = self._meant(*place)
        if to is not None:
            meant |= {"name": "swipe", "control": None, "toward": toward}
        pressed, scene = world.now, world.judge.scene
        if not world.player.press(*place, world.now):
            return False
        x, y = to or place
        self._down = True

        def lift() -> None:
            self._down = False
            if world.player is not None and world.player.release(x, y, world.now):
                world.judge.touches.append(
                    Touch(world.now, x=x, y=y, pressed=pressed, scene=scene, **meant)
                )

        world.at(world.now + lasts, lift)
        return True

    def _swipe(self, each: Event) -> None:
        """Over the middle; where a slider lies it would be a slide."""
        zones = self._zones()
        world = self.world
        if world.player is None or world.player.identity() != world.identity:
            return
        self._touched += 1
        drawing = world.compiled.arranged.drawing
        across, down = ACROSS[each["way"]]
        x, y = drawing.width // 2 + self._touched % 40, drawing.height // 2 + self._touched // 40 % 40
        slides = any(
            type(action).__name__ == "SlideOutput" and box.left <= x < box.left + box.width
            and box.top <= y < box.top + box.height
            for action, box in zones
        )  # fmt: skip
        if not slides:
            to = x + SWIPE * across, y + SWIPE * down
            self._struck("swipe", self._press((x, y), max(0.05, each.lasts), to, each["way"]))
