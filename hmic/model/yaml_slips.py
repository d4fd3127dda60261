"""A colon forgotten, or the space after it: found in the text of a YAML file that cannot be read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from hmic import number_text
from hmic.diagnostics import Finding, Span, error

_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'')
_KEY = r"[^\W\d][\w.]*"


def colon_slip(lines: Sequence[str], at: int, file: str, keys: Iterable[str]) -> Finding | None:
    """The finding for a colon that is missing, or has no space after it, in line ``at`` (from 0) or in
    the last line with anything in it above. ``keys`` are those that a file of this kind can have."""
    above = next((number for number in range(at - 1, -1, -1) if _bare(lines[number]).strip()), None)
    known = sorted((re.escape(key) for key in keys), key=len, reverse=True)
    for number in (at, above):
        if number is None or number >= len(lines):
            continue
        finding = _in_line(lines[number], number, file, known)
        if finding is not None:
            return finding
    return None


def _bare(line: str) -> str:
    """The line with what is quoted filled in, and without its comment."""
    filled = _QUOTED.sub(lambda match: '"' + "x" * (len(match.group()) - 2) + '"', line)
    return re.sub(r"(^|\s)#.*", "", filled)


def _in_line(line: str, number: int, file: str, known: Sequence[str]) -> Finding | None:
    bare = _bare(line)
    names = "|".join([*known, _KEY])
    tight = re.search(rf"(?:^\s*(?:- )?|[{{,]\s*)({names}):(?=[\[{{\"'\w])", bare)
    if tight is not None:
        return no_space(tight.group(1), line[tight.end() :], _from(tight, file, number))
    before_value = rf"^\s*(?:- )?({names})\s*(?=[\[{{\"])"
    in_braces = rf"[{{,]\s*({names})\s*(?=[\[{{\"])"
    alone = rf"^\s*({names})\s*$"
    before_word = rf"^\s*({'|'.join(known)})\s+(?=\S)" if known else "(?!)"
    for form in (before_value, in_braces, alone, before_word):
        found = re.search(form, bare)
        if found is not None and not (form is before_word and ":" in bare):
            return no_colon(found.group(1), line[found.end() :], _from(found, file, number))
    return None


def _from(found: re.Match[str], file: str, number: int) -> Span:
    column = found.start(1) + 1
    return Span(file, number + 1, column, number + 1, column + 1)


def no_colon(key: str, value: str, span: Span) -> Finding:
    """A key that its value follows with no colon between them."""
    span = Span(span.file, span.line, span.column, span.line, span.column + len(key))
    return error("M226", f"a colon is missing after '{key}'", span, f"write `{key}: {_shown(value)}`")


def no_space(key: str, value: str, span: Span) -> Finding:
    """A key whose colon its value follows with no space between them."""
    span = Span(span.file, span.line, span.column, span.line, span.column + len(key) + 1)
    message = f"a space is missing after the colon of '{key}'"
    return error("M226", message, span, f"write `{key}: {_shown(value)}`")


def _shown(value: str) -> str:
    """The value as far as a remedy needs it."""
    value = value.strip()
    if value[:1] == "{":
        return "{...}"
    if value[:1] == "[":
        return value[: value.find("]") + 1] or "[...]"
    if value[:1] in ('"', "'"):
        return value[: value.find(value[0], 1) + 1] or value
    return re.split(r"[,}]", value)[0].strip() or "..."


def likely(given: object, example: object) -> object:
    """What was meant by a value of another form than an example has: without its unit, in cm, a colour
    without its sign, a full hour, words without their numbers."""
    if isinstance(given, list) and isinstance(example, dict):
        return dict(enumerate(given)) if all(isinstance(each, str) for each in given) else None
    if not isinstance(example, str) or isinstance(given, bool):
        return None
    if isinstance(given, int | float):
        if re.fullmatch(r"\d+:\d\d", example):
            return f"{given}:00" if given in range(24) else None
        unit = re.fullmatch(r"[\d.]+ (\S+)", example)
        return f"{given} {unit[1]}" if unit else None
    if isinstance(given, str):
        if example.startswith("#") and re.fullmatch("[0-9A-Fa-f]{6}", given):
            return f"#{given.lower()}"
        centimetres = re.fullmatch(r"(\d+(?:\.\d+)?) ?cm", given)
        if centimetres and example.endswith(" mm"):
            return f"{number_text.number(10 * float(centimetres[1]))} mm"
    return None
