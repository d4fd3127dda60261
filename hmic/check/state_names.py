"""What the states of a widget are called: by the words that its sentence has for them."""

from __future__ import annotations

from hmic.arrange.canvas import PieceFact
from hmic.language.spelling import written
from hmic.language.syntax import PhraseKind
from hmic.model.channels import Bands, Channel, FirstTrue, Listed
from hmic.number_text import number


def state_words(piece: PieceFact, channel: Channel, step: int) -> str:
    """A live step of one of a piece's channels."""
    match channel.steps:
        case Listed(values):
            value = values[step]
            return f"'{'on' if value is True else 'off' if value is False else value}'"
        case FirstTrue():
            return _condition(piece, step)
        case Bands(limits, order):
            unit = channel.value.unit if channel.value is not None else None
            return _band(limits, order.index(step), f" {unit.spelling}".rstrip() if unit else "")
    return "one state"


def _condition(piece: PieceFact, step: int) -> str:
    if step == 0:
        return "rest"
    states, options = piece.widget.all(PhraseKind.STATE), piece.widget.one(PhraseKind.OPTIONS)
    if step <= len(states):
        phrase = states[step - 1]
        return f"'{' '.join(phrase.words)} while {written(phrase.values[0])}'"
    if options is not None and step <= len(options.values):
        return f"'{written(options.values[step - 1])}'"
    return "another state"


def _band(limits: tuple[float, ...], band: int, unit: str) -> str:
    if band == 0:
        return f"below {number(limits[0])}{unit}"
    if band == len(limits):
        return f"from {number(limits[-1])}{unit}"
    return f"from {number(limits[band - 1])}{unit} to {number(limits[band])}{unit}"
