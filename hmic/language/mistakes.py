"""What a builder most likely meant where a sentence goes wrong: a slip in, a finding out."""

from __future__ import annotations

import re
import unicodedata

from hmic.diagnostics import Finding, Span, closest, did_you_mean, error
from hmic.language.grammar import Slip, Start
from hmic.language.lines import Line, word_at
from hmic.language.vocabulary import (
    BODY_FORMS,
    BODY_WORDS,
    CONNECTIVES,
    CONTENTS,
    KINDS,
    OTHER_WORDS,
    PHRASE_FORMS,
    TOP_WORDS,
)

_SIGNS = {
    "&&": "and",
    "||": "or",
    "==": "is",
    "!=": "is not",
    "<>": "is not",
    "=<": "<=",
    "=>": ">=",
    "=": "is",
    "!": "not",
    "&": "and",
    "|": "or",
    "≤": "<=",
    "≥": ">=",
    "≠": "is not",
    "×": "*",
    "÷": "/",
    "−": "-",
    "–": "-",
}
_QUOTES = "'`´‘’‚“”„«»"
_NOT_NEEDED = {
    ":": "a line opens by the indentation of the lines below it",
    ";": "one sentence a line; phrases are set apart by commas",
    "{": "what belongs to a line stands below it, further in",
    "}": "what belongs to a line stands below it, further in",
}


class _Place:
    """The sentence, the place where it goes wrong and what stands there."""

    def __init__(self, file: str, line: Line, rule: Start, slip: Slip) -> None:
        self.file, self.line, self.rule = file, line, rule
        self.text, self.at, self.allowed = line.text, slip.place, slip.allowed
        self.char = self.text[self.at : self.at + 1]
        self.word = _shown(self.text, self.at)

    def span(self, start: int, end: int) -> Span:
        return self.line.span(self.file, start, max(end, start + 1))

    def here(self) -> Span:
        return self.span(self.at, self.at + len(self.word))

    def before(self) -> str:
        return self.text[: self.at]

    def after(self) -> str:
        return self.text[self.at + len(self.word) :]


def explain(file: str, line: Line, rule: Start, slip: Slip) -> Finding:
    """The finding for a sentence that goes wrong: the most telling explanation that fits."""
    place = _Place(file, line, rule, slip)
    for explanation in (
        _open_quote,
        _foreign_quote,
        _unseen,
        _sign,
        _number_form,
        _hyphen,
        _not_needed,
        _row,
        _line_start,
        _ends_early,
        _phrase_word,
        _capitals,
        _kind,
        _unquoted,
        _chained,
        _choice_comma,
        _doubled,
        _comma_missing,
        _one_word,
    ):
        finding = explanation(place)
        if finding is not None:
            return finding
    message = f"'{place.word}' cannot stand here; here may stand {in_words(place.allowed)}"
    return error("L112", message, place.here(), _near_remedy(place) or _example(place))


_EXAMPLES = {
    "lamp": "lamp battery, danger while pack.fault",
    "symbol": "symbol pump, colour quiet",
    "shape": "shape box, colour quiet",
    "while": "danger while pack.fault",
    "above": "caution above 85 kW",
    "below": "danger below 10 %",
    "use": 'use loop_reading with title "Drive loop"',
    "each": "each n from 1 to 4",
}


def _example(place: _Place) -> str | None:
    """What to do where nothing nearer fits: end the sentence, or what its last phrase looks like."""
    if place.word == "x" and place.after()[:1] == " ":
        return "write *: that multiplies, as in pack.voltage * pack.current"
    if place.char in "+-*/" and "QUANTITY" in place.allowed:
        return "one sign stands between two values, as in a.b * c.d"
    if not place.allowed - {"$END"} and place.word:
        return f"take '{place.word}' out"
    if "_CLOSE" in place.allowed and place.word[:1].isalpha() and place.before().count("("):
        return f"add ')' before '{place.word}'"
    if place.char == ")":
        return "put a value between the brackets, such as max(pack.cells)"
    if "_CALLED" in place.allowed and place.word[:1] == '"':
        return 'words stand in one pair of quotes; the caption is: called "Battery"'
    for word in re.findall(r"[^\W\d]\w*", re.sub(r'"(?:[^"\\]|\\.)*"', " ", place.before()))[::-1]:
        example = _EXAMPLES.get(word) or PHRASE_FORMS.get(word)
        if example is not None and word not in ("in", "of", "at"):
            return f"for example: {example}"
    return None


def _shown(text: str, at: int) -> str:
    """The word, number or sign at a place, as a person would point at it."""
    if at < len(text) and text[at] == '"':
        found = re.match(r'"(?:[^"\\]|\\.)*"?', text[at:])
        return found.group() if found else '"'
    found = re.match(r"-?[0-9]+(?:\.[0-9]+)?|\w+(?:\.\w+)*", text[at:])
    if found:
        return found.group()
    sign = next((sign for sign in _SIGNS if text.startswith(sign, at)), None)
    return sign or text[at : at + 1]


# -- characters


def _open_quote(place: _Place) -> Finding | None:
    text = place.text
    closed = list(re.finditer(r'"(?:[^"\\]|\\.)*"', text))
    rest = re.sub(r'"(?:[^"\\]|\\.)*"', lambda match: " " * len(match.group()), text)
    start = rest.find('"')
    if start < 0:
        stroke = re.search(r'\\[^"\\n]', text[place.at :]) if place.char == '"' else None
        if stroke is None:
            return None
        start = place.at + stroke.start()
        message = "inside quotes '\\' stands only before '\"', another '\\', or n for a new line"
        return error("L109", message, place.span(start, start + 1), "write two strokes: \\\\")
    odd = next((match for match in closed if re.match(r"[^\s,)]", text[match.end() :])), None)
    if odd is not None and re.search(r",\s*\w+\s*$", odd.group()[:-1]):
        start = odd.start()
    ending = re.search(r",\s*(?:\w+)(?=[\s]|$)", text[start:])
    end = start + ending.start() if ending else len(text)
    words = text[start:end].rstrip()
    message = "these words have an opening quote and no closing one"
    return error("L108", message, place.span(start, start + len(words)), f'close them: {words}"')


def _foreign_quote(place: _Place) -> Finding | None:
    if not place.char or place.char not in _QUOTES:
        return None
    found = re.match(rf"[{_QUOTES}]([^{_QUOTES}]*)[{_QUOTES}]?", place.text[place.at :])
    inner = found.group(1) if found else ""
    width = len(found.group()) if found else 1
    message = f"words stand in straight double quotes, not in {place.char}"
    return error("L109", message, place.span(place.at, place.at + width), f'write "{inner.strip()}"')


def _unseen(place: _Place) -> Finding | None:
    char = place.char
    if not char or (char.isprintable() and unicodedata.category(char) != "Co"):
        return None
    name = unicodedata.name(char, "") or f"U+{ord(char):04X}"
    message = f"there is a character here that cannot be seen ({name.lower()})"
    return error(
        "L127", message, place.span(place.at, place.at + 1), "delete it, or type a space in its place"
    )


def _sign(place: _Place) -> Finding | None:
    found = next((sign for sign in _SIGNS if place.text.startswith(sign, place.at)), None)
    if found is None or place.rule == Start.PLAN or place.text.startswith("->", place.at):
        return None
    single = _single(place.allowed) if found == "=" else None
    meant = single or _SIGNS[found]
    head = place.before()
    after = place.text[place.at + len(found) :]
    if found == "=" and head.endswith(("<", ">")):
        meant = head[-1] + "="
        message = "the two signs stand together"
        return error("L110", message, place.span(place.at, place.at + 1), f"write '{meant}'")
    if found == "=" and single is None and "COMPARE" not in place.allowed:
        message = "'=' has no meaning here; sentences have words instead"
        return error("L110", message, place.span(place.at, place.at + 1), "take it out")
    first, second = _last_piece(head), _compared(after)
    message = f"the language writes '{meant}' for '{found}'"
    remedy = f"write '{f'{first} {meant} {second}'.strip()}'"
    if meant == "is" and second[:1].isdigit() and second[-1].isdigit():
        remedy += f", with the unit of {first} if it has one"
    elif meant == "is" and second[:1].isdigit():
        remedy += f", or a limit: '{first} < {second.replace('0 ', '1 ') if second[:2] == '0 ' else second}'"
    return error("L110", message, place.span(place.at, place.at + len(found)), remedy)


def _compared(text: str) -> str:
    """The value after a sign, a number with its unit."""
    found = re.match(r"\s*(-?[0-9][0-9.]*)\s*([^\s,()\d]\S*?)?(?=[\s,)]|$)", text)
    if found is None:
        return _first_piece(text)
    unit = found.group(2)
    word = unit is None or unit in CONNECTIVES or unit in PHRASE_FORMS or unit in ("and", "or", "is", "not")
    return found.group(1) if word else f"{found.group(1)} {unit}"


def _number_form(place: _Place) -> Finding | None:
    text, at = place.text, place.at
    sign = at if place.char == "," else at - 1
    whole, rest = re.search(r"[0-9]+$", text[: max(sign, 0)]), re.match(r"[0-9]+", text[sign + 1 :])
    if whole and rest and text[sign] == ",":
        number = f"{whole.group()}.{rest.group()}"
        message = "a decimal is written with a point"
        span = place.span(whole.start(), sign + 1 + len(rest.group()))
        return error("L114", message, span, f"write {number}")
    if place.char == "." and (rest := re.match(r"\.[0-9]+", text[at:])):
        message = "a number starts with a digit"
        return error("L114", message, place.span(at, at + len(rest.group())), f"write 0{rest.group()}")
    ended = re.search(r"[0-9]$", text[:at])
    if place.char == "." and ended:
        message = "after the point of a number stands a digit"
        return error("L114", message, place.span(at, at + 1), "take the point out, or add a digit")
    return None


def _hyphen(place: _Place) -> Finding | None:
    head = re.search(r"[^\W\d]\w*$", place.before())
    tail = re.match(r"-(\w+)", place.text[place.at :])
    if not (head and tail) or "MINUS" in place.allowed:
        return None
    written = head.group() + tail.group()
    span = place.span(head.start(), place.at + len(tail.group()))
    message = f"'{written}' is not one name: names have letters, digits and '_'"
    return error("L126", message, span, f"write {written.replace('-', '_')}")


def _not_needed(place: _Place) -> Finding | None:
    reason = _NOT_NEEDED.get(place.char)
    if reason is None:
        return None
    message = f"'{place.char}' is not needed: {reason}"
    without = (place.before() + place.text[place.at + 1 :]).strip()
    remedy = f"write {without}" if place.char == ":" else f"take the '{place.char}' out"
    return error("L111", message, place.span(place.at, place.at + 1), remedy)


# -- words


def _row(place: _Place) -> Finding | None:
    if place.rule != Start.PLAN:
        return None
    message = (
        f"'{place.word}' cannot stand in a row of the plan: it holds area names, and '.' for an empty place"
    )
    names = re.findall(r"[^\W\d]\w*|(?<!\S)[.-](?!\S)", place.text)
    fixed = " ".join("." if name == "-" else name for name in names)
    return error("L112", message, place.here(), f"write: {fixed}" if names else "write '.'")


def _line_start(place: _Place) -> Finding | None:
    if place.at != 0 and not (place.rule == Start.BODY and place.before().strip() == "in"):
        return _missing_in(place) if place.rule == Start.BODY else None
    if place.at != 0:
        return None
    word = place.word
    if place.rule == Start.TOP:
        return _top_start(place, word)
    if place.rule == Start.BODY:
        return _missing_in(place) or _body_start(place, word)
    if place.rule == Start.CONTENT:
        return _content_start(place, word)
    return None


def _top_start(place: _Place, word: str) -> Finding:
    if word.lower() in TOP_WORDS:
        return _lower(place, word)
    if word in BODY_WORDS or word in CONTENTS or word in PHRASE_FORMS:
        message = f"'{word}' stands inside a screen or part, and there is none above it"
        return error("L115", message, place.here(), 'start with a line such as: screen drive "Drive"')
    message = f"a file holds screens, parts and their order; '{word}' opens none of them"
    return error("L104", message, place.here(), _meant(word, TOP_WORDS, "openings"))


def _missing_in(place: _Place) -> Finding | None:
    """``AREA KIND ...``: the sentence is whole but for its first word."""
    found = re.match(r"(\w+)[ \t]+(\w+)", place.text)
    if not found or found.group(1) in BODY_WORDS or found.group(1) in CONTENTS:
        return None
    kind = found.group(2)
    if place.at != 0 or kind not in (*CONTENTS, "across", "freely"):
        return None
    near = closest(found.group(1), ("in",)) if len(found.group(1)) <= 2 else None
    if near:
        return None
    message = f"'in' is missing before the area '{found.group(1)}'"
    return error("L121", message, place.here(), f"write: in {place.text}")


def _body_start(place: _Place, word: str) -> Finding:
    if word.lower() in BODY_WORDS:
        return _lower(place, word)
    if word in ("screen", "part"):
        message = f"a {word} does not stand inside another screen or part"
        return error("L115", message, place.here(), "start this line at the left edge")
    if word in CONTENTS:
        message = f"'{word}' needs the area that it stands in"
        return error("L121", message, place.here(), f"write: in AREA {place.text}")
    if word == "trace":
        message = "a trace stands under a chart"
        return error("L115", message, place.here(), "indent it below 'in AREA chart over 600 s'")
    if word in PHRASE_FORMS:
        message = f"'{word}' is a phrase of a widget, and stands below the widget's line"
        return error("L115", message, place.here(), "indent it by four more spaces, below its widget")
    if re.fullmatch(r"(?:[^\W\d]\w*|\.)(?:\s+(?:[^\W\d]\w*|\.))*", place.text) and " " in place.text:
        message = "this looks like a row of a plan, but it does not stand below 'plan'"
        return error("L115", message, place.span(0, len(place.text)), "put 'plan' above it, and indent it")
    message = f"a screen or part has no line that begins with '{word}'"
    near = {"if": "comes", "when": "comes", "press": "touch", "tap": "touch"}.get(word)
    near = near or _near(word, BODY_WORDS)
    remedy = f"did you mean '{near}'? For example: {BODY_FORMS[near]}" if near else None
    return error("L105", message, place.here(), remedy or _meant(word, BODY_WORDS, "lines"))


def _content_start(place: _Place, word: str) -> Finding:
    if word.lower() in CONTENTS:
        return _lower(place, word)
    if word == "in":
        message = "an area is filled from a line of the screen, not from inside another area"
        return error("L115", message, place.here(), "indent this 'in' like the others of the screen")
    if word in PHRASE_FORMS:
        message = f"'{word}' is a phrase of a widget, and stands below the widget's line"
        return error("L115", message, place.here(), "indent it by four more spaces, below its widget")
    message = f"'{word}' is no kind of widget"
    return error("L106", message, place.here(), _meant(word, CONTENTS, "kinds"))


def _ends_early(place: _Place) -> Finding | None:
    if place.at < len(place.text):
        return None
    if place.text.endswith(","):
        at = len(place.text) - 1
        message = "a comma at the end of a line joins nothing; the next line joins by its indentation"
        return error("L128", message, place.span(at, at + 1), "take the comma out")
    if "_CLOSE" in place.allowed and place.rule != Start.TOP:
        message = "a bracket is open and not closed"
        return error("L113", message, place.span(place.at, place.at + 1), "add ')'")
    message = f"the sentence ends too early; here should stand {in_words(place.allowed)}"
    remedy = None
    words = place.text.split()
    if place.rule == Start.TOP and words[0] == "screen" and len(words) == 2:
        remedy = f'write: {place.text} "{words[1].replace("_", " ").capitalize()}"'
    elif words[-1] in PHRASE_FORMS:
        remedy = f"for example: {PHRASE_FORMS[words[-1]]}"
    elif (word := _single(place.allowed)) is not None:
        remedy = f"add '{word}'"
    elif {"_WHILE", "_ABOVE", "_BELOW"} <= place.allowed and (near := _near(words[-1], PHRASE_FORMS)):
        remedy = f"did you mean '{near}'? For example: {PHRASE_FORMS[near]}"
    return error("L113", message, place.span(place.at, place.at + 1), remedy or _example(place))


def _phrase_word(place: _Place) -> Finding | None:
    """A phrase that opens with a word nobody knows: the slip shows only at its second word."""
    roles = {"_WHILE", "_ABOVE", "_BELOW"}
    if roles <= place.allowed:
        found = re.search(r"([^\W\d]\w*)\s*$", place.before())
        if found is None:
            return None
        word = found.group(1)
        known = [name for name in PHRASE_FORMS if name not in ("in", "of", "at")]
        near = None if place.word in ("while", "above", "below") else _near(word, known)
        if near or "_CALLED" not in place.allowed:
            return _unknown_phrase(place, word, found.start(1), near)
        return None
    if "_CALLED" not in place.allowed or not place.word[:1].isalpha():
        return None
    return _unknown_phrase(place, place.word, place.at, _near(place.word, PHRASE_FORMS))


_COLOUR_WORDS = {"when": "while", "if": "while", "over": "above", "under": "below"}


def _loose_words(place: _Place, subject: re.Match[str], start: int) -> Finding:
    """``reading pack voltage ...``: two bare words where one thing to show should stand."""
    second = word_at(place.text, start)
    begin = subject.start(2)
    if subject.group(1) == "label":
        found = re.match(r"[^,\"]+", place.text[begin:])
        words = found.group().rstrip() if found else second
        message = "words that are shown stand in quotes"
        return error("L124", message, place.span(begin, begin + len(words)), f'write "{words}"')
    message = f"'{subject.group(2)} {second}' is no signal; a signal is written with a dot"
    span = place.span(begin, start + len(second))
    return error("L112", message, span, f"write {subject.group(2)}.{second}")


def _unknown_phrase(place: _Place, word: str, start: int, near: str | None) -> Finding:
    span = place.span(start, start + len(word))
    if word == "in" and start == 0:
        message = "an area is filled from a line of the screen, not from below another area"
        return error("L115", message, span, "indent this 'in' like the others of the screen")
    if "." in word:
        message = f"a signal such as '{word}' cannot open a phrase"
        remedy = "a phrase begins with as, text, called, from, colour ..."
        return error("L107", message, span, f"below a chart: trace {place.text}" if start == 0 else remedy)
    if word.lower() in PHRASE_FORMS and word != word.lower():
        return error(
            "L122", f"the language's words are in small letters: '{word}'", span, f"write '{word.lower()}'"
        )
    if near:
        message = f"no phrase begins with '{word}'"
        return error("L107", message, span, f"did you mean '{near}'? For example: {PHRASE_FORMS[near]}")
    following = word_at(place.text, place.at)
    close = closest(following, ("while", "above", "below")) if following else None
    close = _COLOUR_WORDS.get(following, close)
    subject = re.search(rf"\b({'|'.join(KINDS)})[ \t]+([^\W\d]\w*)[ \t]+$", place.text[:start])
    if subject and close is None:
        return _loose_words(place, subject, start)
    if close:
        message = f"after the colour '{word}' stands 'while', 'above' or 'below', not '{following}'"
        return error("L112", message, place.here(), f"did you mean '{close}'?")
    message = f"no phrase begins with '{word}'; a colour goes on with 'while', 'above' or 'below'"
    remedy = f"for example: {word} while SIGNAL; or another phrase: as, text, called, from, marks, colour ..."
    return error("L107", message, span, remedy)


def _capitals(place: _Place) -> Finding | None:
    word = place.word
    if word != word.lower() and word.lower() in _words_of(place.allowed):
        return _lower(place, word)
    return None


def _kind(place: _Place) -> Finding | None:
    if "KIND" not in place.allowed or not place.word[:1].isalpha():
        return None
    candidates = (*CONTENTS, "across", "down", "freely") if "FLOW" in place.allowed else CONTENTS
    if place.word.lower() in candidates:
        return _lower(place, place.word)
    if place.word in PHRASE_FORMS:
        message = f"'{place.word}' begins a phrase; the kind of widget comes first"
        remedy = f"for example: {place.before()}label {place.text[place.at :]}"
        return error("L106", message, place.here(), remedy)
    message = f"'{place.word}' is no kind of widget"
    return error("L106", message, place.here(), _meant(place.word, candidates, "kinds"))


def _unquoted(place: _Place) -> Finding | None:
    begun = re.search(
        r"\b(?:as|called|means|confirmed by|refused with)[ \t]+([^\W\d]\w*)[ \t]+$", place.before()
    )
    if begun and place.word[:1].isalnum() and place.word not in PHRASE_FORMS:
        found = re.match(r"[^,\"]+", place.text[begun.start(1) :])
        words = found.group().rstrip() if found else begun.group(1)
        message = "words that are shown stand in quotes"
        span = place.span(begun.start(1), begun.start(1) + len(words))
        return error("L124", message, span, f'write "{words}"')
    if "STRING" not in place.allowed or not place.word[:1].isalnum() or "SIGNAL" in place.allowed:
        return None
    found = re.match(r"[^,\"]+", place.text[place.at :])
    words = found.group().rstrip() if found else place.word
    message = "words that are shown stand in quotes"
    return error("L124", message, place.span(place.at, place.at + len(words)), f'write "{words}"')


def _chained(place: _Place) -> Finding | None:
    if not re.match(r"[<>]|is\b", place.text[place.at :]) or "_AND" not in place.allowed:
        return None
    message = "one comparison has two sides; a second one needs its own"
    return error("L112", message, place.here(), "join two with 'and': a.low < a.value and a.value < a.high")


def _choice_comma(place: _Place) -> Finding | None:
    head = place.before().rstrip()
    if not head.endswith(",") or not re.search(r"\bof\b", head) or place.word[:1].isalpha():
        return None
    at = len(head) - 1
    value = r'(?:"[^"]*"|-?[0-9][^,"]*)'
    found = re.search(rf"\bof\b[ \t]*({value}(?:,[ \t]*{value})+)", place.text)
    message = "the values of a choice are joined by 'or'"
    joined = re.sub(r"[ \t]*,[ \t]*", " or ", found.group(1).strip()) if found else ""
    remedy = f"write: of {joined}" if found else None
    return error("L128", message, place.span(at, at + 1), remedy)


def _doubled(place: _Place) -> Finding | None:
    """A word stands twice: the first was read as the start of a sentence, the second as a name in it."""
    found = re.search(r"\b([^\W\d]\w*)[ \t]+(\1)[ \t]+$", place.before())
    if found is None:
        return None
    fixed = place.text[: found.start(2)] + place.text[place.at :]
    message = f"'{found.group(1)}' stands here twice"
    return error("L112", message, place.span(found.start(2), found.end(2)), f"write: {fixed}")


def _comma_missing(place: _Place) -> Finding | None:
    """A phrase follows another with nothing between them."""
    if "_COMMA" not in place.allowed or not place.word[:1].isalpha():
        return None
    if _near_remedy(place) is not None and place.word not in PHRASE_FORMS:
        return None
    message = f"a comma is missing before '{place.word}'"
    return error("L130", message, place.here(), f"write: {place.before().rstrip()}, {place.text[place.at :]}")


def _one_word(place: _Place) -> Finding | None:
    """Where one word alone could go on, it is missing or misspelt."""
    word = _single(place.allowed)
    if word is None:
        return None
    before = place.before()
    if re.search(r"\bsteps\s+of\s+$", before):
        whole = re.sub(r"\bsteps\s+of\s+$", "in steps of ", before) + place.text[place.at :]
        message = "the step of a touch is said by 'in steps of'"
        return error("L112", message, place.here(), f"write: {whole}")
    if word == "while" and re.search(r"\bflashing\s+while\s+$", before):
        whole = re.sub(r"\bwhile\s+$", "danger while ", before) + place.text[place.at :]
        message = "a state that flashes says its colour too"
        return error("L112", message, place.here(), f"write: {whole}")
    message = f"after '{_last_piece(place.before())}' stands '{word}', not '{place.word}'"
    if place.word[:1].isalpha() and (
        place.word in CONNECTIVES or closest(place.word, (word,)) or OTHER_WORDS.get(place.word) == word
    ):
        return error("L112", message, place.here(), f"write '{word}' for '{place.word}'")
    fixed = f"{place.before().rstrip()} {word} {place.text[place.at :]}"
    return error("L112", message, place.here(), f"write: {fixed}")


# -- words for people


_GROUPS: tuple[tuple[str, str], ...] = (
    ("KIND", "a kind of widget (label, reading, bar, lamp ...)"),
    ("_CALLED", "a phrase (as, text, called, from ...)"),
    ("QUANTITY", "a number"),
    ("SIGNAL", "a signal (with a dot, like pack.voltage)"),
    ("STRING", "words in quotes"),
    ("NAME", "a name"),
    ("UNIT", "a unit"),
    ("FLOW", "across, down or freely"),
    ("SIDE", "left, right, up or down"),
    ("ALIGNMENT", "left, centre or right"),
    ("EMPTY", "'.'"),
    ("COMPARE", "a comparison (<, >, is)"),
    ("PLUS", "an operator such as '+'"),
    ("_COMMA", "a comma"),
    ("_OPEN", "'('"),
    ("_CLOSE", "')'"),
    ("_INDEX", "'['"),
    ("_INDEX_END", "']'"),
    ("$END", "the end of the line"),
)
_NAMED_ALONE = frozenset(name for name, _ in _GROUPS) | {
    "MINUS", "TIMES", "SWITCHED", "PICTURED", "DIRECTION", "FLASHING",
}  # fmt: skip


_WEAK = ("an operator such as '+'", "'['")


def in_words(allowed: frozenset[str]) -> str:
    """What may stand in a place, for a person."""
    items = [text for name, text in _GROUPS if name in allowed]
    if "QUANTITY" in allowed and "SIGNAL" in allowed:
        items = ["a value (a number, a signal, words in quotes)"]
    if "_CALLED" not in allowed and "KIND" not in allowed:
        items = [f"'{word}'" for word in sorted(_words_of(allowed))] + items
    items = [item for item in items if item not in _WEAK] or items
    if not items:
        return "nothing more"
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} or {items[-1]}"


_OPERATORS = frozenset(("PLUS", "MINUS", "TIMES", "_INDEX"))


def _words_of(allowed: frozenset[str]) -> set[str]:
    """The language's words among the terminals."""
    return {
        name[1:].lower().replace("_", " ") for name in allowed if name[:1] == "_" and name not in _NAMED_ALONE
    }


def _single(allowed: frozenset[str]) -> str | None:
    rest = allowed - _OPERATORS
    words = _words_of(rest)
    return next(iter(words)) if len(words) == 1 and len(rest) == 1 else None


def _lower(place: _Place, word: str) -> Finding:
    message = f"the language's words are in small letters: '{word}'"
    return error("L122", message, place.here(), f"write '{word.lower()}'")


def _near(word: str, candidates: object) -> str | None:
    names = [str(name) for name in candidates] if isinstance(candidates, (list, tuple, dict)) else []
    other = OTHER_WORDS.get(word.lower())
    return other if other in names else closest(word, names)


def _meant(word: str, candidates: tuple[str, ...], kind: str) -> str:
    near = _near(word, candidates)
    return f"did you mean '{near}'?" if near else did_you_mean(word, candidates, kind)


_SETS = {
    "COMPARE": {"is"},
    "FLOW": {"across", "down", "freely"},
    "SIDE": {"left", "right", "up", "down"},
    "ALIGNMENT": {"left", "centre", "right"},
}


def _near_remedy(place: _Place) -> str | None:
    words = _words_of(place.allowed)
    for terminal, spoken in _SETS.items():
        if terminal in place.allowed:
            words |= spoken
    if not place.word[:1].isalpha():
        return None
    near = OTHER_WORDS.get(place.word.lower())
    if near not in words:
        near = closest(place.word, words) if words else None
    return f"did you mean '{near}'?" if near else None


def _last_piece(text: str) -> str:
    found = re.search(r'(?:"(?:[^"\\]|\\.)*"|-?[0-9][0-9.]*[ \t]+\S+|\S+)\s*$', text)
    return found.group().rstrip() if found else ""


def _first_piece(text: str) -> str:
    found = re.match(r'\s*("(?:[^"\\]|\\.)*"|[^\s,]+)', text)
    return found.group(1) if found else ""
