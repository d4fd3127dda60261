"""Characters that cannot be set one after the other from left to right, as every text here is."""

from __future__ import annotations

import unicodedata

from hmic.diagnostics import Finding, error

# Below this every character stands by itself; combining marks begin here.
_FIRST = 0x0300
# Blocks of Unicode whose letters change their form or place by their neighbours, but for those that run
# from right to left, which their direction tells.
_SHAPED = (
    (0x0900, 0x0DFF),  # Devanagari to Sinhala
    (0x0F00, 0x109F),  # Tibetan, Myanmar
    (0x1100, 0x11FF),  # Hangul in single sounds
    (0x1700, 0x18AF),  # Tagalog to Mongolian, Khmer among them
    (0x1900, 0x1CFF),  # Limbu to Vedic signs
    (0xA800, 0xA95F),  # Syloti Nagri to Rejang
    (0xA980, 0xAAFF),  # Javanese to Meetei Mayek
    (0xABC0, 0xABFF),  # Meetei Mayek
    (0x11000, 0x11FFF),  # Brahmi and its like
)
_MARKS = ("Mn", "Me")
_RIGHT_TO_LEFT = ("R", "AL", "AN", "RLE", "RLO", "RLI")


def unset(char: str) -> Finding | None:
    """A394 for a character that would stand in the wrong place or form; None for all others."""
    code = ord(char)
    if code < _FIRST:
        return None
    shown = f"'{char}' (U+{code:04X})" if char.isprintable() else f"U+{code:04X}"
    if unicodedata.category(char) in _MARKS:
        message = f"{shown} stands above or below the letter before it, where it cannot be set"
        return error(
            "A394", message, remedy='write a letter that has its mark, such as "é", or leave the mark out'
        )
    if unicodedata.bidirectional(char) in _RIGHT_TO_LEFT:
        message = f"{shown}{_of_script(char)} runs from right to left, and texts are set from left to right"
    elif any(first <= code <= last for first, last in _SHAPED):
        message = f"{shown}{_of_script(char)} changes by its neighbours, and letters are set one by one"
    else:
        return None
    return error(
        "A394", message, remedy="write it in a script whose letters stand by themselves, such as Latin"
    )


def _of_script(char: str) -> str:
    """The name of its script, as far as the character's own name tells."""
    name = unicodedata.name(char, "")
    return f", {name.split()[0].capitalize()}," if name else ""
