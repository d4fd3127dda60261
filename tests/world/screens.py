"""Screens of a random design: which sentence stands on which, how a finger gets from one to another, which
come up by themselves, and what the layout says of all that.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from tests.tools.changed import replace


@dataclass(frozen=True)
class Control:
    """A control as its sentence reads, on ``screen``. ``step`` in ``step_unit``, which is of a difference.
    ``limit``, in km/h, is the speed below which it may be asked, None for always; ``options`` are what it
    can be set to; ``held`` seconds it must be held, and ``confirmed`` by a second touch. One that ``goes``
    somewhere, or ``acknowledges``, has its screen as ``signal``."""

    signal: str
    kind: str
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    step: float = 0.0
    step_unit: str = ""
    limit: float | None = None
    options: tuple[float, ...] = ()
    held: float = 0.0
    confirmed: bool = False
    screen: str = "main"


@dataclass(frozen=True)
class Cause:
    """A signal that is above a bound, or below it, in its declared unit; a flag that is on is above 0.5."""

    signal: str
    above: bool
    bound: float

    def holds(self, value: float) -> bool:
        """Whether it is so."""
        return value > self.bound if self.above else value < self.bound


@dataclass(frozen=True)
class Screen:
    """``rises`` is why it comes up by itself, ``answered`` whether it stays until it is acknowledged then;
    ``swipes`` lead by direction to a screen."""

    name: str
    rises: Cause | None = None
    answered: bool = False
    swipes: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Laid:
    """A layout's text, and what it means. ``order`` is that in which a swipe walks through the screens."""

    text: str
    controls: tuple[Control, ...]
    screens: tuple[Screen, ...] = (Screen("main"),)
    order: tuple[str, ...] = ()
    features: frozenset[str] = frozenset()


Piece = tuple[str, "Control | None"]
"""A sentence, and the control that it is."""

CONTROL = ("stepper", "slider", "button", "switch", "choice")
RISING = (
    ("stop", Cause("pack.fault", True, 0.5), "pack.fault"),
    ("fast", Cause("vehicle.speed", True, 30.0), "vehicle.speed > 30 km/h"),
    ("dry", Cause("tank.level", False, 20.0), "tank.level < 20 %"),
)


def one_screen(
    sentences: Sequence[str], controls: Sequence[Control], limit: float, dice: random.Random
) -> Laid:
    """All on one."""
    return Laid(_drawn("main", [(each, None) for each in sentences]), tuple(controls))


def several_screens(
    sentences: Sequence[str], controls: Sequence[Control], limit: float, dice: random.Random
) -> Laid:
    """The sentences on two or three screens, some on several; ways between them; screens that come up by
    themselves before them all. Controls are held, confirmed and allowed as the dice will."""
    chosen = ["main", "power", "house"][: dice.choice((2, 3, 3))]
    rising = [each for each in RISING if dice.random() < 0.6] or [dice.choice(RISING)]
    on: dict[str, list[Piece]] = {name: [] for name in chosen}
    for piece in _pieces(sentences, controls, dice):
        for name in dice.sample(chosen, dice.choice((1, 1, 2))):
            on[name].append(_guarded(piece, name, limit, dice))
    # A finger gets round all of them, come what may.
    for at, name in enumerate(chosen):
        following = chosen[(at + 1) % len(chosen)]
        on[name].append(_goes(name, following))
        for target in [*chosen, *(each[0] for each in rising)]:
            if target not in (name, following) and dice.random() < 0.5:
                on[name].append(_guarded(_goes(name, target), name, limit, dice))
    order = tuple(dice.sample(chosen, len(chosen))) if dice.random() < 0.6 else ()
    screens, texts = [], [f"swipe through {', '.join(order)}\n"] if order else []
    for name, cause, condition in rising:
        answered = dice.random() < 0.5
        screens.append(Screen(name, cause, answered))
        on[name] = _risen(name, cause, answered, limit, dice)
        head = f"    comes up when {condition}\n" + "    gives way when acknowledged\n" * answered
        texts.append(_drawn(name, on[name], head))
    # One that must be acknowledged has nothing to acknowledge when a finger went there.
    stays = {screen.name for screen in screens if screen.answered}
    for name in chosen:
        on[name] = [piece for piece in on[name] if piece[1] is None or piece[1].signal not in stays]
        swipes = []
        for way in ("left", "right", "up", "down"):
            if dice.random() < 0.3:
                swipes.append((way, dice.choice([each for each in chosen if each != name])))
        screens.append(Screen(name, swipes=tuple(swipes)))
        lines = "".join(f"    swipe {way} goes to {target}\n" for way, target in swipes)
        texts.append(_drawn(name, on[name], lines))
    laid = [piece[1] for pieces in on.values() for piece in pieces if piece[1] is not None]
    return Laid("\n".join(texts), tuple(laid), tuple(screens), order, _features(laid, screens, order))


def _pieces(sentences: Sequence[str], controls: Sequence[Control], dice: random.Random) -> list[Piece]:
    """Sentences with their controls, some of which ask in another way."""
    left = iter(controls)
    pieces: list[Piece] = []
    for sentence in sentences:
        if not sentence.startswith(CONTROL):
            pieces.append((sentence, None))
            continue
        control = next(left)
        kind = dice.choice(("as it is", "choice", "sets", "toggles"))
        if control.signal == "house.fan" and kind == "choice":
            sentence = 'choice house.fan of 20 % or 50 % or 80 %, text 3 mm, called "Fan"'
            control = replace(control, kind=kind, options=(20.0, 50.0, 80.0))
        elif control.signal == "house.fan" and kind == "sets":
            sentence, control = 'button "Full", sets house.fan to 100 %, text 4 mm', replace(
                control, kind=kind, options=(100.0,)
            )
        elif control.signal == "house.lights" and kind in ("toggles", "sets"):
            sentence, control = 'button "Lights", toggles house.lights, text 4 mm', replace(
                control, kind="switch", limit=None, options=()
            )
        pieces.append((sentence, control))
    return pieces


def _goes(name: str, target: str) -> Piece:
    return f'button "To {target}", goes to {target}, text 4 mm', Control(target, "goes", screen=name)


def _risen(name: str, cause: Cause, answered: bool, limit: float, dice: random.Random) -> list[Piece]:
    """What stands on a screen that comes up by itself."""
    what = {
        "pack.fault": 'lamp battery, danger while pack.fault, means "Battery fault", sized 12 mm',
        "vehicle.speed": 'reading vehicle.speed as "0 km/h", text 6 mm, called "Speed"',
        "tank.level": 'reading tank.level as "0 %", text 6 mm, called "Tank"',
    }[cause.signal]
    pieces: list[Piece] = [(what, None)]
    lights = 'button "Lights", toggles house.lights, text 4 mm'
    if dice.random() < 0.6:
        pieces.append(_guarded((lights, Control("house.lights", "switch", 0, 1)), name, limit, dice))
    if answered:
        answer = 'button "Understood", acknowledges, text 4 mm', Control("acknowledge", "acknowledges")
        pieces.append(_guarded(answer, name, None, dice))
    elif dice.random() < 0.6:
        pieces.append(_guarded(_goes(name, "main"), name, limit, dice))
    return pieces


def _guarded(piece: Piece, screen: str, limit: float | None, dice: random.Random) -> Piece:
    """The piece on a screen; a control with or without what guards it there."""
    sentence, control = piece
    if control is None:
        return piece
    control = replace(control, screen=screen)
    phrases = []
    if limit is not None and control.limit is None and dice.random() < 0.25:
        control = replace(control, limit=limit)
        phrases.append(f"allowed when vehicle.speed < {limit:g} km/h")
    if dice.random() < 0.25:
        control = replace(control, held=dice.choice((0.5, 1.0)))
        phrases.append(f"held {control.held:g} s")
    if dice.random() < 0.3:
        control = replace(control, confirmed=True)
        phrases.append('confirmed by "Sure?"')
    return sentence + "".join(f"\n        {each}" for each in phrases), control


def _drawn(name: str, pieces: Sequence[Piece], lines: str = "") -> str:
    """A screen with its pieces in two columns; ``lines`` are other sentences of it."""
    names = [f"a{at}" for at in range(len(pieces))]
    if len(names) % 2:
        names.append(".")
    rows = "".join(f"        {left:8}{right}\n" for left, right in zip(names[::2], names[1::2], strict=True))
    inside = "".join(f"    in a{at}    {sentence}\n" for at, (sentence, _) in enumerate(pieces))
    title = name.capitalize()
    return (
        f'screen {name} "{title}"\n{lines}    plan\n{rows}    columns 1, 1\n    gap 2 mm\n    margin 2 mm\n'
        f"{inside}"
    )


def _features(
    controls: Sequence[Control], screens: Sequence[Screen], order: Sequence[str]
) -> frozenset[str]:
    found = {"several screens"}
    found |= {f"a {each.kind} that is held" for each in controls if each.held}
    found |= {f"a {each.kind} that is confirmed" for each in controls if each.confirmed}
    found |= {f"a {each.kind} that is allowed when" for each in controls if each.limit is not None}
    found |= {f"a {each.kind}" for each in controls}
    found |= {f"a screen that comes up by {each.rises.signal}" for each in screens if each.rises}
    found |= {"a screen to acknowledge" for each in screens if each.answered}
    found |= {"swipes of a screen" for each in screens if each.swipes}
    return frozenset(found | ({"an order of swipes"} if order else set()))
