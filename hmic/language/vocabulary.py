"""The words of the language, for the messages that name them."""

from __future__ import annotations

from hmic.language.syntax import WidgetKind

KINDS = tuple(kind for kind in WidgetKind if kind is not WidgetKind.TRACE)
CONTENTS = (*KINDS, "use", "each", "joint", "pipe")

TOP_WORDS = ("screen", "part", "swipe")
BODY_WORDS = (
    "plan", "columns", "rows", "gap", "margin", "surface", "in", "touch", "swipe", "comes", "gives",
)  # fmt: skip

PHRASE_FORMS = {
    "as": 'as "0.0 V"',
    "text": "text 20 arcmin",
    "called": 'called "Battery"',
    "from": "from 0 % to 100 %",
    "marks": "marks every 20 kW",
    "in": "in steps of 5 %",
    "peak": "peak held 2 s",
    "filled": "filled by ramp charge",
    "colour": "colour quiet",
    "flashing": "flashing danger while pack.fault",
    "means": 'means "Battery fault"',
    "upward": "upward",
    "downward": "downward",
    "rightward": "rightward",
    "leftward": "leftward",
    "shaped": "shaped battery",
    "rows": "rows of 15",
    "difference": "difference from mean within 40 mV",
    "goes": "goes to drive",
    "sets": "sets charge.limit to 80 %",
    "toggles": "toggles house.lights",
    "steps": "steps media.title by 1",
    "allowed": "allowed when vehicle.speed < 1 km/h",
    "held": "held 2 s",
    "confirmed": 'confirmed by "Clear the fault?"',
    "refused": 'refused with "Stop first"',
    "acknowledges": "acknowledges",
    "of": "of 80 % or 90 %",
    "over": "over 600 s",
    "at": "at 10 mm across 20 mm down",
    "sized": "sized 14 mm",
    "behind": "behind",
    "named": "named pump",
    "flowing": "flowing by coolant.flow",
    "turned": "turned by coolant.valve",
    "showing": "showing 5 rows",
    "marked": "marked by media.title",
    "aligned": "aligned left",
    "with": "with hands",
    "shown": "shown within 200 ms",
    "corner": "corner 3 mm",
    "edge": "edge line",
    "soft": "soft 4 mm",
    "shaded": "shaded from surface to ground",
    "otherwise": "otherwise good",
    "off": 'off as "Open"',
    "on": 'on as "Locked"',
    "sweep": "sweep from -135° to 135°",
    "figures": "figures outside",
    "fine": "fine marks every 5 °C",
    "needle": "needle rim",
    "centred": "centred",
    "also": "also inverter.temperature",
    "target": "target motor.speed_limit",
    "without": "without marks",
    "segments": "segments every 10 %",
    "zone": "zone good from 60 °C to 90 °C",
    "beside": "beside",
    "glides": "glides within 300 ms",
    "font": "font display",
    "spaced": "spaced 8 %",
    "unit": "unit raised",
    "decimals": "decimals small",
}
"""The word that opens a phrase -> a phrase to paste. A colour role opens the others:
``danger while``, ``caution above``, ``caution below``."""

BODY_FORMS = {
    "plan": "plan",
    "columns": "columns 2, 1",
    "rows": "rows 14 mm, 1",
    "gap": "gap 2 mm",
    "margin": "margin 3 mm",
    "surface": "surface under AREA, AREA",
    "in": "in AREA reading SIGNAL",
    "touch": "touch AREA goes to SCREEN",
    "swipe": "swipe left goes to SCREEN",
    "comes": "comes up when pack.fault",
    "gives": "gives way when acknowledged",
}

OTHER_WORDS = {
    "if": "when",
    "unless": "when not",
    "equals": "is",
    "title": "called",
    "caption": "called",
    "name": "called",
    "size": "text",
    "format": "as",
    "min": "from",
    "max": "to",
    "range": "from",
    "until": "to",
    "til": "to",
    "till": "to",
    "between": "from",
    "enabled": "allowed",
    "hold": "held",
    "confirm": "confirmed",
    "align": "aligned",
    "set": "sets",
    "toggle": "toggles",
    "step": "steps",
    "go": "goes",
    "tint": "colour",
    "hue": "colour",
    "gauge": "dial",
    "number": "reading",
    "value": "reading",
    "indicator": "lamp",
    "image": "picture",
    "graph": "chart",
    "up": "upward",
    "down": "downward",
    "average": "mean",
    "band": "zone",
    "glide": "glides",
    "gliding": "glides",
    "segment": "segments",
    "middle": "centre",
    "centered": "centred",
    "pointer": "needle",
    "hand": "needle",
    "typeface": "font",
    "spacing": "spaced",
    "units": "unit",
}
"""Plain English words that a builder may try first -> the word that the language has for it."""

CONNECTIVES = frozenset(
    (
        "with", "by", "of", "to", "from", "in", "at", "when", "while", "if", "for", "on", "than", "until",
        "and", "every", "each", "through", "up", "down", "across", "per",
    )
)  # fmt: skip
"""Small words that a builder mixes up with each other, so that one stands for another."""

EXPRESSION_WORDS = frozenset(("and", "or", "not", "is", "in", "on", "off"))
RESERVED = frozenset((*PHRASE_FORMS, *EXPRESSION_WORDS))
"""Not free for parameters and counters: at the start of a phrase or value they mean something else."""
