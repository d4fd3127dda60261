"""Random designs: a folder's text, and beside it what a person who wrote it would say that it means.

Nothing here knows how hmic works; the meaning is in the words of DESIGN.md and LANGUAGE.md.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

from tests.world.screens import Control, Laid, Screen, one_screen, several_screens
from tests.world.themes import Choice, more_themes, themes_text, two_themes


@dataclass(frozen=True)
class Sender:
    """A message on the bus: how often it is sent, in seconds; ``pages`` of its multiplexer."""

    message: str
    period: float
    pages: tuple[int, ...] = ()
    counted: bool = False


@dataclass(frozen=True)
class Field:
    """Where a signal comes from. ``unit`` is the DBC's; ``low`` to ``high``, in it, is how the vehicle
    moves it; ``page`` the multiplexer page that carries it."""

    signal: str
    message: str
    name: str
    unit: str
    low: float
    high: float
    flag: bool = False
    page: int | None = None


@dataclass(frozen=True)
class Declared:
    """What signals.yaml says of a signal that comes from outside. ``stale`` in seconds."""

    name: str
    unit: str
    low: float
    high: float
    stale: float
    flag: bool = False
    count: int = 1
    pipe: bool = False


@dataclass(frozen=True)
class Spec:
    """A design and what it means. ``truth_dbc`` describes the vehicle as its bus is, ``files`` may hold a DBC
    with faults that real ones have; what is bound is meant alike in both."""

    shape: int
    files: dict[str, str]
    truth_dbc: str
    senders: tuple[Sender, ...]
    fields: tuple[Field, ...]
    declared: dict[str, Declared]
    controls: tuple[Control, ...]
    outputs: dict[str, tuple[str, str, float | None]]
    themes: Choice
    sums: tuple[str, ...] = ()
    features: frozenset[str] = frozenset()
    screens: tuple[Screen, ...] = (Screen("main"),)
    order: tuple[str, ...] = ()
    every: dict[str, float] = field(default_factory=dict)


@dataclass
class _Draft:
    signals: list[str] = field(default_factory=list)
    outputs: list[str] = field(default_factory=list)
    areas: list[str] = field(default_factory=list)
    declared: dict[str, Declared] = field(default_factory=dict)
    fields: list[Field] = field(default_factory=list)
    controls: list[Control] = field(default_factory=list)
    bound: dict[str, tuple[str, str, float | None]] = field(default_factory=dict)
    features: set[str] = field(default_factory=set)


DBC_UNITS = {"°C": "degC", "°F": "degF", "K": "K"}
KELVIN = {
    "°C": (lambda value: value + 273.15, lambda value: value - 273.15),
    "°F": (lambda value: (value - 32) / 1.8 + 273.15, lambda value: (value - 273.15) * 1.8 + 32),
    "K": (lambda value: value, lambda value: value),
}
CELLS, PER_PAGE = 40, 4


SOUND, SEVERAL = 100, 200


def spec(shape: int) -> Spec:
    """The design of a number. From ``SOUND`` on: the same again, temperatures in K only, a DBC without
    faults. From ``SEVERAL`` on: all of these again, on several screens."""
    sound, several = shape % SEVERAL >= SOUND, shape >= SEVERAL
    dice, more = random.Random(shape % SOUND * 7919 + 1), random.Random(shape * 7919 + 2)
    draft = _Draft()
    limit = dice.choice((1.0, 5.0))
    _speed(draft, dice, 1.5 if several else 4.0)
    guarded = dice.random() < 0.4
    every = {"house.lights": more.choice((0.5, 2.0)), "oven.set": more.choice((0.4, 1.0))} if several else {}
    _oven(draft, dice, limit, sound, every)
    _house(draft, dice, limit, every)
    _pipe(draft, dice)
    sums = _trip(draft)
    _fault(draft, dice)
    cells = dice.random() < 0.6
    overlap, beyond, page = dice.random() < 0.3, dice.random() < 0.3, cells and dice.random() < 0.4
    if cells:
        _cells(draft)
    overlap, beyond, page = overlap and not sound, beyond and not sound, page and not sound
    truth, given = _dbc(guarded, cells, overlap, beyond)
    draft.features |= {
        name
        for name, so in (
            ("overlapping fields", overlap), ("field beyond the end", beyond), ("unknown page", page),
            ("counted", guarded), ("cells", cells),
        )
        if so
    }  # fmt: skip
    by = ("signal", "none", "clock")[shape % 3]
    themes = more_themes(by, more) if several else two_themes(by)
    laid: Laid = (several_screens if several else one_screen)(draft.areas, draft.controls, limit, more)
    draft.features |= laid.features | {f"{len(themes.begins)} themes by {by}"} if several else set()
    checks = "messages:\n  Speed: {counter: Counter, checksum: Checksum}\n" if guarded else ""
    senders = [
        Sender("Speed", 0.05, counted=guarded),
        Sender("OvenState", dice.choice((0.1, 0.2))),
        Sender("HouseState", 0.1),
        Sender("Faults", 0.1),
        Sender("Light", 0.5),
    ]
    if cells:
        pages = CELLS // PER_PAGE
        senders.append(Sender("Cells", 0.02, tuple(range(pages)) + (pages,) * 55 * page))
    return Spec(
        shape,
        {
            "design.yaml": DESIGN,
            "signals.yaml": "signals:\n" + "".join(draft.signals) + "outputs:\n" + "".join(draft.outputs)
            + checks,
            "themes.yaml": themes_text(themes),
            "main.layout": laid.text,
            "vehicle.dbc": given,
        },
        truth,
        tuple(senders),
        tuple(draft.fields),
        draft.declared,
        laid.controls,
        draft.bound,
        themes,
        sums,
        frozenset(draft.features),
        laid.screens,
        laid.order,
        every,
    )  # fmt: skip


def _allowed(limit: float | None) -> str:
    return "" if limit is None else f', allowed: "vehicle.speed < {limit:g} km/h"'


def _every(name: str, every: dict[str, float]) -> str:
    return f", every: {every[name] * 1000:g} ms" if name in every else ""


def _speed(draft: _Draft, dice: random.Random, light: float) -> None:
    stale = dice.choice((0.25, 0.5, 1.0))
    draft.signals.append(
        f"  vehicle.speed: {{unit: km/h, range: [0, 140], from: Speed.Speed, stale: {stale * 1000:g} ms}}\n"
    )
    draft.declared["vehicle.speed"] = Declared("vehicle.speed", "km/h", 0, 140, stale)
    draft.fields.append(Field("vehicle.speed", "Speed", "Speed", "km/h", 0.0, 90.0))
    draft.areas.append('reading vehicle.speed as "0 km/h", text 6 mm, called "Speed"')
    draft.signals.append(
        f"  vehicle.light: {{unit: lx, range: [0, 60000], from: Light.Light, stale: {light:g} s}}\n"
    )
    draft.declared["vehicle.light"] = Declared("vehicle.light", "lx", 0, 60000, light)
    draft.fields.append(Field("vehicle.light", "Light", "Light", "lx", 0.0, 0.0))


def _oven(
    draft: _Draft, dice: random.Random, limit: float, sound: bool, every: dict[str, float]
) -> None:
    """A temperature that is read and asked for, in any unit and by any phrase that takes a step."""
    unit = dice.choice(("°C", "°C", "°F", "K"))
    unit = "K" if sound else unit
    _, out = KELVIN[unit]
    # Ends that the field, tenths of °C, can carry.
    low, high = (round(out(value + 273.15), 2) for value in (200.0, 1100.0))
    stale = dice.choice((1.0, 2.0))
    draft.signals.append(
        f"  oven.set: {{unit: {unit}, range: [{low - 2}, {high + 2}], from: OvenState.Set, "
        f"stale: {stale * 1000:g} ms}}\n"
    )
    guard = dice.random() < 0.7
    draft.outputs.append(
        f"  oven.set: {{to: Request.Set, range: [{low}, {high}]{_every('oven.set', every)}"
        f"{_allowed(limit if guard else None)}}}\n"
    )
    draft.bound["oven.set"] = ("Request", "Set", limit if guard else None)
    draft.declared["oven.set"] = Declared("oven.set", unit, low - 2, high + 2, stale)
    draft.fields.append(Field("oven.set", "OvenState", "Set", "°C", 500.0, 500.0))
    step = float(dice.choice((5, 10, 25)))
    step_unit = dice.choice([unit, unit, "K"])
    kind = dice.choice(("stepper", "stepper", "slider", "buttons"))
    draft.features.add(f"{kind} of a temperature in {unit} by {step_unit}")
    sentence = {
        "stepper": f'stepper oven.set from {low} {unit} to {high} {unit}, in steps of {step:g} {step_unit}, '
        f'as "0 {unit}", text 4 mm, called "Oven"',
        "slider": f"slider oven.set from {low} {unit} to {high} {unit}, in steps of {step:g} {step_unit}, "
        f'as "0 {unit}", text 4 mm, called "Oven"',
        "buttons": f'button "Hotter", steps oven.set by {step:g} {step_unit}, text 4 mm',
    }[kind]
    draft.areas.append(sentence)
    draft.controls.append(Control("oven.set", kind, low, high, unit, step, step_unit))
    draft.areas.append(f'reading oven.set as "0 {unit}", text 6 mm, called "Set"')
    draft.signals.append(
        f"  oven.heat: {{unit: {unit}, range: [{low - 2}, {high + 2}], from: OvenState.Heat, "
        f"stale: {stale * 1000:g} ms}}\n"
    )
    draft.declared["oven.heat"] = Declared("oven.heat", unit, low - 2, high + 2, stale)
    draft.fields.append(Field("oven.heat", "OvenState", "Heat", "°C", 250.0, 1050.0))
    draft.areas.append(f'reading oven.heat as "0 {unit}", text 6 mm, called "Heat"')


def _house(draft: _Draft, dice: random.Random, limit: float, every: dict[str, float]) -> None:
    """Outputs that share the oven's message: they go out beside it."""
    draft.signals.append(
        "  house.fan: {unit: \"%\", range: [0, 100], from: HouseState.Fan, stale: 1 s}\n"
        "  house.lights: {flag: true, from: HouseState.Lights, stale: 1 s}\n"
    )
    fan = dice.random() < 0.5
    draft.outputs.append(
        f"  house.fan: {{to: Request.Fan{_allowed(limit if fan else None)}}}\n"
        f"  house.lights: {{to: Request.Lights{_every('house.lights', every)}}}\n"
    )
    draft.bound["house.fan"] = ("Request", "Fan", limit if fan else None)
    draft.bound["house.lights"] = ("Request", "Lights", None)
    draft.declared["house.fan"] = Declared("house.fan", "%", 0, 100, 1.0)
    draft.declared["house.lights"] = Declared("house.lights", "", 0, 1, 1.0, flag=True)
    draft.fields.append(Field("house.fan", "HouseState", "Fan", "%", 50.0, 50.0))
    draft.fields.append(Field("house.lights", "HouseState", "Lights", "", 0.0, 0.0, flag=True))
    draft.areas.append(
        'stepper house.fan from 0 % to 100 %, in steps of 10 %, as "0 %", text 4 mm, called "Fan"'
    )
    held = dice.random() < 0.3
    own = limit if held else None
    draft.controls.append(Control("house.fan", "stepper", 0, 100, "%", 10.0, "%"))
    draft.areas.append('switch house.lights, called "Lights"' + ("" if own is None else
        f"\n        allowed when vehicle.speed < {limit:g} km/h"))  # fmt: skip
    draft.controls.append(Control("house.lights", "rocker", 0, 1, "", limit=own, options=(0.0, 1.0)))


def _pipe(draft: _Draft, dice: random.Random) -> None:
    stale = dice.choice((1.0, 2.0))
    draft.signals.append(
        f'  tank.level: {{unit: "%", range: [0, 100], from: pipe, stale: {stale * 1000:g} ms}}\n'
    )
    draft.declared["tank.level"] = Declared("tank.level", "%", 0, 100, stale, pipe=True)
    draft.areas.append('reading tank.level as "0 %", text 6 mm, called "Tank"')


def _trip(draft: _Draft) -> tuple[str, ...]:
    draft.signals.append(
        '  trip.distance: {unit: km, range: [0, 500], is: "integral(vehicle.speed)"}\n'
    )
    draft.areas.append('reading trip.distance as "0.00 km", text 6 mm, called "Trip"')
    return ("trip.distance",)


def _fault(draft: _Draft, dice: random.Random) -> None:
    draft.signals.append("  pack.fault: {flag: true, from: Faults.Fault, stale: 500 ms}\n")
    draft.declared["pack.fault"] = Declared("pack.fault", "", 0, 1, 0.5, flag=True)
    draft.fields.append(Field("pack.fault", "Faults", "Fault", "", 0.0, 1.0, flag=True))
    draft.areas.append('lamp battery, danger while pack.fault, means "Battery fault", sized 12 mm')


def _cells(draft: _Draft) -> None:
    draft.signals.append(
        f'  pack.cells: {{unit: V, range: [2.0, 4.5], count: {CELLS}, from: "Cells.Cell{{n}}", stale: 2 s}}\n'
    )
    draft.declared["pack.cells"] = Declared("pack.cells", "V", 2.0, 4.5, 2.0, count=CELLS)
    for at in range(CELLS):
        draft.fields.append(
            Field(f"pack.cells[{at}]", "Cells", f"Cell{at + 1}", "V", 2.6, 4.2, page=at // PER_PAGE)
        )
    draft.areas.append('cells pack.cells from 2.0 V to 4.5 V, rows of 10, filled by ramp charge')
    draft.signals.append(
        '  pack.sum: {unit: V, range: [8, 18], from: Cells.Sum, stale: 1 s}\n'
    )
    draft.declared["pack.sum"] = Declared("pack.sum", "V", 8, 18, 1.0)
    draft.fields.append(Field("pack.sum", "Cells", "Sum", "V", 9.0, 17.0))
    draft.areas.append('reading pack.sum as "0.0 V", text 6 mm, called "Sum"')


DESIGN = """\
name: Wren
panel:
  pixels: [800, 480]
  size: [200 mm, 120 mm]
  eye distance: 500 mm
  colour depth: 24
  baud: 115200
  flash: 1 MB
  memory: 512 kB
fonts: {text: B612-Regular, figures: B612-Bold}
start: main
dbc: vehicle.dbc
"""

def _dbc(guarded: bool, cells: bool, overlap: bool, beyond: bool) -> tuple[str, str]:
    """The DBC of the vehicle as it is, and as it is given to hmic."""
    messages = [
        'BO_ 256 Speed: 8 Car\n SG_ Speed : 0|16@1+ (0.01,0) [0|655.35] "km/h" Panel\n'
        ' SG_ Counter : 48|4@1+ (1,0) [0|15] "" Panel\n SG_ Checksum : 56|8@1+ (1,0) [0|255] "" Panel\n',
        'BO_ 272 OvenState: 4 Car\n SG_ Set : 0|16@1+ (0.1,-40) [-40|6513.5] "degC" Panel\n'
        ' SG_ Heat : 16|16@1+ (0.1,-40) [-40|6513.5] "degC" Panel\n',
        'BO_ 288 HouseState: 2 Car\n SG_ Fan : 0|8@1+ (0.5,0) [0|127.5] "%" Panel\n'
        ' SG_ Lights : 8|1@1+ (1,0) [0|1] "" Panel\n',
        'BO_ 304 Faults: 8 Car\n SG_ Fault : 0|1@1+ (1,0) [0|1] "" Panel\n',
        'BO_ 320 Light: 2 Car\n SG_ Light : 0|16@1+ (1,0) [0|65535] "lx" Panel\n',
        'BO_ 512 Request: 4 Panel\n SG_ Set : 0|16@1+ (0.1,-40) [-40|6513.5] "degC" Car\n'
        ' SG_ Fan : 16|8@1+ (0.5,0) [0|127.5] "%" Car\n SG_ Lights : 24|1@1+ (1,0) [0|1] "" Car\n',
    ]
    if cells:
        lines = ['BO_ 336 Cells: 8 Car\n SG_ Page M : 0|8@1+ (1,0) [0|255] "" Panel\n'
                 ' SG_ Sum : 56|8@1+ (0.1,0) [0|25.5] "V" Panel\n']  # fmt: skip
        for at in range(CELLS):
            page, place = divmod(at, PER_PAGE)
            lines.append(
                f' SG_ Cell{at + 1} m{page} : {8 + 12 * place}|12@1+ (0.002,0) [0|8.19] "V" Panel\n'
            )
        messages.append("".join(lines))
    head = 'VERSION ""\n\nNS_ :\n\nBS_:\n\nBU_: Car Panel\n\n'
    truth = head + "\n".join(messages)
    faulty = list(messages)
    if overlap:
        # Two names for bits that nobody binds, as real files have them.
        faulty[3] += ' SG_ Reserve : 8|8@1+ (1,0) [0|255] "" Panel\n'
        faulty[3] += ' SG_ Spare : 12|8@1+ (1,0) [0|255] "" Panel\n'
    if beyond:
        faulty[1] += ' SG_ Later : 28|16@1+ (1,0) [0|65535] "" Panel\n'
    return truth, head + "\n".join(faulty)
