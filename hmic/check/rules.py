"""All rules, in the order a builder would want to hear of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from types import ModuleType

from hmic.arrange.compose import Arranged
from hmic.check import (
    assumed,
    budget,
    clear_text,
    contrast,
    dazzle,
    doubt_look,
    floods,
    hidden,
    lasting,
    look_alikes,
    look_yourself,
    meanings,
    motion,
    own_limits,
    pictogram_size,
    round_glass,
    same_everywhere,
    scale_form,
    scales,
    shown_themes,
    telltales,
    text_amount,
    text_height,
    text_shape,
    touch_targets,
    touches,
    truth,
    vision,
)
from hmic.check.codes import GROUNDS
from hmic.check.painted import Painted
from hmic.diagnostics import Extent, Finding, Sentence, Subject, Unjudged
from hmic.model.design import GLASS, THEMES, Design
from hmic.model.limits import Limits

# Held against what the design says, and against what is painted: screen by screen.
SAID = (
    text_height,
    text_shape,
    text_amount,
    telltales,
    pictogram_size,
    touch_targets,
    round_glass,
    touches,
    truth,
    scales,
    scale_form,
    meanings,
    floods,
    motion,
    same_everywhere,
    lasting,
    look_alikes,
    shown_themes,
    budget,
)
PAINTED = (dazzle, vision, contrast, hidden, clear_text, doubt_look)


# What these measure on one piece is so whatever other pieces are still wanting.
MEASURED = (text_height, text_shape, pictogram_size, touch_targets, round_glass)
ON_GLASS = (*MEASURED, text_amount, dazzle, contrast, hidden, clear_text, doubt_look)


def _of_sound_sentences(found: list[Finding]) -> list[Finding]:
    """What is found in a sentence holds where nothing else is wrong in it: what one lacks may stand in the
    words that could not be read."""
    return [
        item
        if item.span is None
        else replace(item, rests_on=(*item.rests_on, Sentence(item.span, Extent.SOUND)))
        for item in found
    ]


def measure(design: Design, arranged: Arranged) -> list[Finding]:
    """What can be found in a design of which pieces are missing, so that it need not wait for them."""
    return _found_by(MEASURED, design, arranged, _screens(arranged))


def check(design: Design, arranged: Arranged) -> list[Finding]:
    """Every finding of every rule."""
    return judge(design, arranged)[0]


def judge(design: Design, arranged: Arranged) -> tuple[list[Finding], list[Unjudged]]:
    """Every finding of every rule, and what no rule can find."""
    screens = _screens(arranged)
    found = _found_by(SAID, design, arranged, screens)
    measure_it = assumed.left_to_measure(design, Limits(design), screens)
    return found, [*look_yourself.look_yourself(design, arranged), *measure_it]


def _screens(arranged: Arranged) -> tuple[Painted, ...]:
    return tuple(Painted(arranged, number) for number in range(len(arranged.screens)))


def _found_by(
    families: Sequence[ModuleType], design: Design, arranged: Arranged, screens: Sequence[Painted]
) -> list[Finding]:
    """What these families and those that look at painted screens find."""
    found = own_limits.check_settings(design)
    held = Limits(design)
    for family in families:
        found.extend(_resting(family.check(design, arranged, held), GLASS if family in ON_GLASS else ()))
    for seen in PAINTED:
        rests = (THEMES, *GLASS) if seen in ON_GLASS else (THEMES,)
        found.extend(_resting(seen.check(design, arranged, held, screens), rests))
    return _of_sound_sentences(found)


def _resting(found: list[Finding], on: tuple[Subject, ...]) -> list[Finding]:
    """With what all that a family finds takes for granted, and what its rules are for."""
    return [_grounded(replace(item, rests_on=(*item.rests_on, *on))) for item in found]


def _grounded(item: Finding) -> Finding:
    if item.source is not None or item.code not in GROUNDS:
        return item
    source, basis = GROUNDS[item.code]
    return replace(item, source=source, basis=basis)
