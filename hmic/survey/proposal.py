"""Signals written as a person would, out of what a description says and a recording shows."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hmic.model.buses import address
from hmic.model.channels import LOWER, LOWER_PLACES
from hmic.model.checksums import method_text
from hmic.model.dbc import means_no_number, means_no_value
from hmic.model.j1939 import NOBODY, highest_measure, source_of
from hmic.model.unit_words import says_no_unit, says_plain_number
from hmic.model.units import Unit, converter, unit
from hmic.model.values import ValueKind
from hmic.survey.describe import Described, Descriptions
from hmic.survey.facts import FieldSeen, MessageSeen, Survey

PERIODS = 3
"""Periods after which a value is stale (three to five are common practice, no source)."""
SHORT_FIELD = 8
"""Bits of a field up to which all that they can carry is its range, where the description gives none."""
STEPS = 60_000
"""Steps of a channel that a range may need; it has a little more (FORMAT.md)."""
MOST_WORDS = 16
"""Labels of a field of words; one with more is a number with names."""
SHORT = 1000
"""ms that speed and high voltage may be stale at most; the checks hold them to it (CHECKS.md)."""
PRESSING = frozenset(("km/h", "mph", "m/s", "V"))
UNKNOWN_STALE = 1000
"""ms, where neither description nor recording tells a period."""
_DIGITS = {"km/h": 0, "mph": 0, "rpm": 0, "%": 0, "°C": 0, "kW": 1, "V": 1, "A": 1}
"""Digits after the point that a driver can use at most, by unit (common practice, no source)."""
_OURS = (("m/s", "km/h"), ("°F", "°C"), ("K", "°C"))
"""Units that are turned to others."""
_BINDABLE = re.compile(r"[^\s.{}][^.{}\n]*\.[^\s.{}][^.{}\n]*")
_NICE = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


@dataclass(frozen=True)
class Proposal:
    """A signal for signals.yaml: ``entry`` is its declaration, ``reason`` a sentence for the line above.
    ``decimals`` how a number is shown, None where it is too wide to
    be; ``count`` of a list, 0 for one value. ``source`` is the field that it comes from."""

    name: str
    entry: str
    reason: str
    kind: ValueKind
    caption: str
    source: str
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    decimals: int | None = None
    count: int = 0
    words: tuple[str, ...] = ()

    @property
    def lines(self) -> str:
        """What stands in signals.yaml."""
        return f"  # {self.reason}\n  {self.name}: {self.entry}\n"


@dataclass(frozen=True)
class Source:
    """A field that may become a signal, and what was seen of it: of a parameter group by the busiest of its
    ``senders``."""

    described: Described
    signal: Any
    message: MessageSeen | None = None
    seen: FieldSeen | None = None
    senders: tuple[int, ...] = ()

    @property
    def came(self) -> str:
        """What stands behind `from:`; of a parameter group with the address of its sender, where that is not
        the only one, or not the one of the description."""
        key = _from(self.key)
        if not self.described.grouped or self.message is None:
            return key
        address, said = source_of(self.message.identifier), source_of(self.described.message.frame_id)
        known = len(self.senders) < 2 and said in (address, *NOBODY)
        return key if known else f"{key}, source address: 0x{address:02X}"

    @property
    def key(self) -> str:
        """How signals.yaml names it."""
        return address(self.described.bus, f"{self.described.message.name}.{self.signal.name}")


def sources(descriptions: Descriptions, found: Survey | None) -> dict[str, Source]:
    """Every field that signals.yaml can name by ``Message.Field``, with its bus in front where that has a
    name, in the order of the descriptions."""
    result: dict[str, Source] = {}
    seen = by_name(found.messages if found is not None else ())
    for described in descriptions.messages:
        several = brought(seen, described)
        busiest = max(several, key=lambda each: each.count, default=None)
        senders = tuple(sorted({source_of(each.identifier) for each in several}))
        fields = {field.name: field for field in busiest.fields} if busiest is not None else {}
        for signal in described.message.signals:
            source = Source(described, signal, busiest, fields.get(signal.name), senders)
            if _BINDABLE.fullmatch(source.key):
                result.setdefault(source.key, source)
    return result


def by_name(messages: Sequence[MessageSeen]) -> dict[str, list[MessageSeen]]:
    """What came by the name that the description gives it."""
    named: dict[str, list[MessageSeen]] = {}
    for message in messages:
        if message.name:
            named.setdefault(message.name, []).append(message)
    return named


def brought(
    seen: Mapping[str, Sequence[MessageSeen]], described: Described, sender: int | None = None
) -> list[MessageSeen]:
    """What came of a described message: by its own identifier where that came, on each channel; else from
    other senders of its parameter group, those that sent most first; with ``sender`` only from that address.
    """
    named = seen.get(described.message.name, ())
    of = [each for each in named if described.wire in ("", each.bus)]
    of = [each for each in of if sender in (None, source_of(each.identifier))]
    exact = [each for each in of if each.identifier == described.message.frame_id]
    return exact or sorted(of, key=lambda each: -each.count)


FEWEST = 4
"""Fields that count on in their names and become a list."""


def families(fields: Mapping[str, Source]) -> dict[str, tuple[str, ...]]:
    """Fields of a message whose names count from 1, such as the voltages of cells, by the first of them."""
    counted: dict[tuple[str, str, str, str], dict[int, str]] = {}
    for key, source in fields.items():
        found = re.fullmatch(r"(.*?)([1-9]\d{0,2})", source.signal.name)
        if found is not None and _may_be_listed(source.signal):
            described = source.described
            of = described.bus, described.message.name, found[1], source.signal.unit or ""
            counted.setdefault(of, {})[int(found[2])] = key
    result = {}
    for numbers in counted.values():
        if len(numbers) >= FEWEST and sorted(numbers) == list(range(1, len(numbers) + 1)):
            result[numbers[1]] = tuple(numbers[number] for number in sorted(numbers))
    return result


def _may_be_listed(signal: Any) -> bool:
    """Whether a field is a number of a few digits."""
    return not signal.choices and not signal.is_float and 1 < signal.length <= 32


def propose_all(fields: Mapping[str, Source], names: Sequence[str], taken: set[str]) -> list[Proposal]:
    """The signals of the fields named; a whole family becomes a list with its lowest and highest."""
    of_family = {member: members for members in families(fields).values() for member in members}
    proposals: list[Proposal] = []
    done: set[str] = set()
    for name in names:
        members = of_family.get(name, ())
        if name in done:
            continue
        if members and set(members) <= set(names):
            done |= set(members)
            proposals += _listed([fields[each] for each in members], taken)
        else:
            proposals.append(propose(fields[name], taken))
    return proposals


def _listed(members: Sequence[Source], taken: set[str]) -> list[Proposal]:
    singles = [propose(each, set()) for each in members]
    low, high = min(each.low for each in singles), max(each.high for each in singles)
    first = members[0]
    message, field = first.described.message.name, re.sub(r"1$", "{n}", first.signal.name)
    stale, reason = max(stale_of(each) for each in members)
    stem = snake(re.sub(r"1$", "", first.signal.name)) or "value"
    name = _free(f"{snake(message)}.{stem}s", taken)
    taken.add(name)
    unit_text = _unit_text(unit(singles[0].unit)) if singles[0].unit else '""'
    listed = json.dumps(address(first.described.bus, f"{message}.{field}"), ensure_ascii=False)
    came = listed + first.came.removeprefix(_from(first.key))
    absent = re.search(r", (no data: [^,}]+)", singles[0].entry)
    entry = (
        f"{{unit: {unit_text}, range: [{low:.12g}, {high:.12g}], count: {len(members)}, from: {came}, "
        f"stale: {stale_text(stale)}{', ' + absent[1] if absent else ''}}}"
    )
    caption = caption_of(stem)
    whole = Proposal(name, entry, reason, ValueKind.NUMBER, caption, first.key, count=len(members))
    found = [whole]
    for which, function in (("lowest", "min"), ("highest", "max")):
        derived = _free(f"{snake(message)}.{which}_{stem}", taken)
        taken.add(derived)
        entry = f'{{unit: {unit_text}, is: "{function}({name})"}}'
        caption = f"{which} {caption_of(stem).lower()}".capitalize()[:20]
        # Cells differ by hundredths of a volt.
        fine = singles[0].unit == "V" and (high - low) * 100 <= STEPS
        decimals = 2 if fine else singles[0].decimals if (high - low) <= STEPS else None
        reason = f"the {which} of them"
        found.append(
            Proposal(
                derived,
                entry,
                reason,
                ValueKind.NUMBER,
                caption,
                first.key,
                singles[0].unit,
                low,
                high,
                decimals,
            )
        )
    return found


def propose(source: Source, taken: set[str]) -> Proposal:
    """The signal of a field, under a name that is not yet ``taken``."""
    signal, message = source.signal, source.described.message
    name = _free(f"{snake(message.name)}.{snake(signal.name)}", taken)
    taken.add(name)
    stale, reason = stale_of(source)
    came = source.came
    labels = {int(raw): str(label).strip() for raw, label in (signal.choices or {}).items()}
    caption = caption_of(signal.name)
    words = {raw: label for raw, label in labels.items() if label and not means_no_value(label)}
    if signal.length == 1 and not (set(labels.values()) - {"", "Off", "On", "off", "on", "OFF", "ON"}):
        entry = f"{{flag: true, from: {came}, stale: {stale_text(stale)}}}"
        return Proposal(name, entry, reason, ValueKind.FLAG, caption, source.key)
    if _is_words(signal, words):
        shown = _distinct(words)
        said = ", ".join(
            f"{raw}: {json.dumps(word, ensure_ascii=False)}" for raw, word in sorted(shown.items())
        )
        entry = f"{{words: {{{said}}}, from: {came}, stale: {stale_text(stale)}}}"
        texts = tuple(shown[raw] for raw in sorted(shown))
        return Proposal(name, entry, reason, ValueKind.WORD, caption, source.key, words=texts)
    return _number(source, name, came, stale, reason, caption=caption)


def _number(source: Source, name: str, came: str, stale: int, reason: str, *, caption: str) -> Proposal:
    signal = source.signal
    written = signal.unit or ""
    given = unit(written) if written else None
    ours = _ours(given) if given is not None else None
    if given is None and not (says_no_unit(written) or says_plain_number(written)):
        reason += f"; the DBC's unit '{_plain(written)}' is none that is known"
    change = converter(given, ours) if given is not None and ours is not None else float
    absent = _absent(source)
    low, high = sorted(change(end) for end in range_of(source, absent))
    if ours != given or (low, high) != said_range(signal):
        low, high = rounded(low, high)
    parts = [
        f"unit: {_unit_text(ours)}",
        f"range: [{low:.12g}, {high:.12g}]",
        f"from: {came}",
        f"stale: {stale_text(stale)}",
    ]
    if absent is not None and not low <= change(absent) <= high:
        parts.append(f"no data: {absent:.12g}")
    step = abs(change(float(signal.scale)) - change(0.0)) if not signal.is_float else (high - low) / 1000
    spelling = ours.spelling if ours is not None else ""
    decimals = _decimals(step, low, high, _DIGITS.get(spelling, 2))
    entry = f"{{{', '.join(parts)}}}"
    return Proposal(name, entry, reason, ValueKind.NUMBER, caption, source.key, spelling, low, high, decimals)


def _ours(given: Unit) -> Unit:
    for theirs, ours in _OURS:
        if given == unit(theirs):
            wanted = unit(ours)
            assert wanted is not None
            return wanted
    return given


def _unit_text(of: Unit | None) -> str:
    if of is None or not of.spelling:
        return '""'
    return (
        of.spelling
        if re.fullmatch(r"[A-Za-z°Ω][\w°/·]*", of.spelling)
        else json.dumps(of.spelling, ensure_ascii=False)
    )


def _absent(source: Source) -> float | None:
    """The value that stands for none without a label that says so, in the unit of the description."""
    for each in source.seen.sentinels if source.seen is not None else ():
        if not each.label:
            return each.value
    return None


def range_of(source: Source, absent: float | None) -> tuple[float, float]:
    """What can be true: what the description says, widened by what came; else what came, with a margin;
    else what the bits can carry."""
    signal, seen = source.signal, source.seen
    low, high = _carried(signal, source.described.grouped)
    least, most = _carried(signal, False)
    said = said_range(signal)
    if said is not None and least <= said[0] and said[1] <= most:
        low, high = max(low, said[0]), min(high, said[1])
    elif signal.length > SHORT_FIELD and seen is not None and seen.low is not None and seen.high is not None:
        # A drive shows little of what can be: as much again on both sides, within what the bits can carry.
        margin = max(seen.high - seen.low, max(abs(seen.low), abs(seen.high)) / 2) or 1.0
        low, high = max(low, seen.low - margin), min(high, seen.high + margin)
    if seen is not None and seen.low is not None and seen.high is not None:
        low, high = min(low, seen.low), max(high, seen.high)
    step = abs(float(signal.scale)) or 1.0
    for never in _never(signal) + ([absent] if absent is not None else []):
        if never >= high:
            high = min(high, never - step)
        elif never <= low:
            low = max(low, never + step)
    return (low, high) if low < high else (low, low + step)


def said_range(signal: Any) -> tuple[float, float] | None:
    """The range that the description gives a field, None where it gives none."""
    if signal.minimum is None or signal.maximum is None or not signal.minimum < signal.maximum:
        return None
    return float(signal.minimum), float(signal.maximum)


def _carried(signal: Any, grouped: bool) -> tuple[float, float]:
    if signal.is_float:
        return -1e6, 1e6
    least = -(1 << signal.length - 1) if signal.is_signed else 0
    most = (1 << signal.length - 1) - 1 if signal.is_signed else (1 << signal.length) - 1
    if grouped and not signal.is_signed:
        most = highest_measure(signal.length)
    scale, offset = float(signal.scale), float(signal.offset)
    low, high = sorted((least * scale + offset, most * scale + offset))
    return low, high


def _never(signal: Any) -> list[float]:
    """Values that labels say are none."""
    labels = {int(raw): str(label) for raw, label in (signal.choices or {}).items()}
    never = [raw for raw, label in labels.items() if means_no_value(label) or means_no_number(label)]
    return [raw * float(signal.scale) + float(signal.offset) for raw in sorted(never, reverse=True)]


def rounded(low: float, high: float) -> tuple[float, float]:
    """Ends of a range as a person writes them, no narrower than they were but for rounding noise."""
    size = 10 ** math.floor(math.log10(max(high - low, 1e-9)))
    step = size / 100
    low, high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    # Beside a very large number a small span is none.
    return (low, high) if f"{low:.12g}" != f"{high:.12g}" else (low, low + max(1.0, abs(low)))


def _decimals(step: float, low: float, high: float, most: int) -> int | None:
    """Digits after the point: no finer than the field, as far as a channel has steps for."""
    wanted = min(most, max(0, math.floor(-math.log10(step) + 1e-9))) if step > 0 else most
    # A number that is never below zero can go by two channels.
    needed, there = (high, STEPS * LOWER) if low >= 0 and most < LOWER_PLACES else (high - low, STEPS)
    while wanted and needed * 10**wanted > there:
        wanted -= 1
    return wanted if needed * 10**wanted <= there else None


def _is_words(signal: Any, words: Mapping[int, str]) -> bool:
    """Whether a field is one of a few states: its labels name nearly all of what it can be."""
    if not words or signal.unit or len(words) > MOST_WORDS or signal.is_float:
        return False
    return len(words) >= 2 and float(signal.scale) == 1.0 and float(signal.offset) == 0.0


def _distinct(words: Mapping[int, str]) -> dict[int, str]:
    """Labels as they can stand on a screen, each once."""
    shown: dict[int, str] = {}
    for raw, word in sorted(words.items()):
        text = _plain(word.replace("_", " "))[:24].strip() or str(raw)
        shown[raw] = text if text not in shown.values() else f"{text} {raw}"
    return shown


def _plain(text: str) -> str:
    """Letters that every font here has."""
    return re.sub(r"[^ -~]", "", text).replace('"', "'")


def pace(source: Source) -> tuple[float, float] | None:
    """How often a field came, and after how long at the longest, in s; of one that comes by turns a round.
    None where too little came to say so."""
    message = source.message
    if message is None or message.count <= 2:
        return None
    median, longest = message.period.median, message.period.longest
    if by_turns(source) and message.turns is not None:
        median = longest = max(median, message.turns.round)
    return median, longest


def by_turns(source: Source) -> bool:
    """Whether a field shares its message with others in turns."""
    turned = source.seen is not None and source.seen.page != ""
    return turned and source.message is not None and source.message.turns is not None


def failed(period: float, longest: float) -> bool:
    """Whether the longest gap was a failure of the sender, and no gap that a value has to outlast."""
    return longest >= 10 * period


def stale_of(source: Source) -> tuple[int, str]:
    """ms after which a value is stale, and why."""
    cycle, came = source.described.message.cycle_time or 0, pace(source)
    if came is not None:
        median, longest = came
        outlasts = 0.0 if failed(median, longest) else 1.5 * longest
        stale = _nice(1000 * max(PERIODS * median, outlasts))
        reason = f"came every {said_time(median)}, " + (
            "when its turn was" if by_turns(source) else f"at the longest after {said_time(longest)}"
        )
        stale = max(stale, _nice(cycle * PERIODS) if cycle else 0)
        return _capped(stale, max(median, cycle / 1000), source.signal.unit or ""), reason
    if cycle:
        stale = _capped(_nice(PERIODS * cycle), cycle / 1000, source.signal.unit or "")
        return stale, f"comes every {said_time(cycle / 1000)} by the DBC"
    return UNKNOWN_STALE, "its period is not known: give it three to five of them"


def _capped(stale: int, period: float, quantity: str) -> int:
    """Speed and what is dangerous must not stay on show for longer than a second (``stale of speed`` and
    ``stale of high voltage``), where two periods fit into that."""
    return min(stale, SHORT) if quantity in PRESSING and 2000 * period <= 1.02 * SHORT else stale


def said_time(seconds: float) -> str:
    """As `40 ms`, `1.2 s`."""
    return f"{seconds * 1000:.3g} ms" if seconds < 1 else f"{seconds:.3g} s"


def _nice(milliseconds: float) -> int:
    size = 10.0 ** math.floor(math.log10(max(milliseconds, 10.0)))
    factor = next(each for each in _NICE if each * size >= milliseconds - 1e-6)
    return math.ceil(factor * size - 1e-6)


def stale_text(milliseconds: int) -> str:
    """As signals.yaml has it."""
    return f"{milliseconds} ms" if milliseconds % 1000 else f"{milliseconds // 1000} s"


def _from(text: str) -> str:
    plain = re.fullmatch(r"(?:\w+/)?[A-Za-z_]\w*\.[A-Za-z_]\w*", text)
    return text if plain else json.dumps(text, ensure_ascii=False)


def snake(name: str) -> str:
    """A name in small letters, its words parted by ``_``."""
    parted = re.sub(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", "_", name)
    small = re.sub(r"[^a-z0-9]+", "_", parted.lower()).strip("_")
    return small if small[:1].isalpha() else f"m_{small}".rstrip("_")


def caption_of(name: str) -> str:
    """What a screen calls it."""
    words = snake(name).removeprefix("m_").split("_")
    return " ".join(words)[:20].strip().capitalize() or name[:20]


def _free(name: str, taken: set[str]) -> str:
    number = 2
    free = name
    while free in taken or free.split(".")[0] == "clock":
        free = f"{name}_{number}"
        number += 1
    return free


def checks_of(chosen: Sequence[Source]) -> dict[str, str]:
    """Entries for ``messages:`` by message: counters that moved with every frame, as a run asks of them,
    and checksums that held throughout, of which the description has the field."""
    entries: dict[str, str] = {}
    for source in chosen:
        message = source.message
        at = address(source.described.bus, message.name) if message is not None else ""
        if message is None or at in entries:
            continue
        by_bits = {(_lowest(each), each.length): each.name for each in source.described.message.signals}
        parts: list[str] = []
        for counter in message.counters:
            name = by_bits.get((counter.start, counter.length))
            if name is not None and not counter.still and not parts:
                parts.append(f"counter: {_quoted(name)}")
        for check in message.checksums:
            name = by_bits.get((8 * check.byte, 8))
            if (
                name is not None
                and check.held == check.frames
                and not any("checksum" in part for part in parts)
            ):
                parts += [f"checksum: {_quoted(name)}", method_text(check.method)]
                parts += ["with identifier: true"] if check.with_identifier else []
        if parts:
            entries[at] = f"{{{', '.join(parts)}}}"
    return entries


def _quoted(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z_]\w*", name) else json.dumps(name, ensure_ascii=False)


def _lowest(signal: Any) -> int:
    """The lowest bit of a field within a byte, counted from the lowest of the first byte."""
    start, length = int(signal.start), int(signal.length)
    return start if signal.byte_order == "little_endian" else start - length + 1
