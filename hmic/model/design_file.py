"""design.yaml: the panel, the fonts, the first screen, the buses."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from hmic.diagnostics import Finding, Severity, Span, did_you_mean, error, warning
from hmic.model.dbc import SUFFIXES
from hmic.model.design import (
    DEFAULT_LETTERS,
    NEARLY_SQUARE,
    DecimalSign,
    LimitSetting,
    Locale,
    OwnPictogram,
    Panel,
)
from hmic.model.files import Folder, inside
from hmic.model.units import convertible, quantity_name, unit, unit_remedy
from hmic.model.yaml_source import Node
from hmic.number_text import number
from hmic.places import fonts_folder

_FONT_SUFFIXES = (".ttf", ".otf")
# Memory is counted in powers of two, as on every data sheet of a microcontroller.
_MEMORY = {"B": 1, "kB": 1024, "MB": 1024 * 1024}
MOST_LETTERS = 512
LEAST_SIDE, MOST_SIDE = 16, 4096
"""Pixels of a panel's side, as the schema has them."""
_TIMES = {"ms": 1, "s": 1000, "min": 60_000}


@dataclass(frozen=True)
class BusFile:
    """The file that describes a bus, None when it cannot be used; ``span`` is where design.yaml names it."""

    path: Path | None
    span: Span


@dataclass(frozen=True)
class DesignFile:
    """What design.yaml says. ``panel`` is None when it cannot be used. The bus of `dbc:` has no name.
    ``j1939`` are the buses of which it is said whether their messages are parameter groups."""

    name: str | None
    panel: Panel | None
    fonts: dict[str, Path]
    spaced: dict[str, float]
    start: str
    start_span: Span
    buses: dict[str, BusFile]
    limits: dict[str, LimitSetting]
    letters: str
    language: str
    language_span: Span | None
    locale: Locale
    j1939: dict[str, bool]
    pictograms: dict[str, OwnPictogram]


def read_design(folder: Folder, node: Node) -> DesignFile:
    """The contents of a design.yaml; what the schema found wrong is left out silently."""
    fonts, spaced = _fonts(folder, node.get("fonts"))
    start, name = node.get("start"), node.get("name")
    language = node.get("language")
    buses = _buses(folder, node)
    return DesignFile(
        name.scalar if name is not None and isinstance(name.scalar, str) else None,
        _panel(folder, node.get("panel")),
        fonts,
        spaced,
        start.scalar if start is not None and isinstance(start.scalar, str) else "",
        node.span if start is None else start.span,
        buses,
        _limits(node.get("limits")),
        _letters(folder, node.get("letters")),
        language.scalar if language is not None and isinstance(language.scalar, str) else "",
        None if language is None else language.span,
        _locale(folder, node.get("locale")),
        _j1939(folder, node.get("j1939"), list(buses)),
        _pictograms(folder, node.get("pictograms")),
    )


def _pictograms(folder: Folder, node: Node | None) -> dict[str, OwnPictogram]:
    """Those whose file can be read; what is wrong with the others is told."""
    found: dict[str, OwnPictogram] = {}
    for entry in node.each() if node is not None else ():
        file, span = entry.value.scalar, entry.value.span
        path = inside(folder, file, span) if isinstance(file, str) else None
        if path is None or not isinstance(file, str):
            continue
        if path.suffix.lower() != ".svg":
            message = f"'{file}' does not end in .svg"
            remedy = "name an SVG file with filled paths of one colour"
            folder.findings.append(error("M225", message, span, remedy))
        elif not path.is_file() and file not in folder.unsaved:
            remedy = "check the path, from the design's folder"
            folder.findings.append(error("M221", f"there is no file '{file}'", span, remedy))
        elif (text := folder.text(file)) is not None:
            found[entry.key] = OwnPictogram(entry.key, file, text, entry.span)
    return found


def _buses(folder: Folder, node: Node) -> dict[str, BusFile]:
    dbc, buses = node.get("dbc"), node.get("buses")
    if dbc is not None and buses is not None:
        message = "the buses are told twice, by 'dbc' and by 'buses'"
        remedy = "keep one of them: in `buses` the file stands beside the name of its bus"
        folder.findings.append(error("M297", message, buses.span, remedy))
    elif dbc is not None:
        return {"": bus_file(folder, dbc)}
    if buses is None:
        return {}
    # What the schema refuses has no entries; it is told of once.
    named = {entry.key: bus_file(folder, entry.value) for entry in buses.each()}
    return named or {"": BusFile(None, buses.span)}


def _j1939(folder: Folder, node: Node | None, buses: list[str]) -> dict[str, bool]:
    """Of one bus, or of all alike, it is said by true or false; else those that speak J1939 are named."""
    if node is None:
        return {}
    if isinstance(node.scalar, bool):
        return dict.fromkeys(buses, node.scalar)
    found: dict[str, bool] = {}
    for item in node.items or ():
        if isinstance(item.scalar, str) and item.scalar in buses:
            found[item.scalar] = True
        elif isinstance(item.scalar, str):
            message = f"'j1939' names the bus '{item.scalar}', which design.yaml does not have"
            named = [bus for bus in buses if bus]
            remedy = did_you_mean(item.scalar, named, "buses") if named else "write `j1939: true`"
            folder.findings.append(error("M296", message, item.span, remedy))
    return found


def bus_file(folder: Folder, node: Node, base: str = "") -> BusFile:
    """The file that a node names, from the folder ``base``; what is wrong with it is told."""
    path = inside(folder, node.scalar, node.span, base) if isinstance(node.scalar, str) else None
    if path is not None and path.suffix.lower() not in SUFFIXES:
        message = f"'{node.scalar}' does not end in .dbc, nor in {', '.join(SUFFIXES[1:])}"
        folder.findings.append(error("M225", message, node.span, "name the DBC file of the vehicle"))
        path = None
    return BusFile(path, node.span)


def _locale(folder: Folder, node: Node | None) -> Locale:
    """Only exchanges of units that can be converted are kept."""
    decimal, units = (node.get("decimal"), node.get("units")) if node is not None else (None, None)
    exchanged: dict[str, str] = {}
    for entry in units.each() if units is not None else ():
        shown = entry.value.scalar
        if not isinstance(shown, str):
            continue
        written, target = unit(entry.key), unit(shown)
        for spelling, known, span in (
            (entry.key, written, entry.span),
            (shown, target, entry.value.span),
        ):
            if known is None:
                message = f"'{spelling}' is no unit that is known here"
                folder.findings.append(error("M272", message, span, unit_remedy(spelling)))
        if written is None or target is None:
            continue
        if convertible(written, target):
            exchanged[entry.key] = shown
        else:
            message = f"{entry.key} is a {quantity_name(written)}, {shown} a {quantity_name(target)}"
            remedy = "name two units of the same quantity"
            folder.findings.append(error("M272", message, entry.value.span, remedy))
    sign = decimal.scalar if decimal is not None else None
    return Locale(DecimalSign(sign) if sign in set(DecimalSign) else None, exchanged)


def _limits(node: Node | None) -> dict[str, LimitSetting]:
    limits: dict[str, LimitSetting] = {}
    for entry in node.each() if node is not None else ():
        value, because = entry.value.get("limit"), entry.value.get("because")
        if value is None or because is None or not isinstance(because.scalar, str):
            continue
        written, unit = value.scalar, ""
        if isinstance(written, str):
            number, _, unit = written.partition(" ")
            try:
                written = float(number)
            except ValueError:
                continue
        if isinstance(written, int | float):
            limits[entry.key] = LimitSetting(float(written), unit.strip(), because.scalar, entry.span)
    return limits


def milliseconds(text: str) -> int | None:
    """``500 ms``, ``1.5 s``, ``2 min`` in ms, rounded; None for another form."""
    found = _amount(text, _TIMES)
    return None if found is None else round(found)


def _amount(text: object, units: dict[str, int]) -> float | None:
    if not isinstance(text, str):
        return None
    for spelling in sorted(units, key=len, reverse=True):
        number = text.removesuffix(spelling).strip()
        if text.endswith(spelling):
            try:
                value = float(number) * units[spelling]
            except ValueError:
                continue
            # Far beyond what the schema lets through.
            return value if 0 <= value < 1e15 else None
    return None


def _panel(folder: Folder, node: Node | None) -> Panel | None:
    if node is None:
        return None
    pixels, size = node.get("pixels"), node.get("size")
    sides = [item.scalar for item in (pixels.items or ())] if pixels is not None else []
    lengths = [_amount(item.scalar, {"mm": 1}) for item in (size.items or ())] if size is not None else []
    numbers = [node.get(key) for key in ("colour depth", "baud")]
    depth, baud = (item.scalar if item is not None else None for item in numbers)
    eye, flash, memory = (
        _amount(item.scalar if item is not None else None, units)
        for item, units in (
            (node.get("eye distance"), {"mm": 1}),
            (node.get("flash"), _MEMORY),
            (node.get("memory"), _MEMORY),
        )
    )
    match (sides, lengths, depth, baud, eye, flash, memory):
        case (
            [int(width), int(height)],
            [float(across), float(down)],
            int(depth_bits),
            int(rate),
            float(distance),
            float(flash_bytes),
            float(memory_bytes),
        ) if (
            min(width, height) >= LEAST_SIDE
            and max(width, height) <= MOST_SIDE
            and min(across, down, distance) > 0
            and depth_bits in (16, 24)
            and rate > 0
        ):
            reflected, native = node.get("reflectance"), node.get("native contrast")
            percent = _amount(reflected.scalar if reflected is not None else None, {"%": 1})
            ratio = native.scalar if native is not None else None
            touch, knob, line = node.get("touch"), node.get("knob"), node.get("line")
            shape, turned = node.get("shape"), node.get("turned")
            panel = Panel(
                width,
                height,
                across,
                down,
                distance,
                depth_bits,
                rate,
                int(flash_bytes),
                int(memory_bytes),
                percent / 100 if percent is not None else None,
                float(ratio) if isinstance(ratio, int | float) and ratio > 1 else None,
                touch is None or touch.scalar is not False,
                knob is not None and knob.scalar is True,
                line is not None and line.scalar == "half duplex",
                shape is not None and shape.scalar == "round",
                turned.scalar if turned is not None and isinstance(turned.scalar, int) else 0,
            )
        case _:
            _zero_lengths(folder, node)
            if not any(finding.severity is Severity.ERROR for finding in folder.findings):
                # Nothing of a design is looked at without its panel; that must not look like a success.
                remedy = "compare it with the one that `hmic new DIR` writes"
                folder.findings.append(error("M230", "this panel cannot be used", node.span, remedy))
            return None
    lines = {item.span.line for item in (node.get("pixels"), node.get("size")) if item is not None}
    if not any(finding.span is not None and finding.span.line in lines for finding in folder.findings):
        _square_pixels(folder, panel, node)
        _circle(folder, panel, node)
    _eye_and_line(folder, panel, node)
    return panel


def _zero_lengths(folder: Folder, node: Node) -> None:
    """A length of nothing passes the schema's pattern; here it would divide."""
    size, eye = node.get("size"), node.get("eye distance")
    for item in (*((size.items or ()) if size is not None else ()), *((eye,) if eye is not None else ())):
        if _amount(item.scalar, {"mm": 1}) == 0:
            remedy = "measure it on the panel, or take it from its data sheet"
            folder.findings.append(error("M231", "this length must be more than 0 mm", item.span, remedy))


def _eye_and_line(folder: Folder, panel: Panel, node: Node) -> None:
    """What no driver and hardly a line has: a figure too few or too many."""
    eye, rate = node.get("eye distance"), node.get("baud")
    if eye is not None and panel.eye_distance < NEAREST_EYE:
        message = f"at {number(panel.eye_distance)} mm no eye sees sharply"
        remedy = "measure from the eye to the panel; 700 mm are usual in a dash"
        if panel.eye_distance * 10 >= NEAREST_EYE:
            remedy = f"write `{number(panel.eye_distance * 10)} mm`"
        folder.findings.append(error("M231", message, eye.span, remedy))
    if rate is not None and panel.baud not in USUAL_RATES:
        message = f"{panel.baud} Bd is a rate that few ends of a line can keep"
        remedy = did_you_mean(str(panel.baud), map(str, USUAL_RATES), "rates")
        folder.findings.append(Finding("M234", Severity.NOTE, message, rate.span, remedy))


NEAREST_EYE = 200.0
"""Millimetres; young eyes see sharply from some 100 mm on, those of 45 years from 250 mm (from memory)."""
USUAL_RATES = (
    9600, 14400, 19200, 28800, 31250, 38400, 56000, 57600, 76800, 100000, 115200, 125000, 128000, 200000,
    230400, 250000, 256000, 400000, 460800, 500000, 576000, 750000, 921600, 1000000, 1152000, 1200000,
    1500000, 2000000, 2500000, 3000000,
)  # fmt: skip
"""Bd of usual clocks of serial lines (common practice, no source)."""


def _square_pixels(folder: Folder, panel: Panel, node: Node) -> None:
    across, down = panel.width_mm / panel.width, panel.height_mm / panel.height
    # A wrong side or a swapped pair is far beyond.
    if abs(across / down - 1) <= USUAL_OBLONG:
        return
    message = f"pixels would be {across:.3f} mm wide and {down:.3f} mm high; panels have nearly square ones"
    wrong, remedy = "size", "check `size`: width, then height, of the lit area"
    if abs(panel.width_mm * panel.width / (panel.height_mm * panel.height) - 1) <= SQUARE:
        # Most panels lie: of two pairs the one that stands is taken for the one that was swapped.
        wrong, other = ("size", "pixels") if panel.width > panel.height else ("pixels", "size")
        pair = f"{panel.height}, {panel.width}"
        if wrong == "size":
            pair = f"{number(panel.height_mm)} mm, {number(panel.width_mm)} mm"
        remedy = f"write [{pair}]: width, then height; if the panel stands upright change `{other}`"
    place = node.get(wrong) or node
    tell = error if max(across / down, down / across) > MOST_OBLONG else warning
    folder.findings.append(tell("M232", message, place.span, remedy))


USUAL_OBLONG = 0.12
"""Part by which pixels of panels as they are sold may be wider than high: 7-inch ones of 800 x 480 on 154 x
86 mm come to 0.075 (from memory)."""
SQUARE = NEARLY_SQUARE
MOST_OBLONG = 1.5
"""Times as long as wide that pixels may be: beyond it a figure is wrong, and nothing measured by it is so
(common practice, no source)."""


def _circle(folder: Folder, panel: Panel, node: Node) -> None:
    """M230 for round glass that is wider than high, or the other way."""
    shape, size = node.get("shape"), node.get("size") or node
    if shape is None or not panel.round or abs(panel.width_mm / panel.height_mm - 1) <= SQUARE:
        return
    wide, tall = number(panel.width_mm), number(panel.height_mm)
    message = f"round glass is as wide as it is high, this is {wide} x {tall} mm"
    remedy = "check `size`, or leave out `shape: round`"
    folder.findings.append(error("M230", message, size.span, remedy))


_PART = re.compile("[0-9]{1,2} ?%")


def _fonts(folder: Folder, node: Node | None) -> tuple[dict[str, Path], dict[str, float]]:
    """The file of each use, and in percent what stands between its letters."""
    files: dict[str, Path] = {}
    spaced: dict[str, float] = {}
    for entry in node.each() if node is not None else ():
        file, apart = entry.value.get("file") or entry.value, entry.value.get("spaced")
        path = _font(folder, file.scalar, file.span) if isinstance(file.scalar, str) else None
        if path is not None:
            files[entry.key] = path
        if apart is not None and isinstance(apart.scalar, str) and _PART.fullmatch(apart.scalar):
            spaced[entry.key] = float(apart.scalar.rstrip("% "))
    return files, spaced


def _font(folder: Folder, name: str, span: Span) -> Path | None:
    if "/" in name or "\\" in name or name.lower().endswith(_FONT_SUFFIXES):
        path = inside(folder, name, span)
        if path is None or path.is_file():
            return path
        folder.findings.append(error("M257", f"there is no font file '{name}'", span, "check the path"))
        return None
    shipped = fonts_folder()
    for suffix in _FONT_SUFFIXES:
        path = shipped / f"{name}{suffix}"
        if path.is_file():
            return path
    known = [item.stem for item in shipped.glob("*") if item.suffix in _FONT_SUFFIXES]
    remedy = did_you_mean(name, known, "fonts")
    folder.findings.append(error("M257", f"no font '{name}' comes with hmic", span, remedy))
    return None


def _letters(folder: Folder, node: Node | None) -> str:
    """All letters of ranges like ``А-я``, each once, in the order of their code points."""
    if node is None:
        return DEFAULT_LETTERS
    found: set[str] = set()
    for item in node.items or ():
        text = item.scalar
        if not isinstance(text, str):
            continue
        first, dash, last = text[:1], text[1:2], text[2:]
        if len(text) == 3 and dash == "-" and first <= last and ord(last) - ord(first) < MOST_LETTERS:
            found.update(map(chr, range(ord(first), ord(last) + 1)))
        elif len(text) == 1:
            found.add(text)
        else:
            message = f"'{text}' is no range of letters"
            remedy = f"write a range like a-z, the lower first, of at most {MOST_LETTERS} letters"
            folder.findings.append(error("M251", message, item.span, remedy))
    return "".join(sorted(found)) or DEFAULT_LETTERS
