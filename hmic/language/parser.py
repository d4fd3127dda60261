"""Text in, syntax tree and findings out. Nothing raises: what cannot be read is told and left out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from hmic.diagnostics import Finding, Span, closest, error, sorted_findings, told_once
from hmic.language import build, syntax
from hmic.language.design_bounds import MOST_LETTERS, MOST_LINES, MOST_MISTAKES
from hmic.language.grammar import Node, Slip, Start, end_of, fitting, read_sentence
from hmic.language.lines import BLANK, Line, read_lines, word_at
from hmic.language.syntax import WidgetKind
from hmic.language.vocabulary import BODY_WORDS, CONTENTS, PHRASE_FORMS, TOP_WORDS

FINDINGS_A_LINE = 4
FINDINGS_A_KIND = 5
TRIES = 16
"""Cuts tried to save the start of a sentence that goes wrong further on."""


@dataclass
class _Reader:
    file: str
    findings: list[Finding] = field(default_factory=list)
    scope: frozenset[str] = frozenset()
    left: list[Line] = field(default_factory=list)
    """Lines that were not read, since too many mistakes stand before them."""

    def gives_up(self, line: Line) -> bool:
        """Whether a line is left out for the mistakes before it."""
        if len(self.findings) < MOST_MISTAKES:
            return False
        self.left.append(line)
        return True

    def sentence(self, line: Line, start: int = 0) -> build.Sentence:
        return build.Sentence(self.file, line.number, line.column + start, self.scope, self.findings)

    def say(self, code: str, message: str, span: Span, remedy: str | None = None) -> None:
        self.findings.append(error(code, message, span, remedy))


@dataclass
class _Body:
    """A screen or part while its lines are read."""

    name: str
    is_part: bool
    rows: list[syntax.PlanRow] = field(default_factory=list)
    plan_span: Span | None = None
    columns: syntax.Track | None = None
    heights: syntax.Track | None = None
    gap: syntax.Quantity | None = None
    margin: syntax.Quantity | None = None
    surfaces: list[syntax.Surface] = field(default_factory=list)
    areas: dict[str, syntax.Area] = field(default_factory=dict)
    touches: dict[str, syntax.Touch] = field(default_factory=dict)
    swipes: list[syntax.Swipe] = field(default_factory=list)
    rises: syntax.Expression | None = None
    gives_way: bool = False
    row_lost: bool = False
    seen: dict[str, int] = field(default_factory=dict)

    def plan(self) -> syntax.Plan | None:
        if self.plan_span is None:
            return None
        return syntax.Plan(
            tuple(self.rows),
            self.columns,
            self.heights,
            self.gap,
            self.margin,
            self.plan_span,
            tuple(self.surfaces),
        )


def parse(text: str, file: str, lines: int = 0, letters: int = 0) -> tuple[syntax.Layout, list[Finding]]:
    """The tree of one layout file, and its findings in the order of the lines.

    Takes any text and never raises. A sentence that goes wrong is left out of the tree, or kept as
    far as it could be read; the lines below it are read all the same, up to ``MOST_MISTAKES``. A text
    that is too long, with the ``lines`` and ``letters`` of those read before it, is not read.
    """
    too_long = _too_long(text, file, lines, letters)
    if too_long is not None:
        return syntax.Layout(file, (), (), (), whole=False), [too_long]
    top, findings = read_lines(text, file)
    reader = _Reader(file, findings)
    screens: dict[str, syntax.Screen] = {}
    parts: dict[str, syntax.Part] = {}
    orders: list[syntax.Order] = []
    gathered = _gathered(reader, top)
    for line in gathered:
        reader.scope = frozenset()
        item = _top(reader, line)
        if isinstance(item, syntax.Order):
            orders.append(item)
        elif isinstance(item, syntax.Screen):
            _once(reader, "screen", item, screens)
            screens.setdefault(item.name, item)
        elif isinstance(item, syntax.Part):
            _once(reader, "part", item, parts)
            parts.setdefault(item.name, item)
    layout = syntax.Layout(
        file,
        tuple(screens.values()),
        tuple(parts.values()),
        tuple(orders),
        dict(_above(gathered)),
        whole=not reader.left,
    )
    if reader.left:
        findings = [*findings[:MOST_MISTAKES], _left(file, reader.left)]
    return layout, _summed(sorted_findings(findings))


def _summed(findings: Sequence[Finding]) -> list[Finding]:
    """Of many mistakes of one kind the first, and one more that sums up the rest."""
    kinds: dict[str, list[Finding]] = {}
    for item in findings:
        kinds.setdefault(item.code, []).append(item)
    result = [item for alike in kinds.values() for item in alike[:FINDINGS_A_KIND]]
    for code, alike in kinds.items():
        rest = told_once(alike[FINDINGS_A_KIND:]) if len(alike) > FINDINGS_A_KIND else None
        if rest is not None:
            message = f"{1 + len(rest.also)} more lines of this file have a mistake of this kind"
            remedy = "correct the first of them: one slip often makes many"
            result.append(error(code, message, rest.span, remedy, also=rest.also))
    return sorted_findings(result)


def _too_long(text: str, file: str, lines: int, letters: int) -> Finding | None:
    """What to say of a text that is too long, at the line that is one too many."""
    most = MOST_LETTERS - letters
    ends = text.count("\n", 0, max(0, most)) + 1
    if ends + lines <= MOST_LINES and len(text) <= most:
        return None
    at = min(ends, max(1, MOST_LINES - lines + 1))
    message = f"the layouts have more than {MOST_LINES} lines, or {MOST_LETTERS} characters"
    remedy = "take out the screens that this display does not show, or say what is alike once, in a part"
    return error("L131", message, Span(file, at, 1, at, 2), remedy)


def _left(file: str, left: Sequence[Line]) -> Finding:
    """What to say of lines that were not read."""
    message = f"this file has {MOST_MISTAKES} mistakes; from here on {len(left)} lines are not read"
    remedy = "correct the first of them: one slip often makes many"
    return error("L131", message, left[0].span(file), remedy)


def _above(lines: Iterable[Line]) -> Iterator[tuple[int, int]]:
    """The number of each line below others, with that of the one right above it."""
    for line in lines:
        yield from ((child.number, line.number) for child in line.children)
        yield from _above(line.children)


def _explained(file: str, line: Line, rule: Start, slip: Slip) -> Finding:
    # Most texts have no mistake.
    from hmic.language.mistakes import explain

    return explain(file, line, rule, slip)


def parse_expression(
    text: str, file: str, line: int, column: int
) -> tuple[syntax.Expression | None, list[Finding]]:
    """A value on its own, such as the formula of a derived signal.

    ``line`` and ``column`` say where the text starts in its file. Line breaks count as blanks and
    keep the first line's numbering. None when it cannot be read; never raises.
    """
    flat = re.sub(r"[\r\n]", " ", text)
    bare = flat.strip(BLANK)
    lead = len(flat) - len(flat.lstrip(BLANK))
    findings: list[Finding] = []
    reader = _Reader(file, findings)
    source = Line(line, column + lead, bare)
    if not bare:
        reader.say(
            "L113",
            "a formula should stand here",
            source.span(file, 0, 1),
            "pack.voltage * pack.current in kW",
        )
        return None, findings
    node = _read(reader, Start.EXPRESSION, source)
    if node is None:
        return None, findings
    return build.expression(reader.sentence(source), node.children[0]), findings


def _once(
    reader: _Reader,
    what: str,
    item: syntax.Screen | syntax.Part,
    known: dict[str, syntax.Screen] | dict[str, syntax.Part],
) -> None:
    first = known.get(item.name)
    if first is not None:
        message = f"there is a {what} '{item.name}' already, in line {first.name_span.line}"
        reader.say("L118", message, item.name_span, "give one of the two another name")


def _gathered(reader: _Reader, lines: Sequence[Line]) -> list[Line]:
    """The top lines; lines that a screen should hold but that stand at the left edge go under the
    screen above them, told once a screen."""
    found: list[Line] = []
    told: set[int] = set()
    for line in lines:
        if not found or not _belongs_deeper(line):
            found.append(line)
            continue
        owner = found[-1]
        if id(owner) not in told:
            told.add(id(owner))
            word = line.first_word()
            message = f"'{word}' belongs to a screen or part, so it stands below one, further in"
            remedy = f"indent this line and its like by four spaces, under line {owner.number}"
            reader.say("L115", message, line.span(reader.file, 0, len(word)), remedy)
        owner.children.append(line)
    return found


def _belongs_deeper(line: Line) -> bool:
    words = line.text.split()
    word = line.first_word()
    return word in BODY_WORDS and not (word == "swipe" and words[1:2] == ["through"])


# -- top lines


def _top(reader: _Reader, line: Line) -> syntax.Screen | syntax.Part | syntax.Order | None:
    node = _read(reader, Start.TOP, line)
    if node is None:
        return _top_guess(reader, line)
    rule = str(node.data)
    sentence = reader.sentence(line)
    span = line.span(reader.file)
    if rule == "order":
        _no_children(reader, line, "the order of the screens is one line")
        names = node.children
        return syntax.Order(tuple(map(str, names)), tuple(sentence.span(name) for name in names), span)
    name = node.children[0]
    if rule == "part":
        parameters = build.parameters(sentence, node.children[1:])
        return _part(reader, line, str(name), sentence.span(name), parameters)
    title = build.text_of(sentence, node.children[1]).text.replace("\n", " ")
    return _screen(reader, line, str(name), sentence.span(name), title)


def _top_guess(reader: _Reader, line: Line) -> syntax.Screen | syntax.Part | None:
    """What stands below a top line that cannot be read is read as a screen's lines, and kept under
    the name that the line seems to give, so that nothing else misses it."""
    found = re.match(r"(\w+)[ \t]+([^\W\d][\w-]*)", line.text)
    title = re.search(r'"([^"\\]*)"?', line.text)
    if found and found.group(1) == "part":
        head = re.findall(r"[^\W\d]\w*", line.text[found.end() :])
        guessed = tuple((word, None) for word in dict.fromkeys(head))
        name = found.group(2).replace("-", "_")
        return _part(reader, line, name, line.span(reader.file, *found.span(2)), guessed)
    if found is None or (not line.children and found.group(1) != "screen"):
        _screen(reader, line, "", line.span(reader.file), "")
        return None
    span = line.span(reader.file, *found.span(2))
    name = found.group(2).replace("-", "_")
    return _screen(reader, line, name, span, title.group(1) if title else "")


def _screen(reader: _Reader, line: Line, name: str, name_span: Span, title: str) -> syntax.Screen:
    body = _read_body(reader, line, _Body(name, is_part=False))
    return syntax.Screen(
        name,
        title,
        body.plan(),
        tuple(body.areas.values()),
        tuple(body.touches.values()),
        tuple(body.swipes),
        body.rises,
        body.gives_way,
        _whole(reader, line),
        name_span,
    )


def _part(
    reader: _Reader,
    line: Line,
    name: str,
    name_span: Span,
    parameters: tuple[tuple[str, syntax.Expression | None], ...],
) -> syntax.Part:
    reader.scope = frozenset(parameter for parameter, _ in parameters)
    body = _read_body(reader, line, _Body(name, is_part=True))
    whole = _whole(reader, line)
    return syntax.Part(name, parameters, body.plan(), tuple(body.areas.values()), whole, name_span)


# -- lines of a screen or part


def _read_body(reader: _Reader, head: Line, body: _Body) -> _Body:
    last_plan: Line | None = None
    for line in head.children:
        if last_plan is not None and _looks_like_row(line):
            last_plan = _stray_row(reader, body, last_plan, line)
            continue
        _body_line(reader, body, line)
        last_plan = line if line.text == "plan" and not body.rows else None
    if body.plan_span is not None and not body.rows and not body.row_lost:
        remedy = "below 'plan', further in, name the areas row by row; '.' stands for an empty place"
        missing = "this plan has no rows" if "plan" in body.seen else "these sizes have no plan to apply to"
        reader.say("L125", missing, body.plan_span, remedy)
    return body


def _looks_like_row(line: Line) -> bool:
    words = line.text.split()
    plain = all(word == "." or re.fullmatch(r"[^\W\d]\w*", word) for word in words)
    return plain and words[0] not in BODY_WORDS and words[0] not in TOP_WORDS


def _stray_row(reader: _Reader, body: _Body, plan: Line, line: Line) -> Line:
    if not body.rows:
        message = "this looks like a row of the plan, but it does not stand below 'plan'"
        remedy = f"indent the rows by four spaces more than 'plan' in line {plan.number}"
        reader.say("L115", message, line.span(reader.file), remedy)
    _plan_row(reader, body, line)
    return plan


def _body_line(reader: _Reader, body: _Body, line: Line) -> None:
    node, rest = _read_long(reader, Start.BODY, line)
    if node is None:
        _body_guess(reader, body, line)
        return
    rule = str(node.data)
    if rule == "area" and len(node.children) == 1 and end_of(node) < len(line.text):
        _body_guess(reader, body, line)
        return
    if rule == "area":
        _area(reader, body, line, node, rest)
        return
    if rule == "touch":
        _outside_part(reader, body, line)
        extra = _phrase_lines(reader, line.children)
        found = build.phrases(reader.sentence(line), node.children[1:])
        name = str(node.children[0])
        if name in body.touches:
            message = f"a touch of '{name}' has its meaning already"
            remedy = "keep one of the two"
            reader.say("L117", message, reader.sentence(line).span(node.children[0]), remedy)
            return
        body.touches[name] = syntax.Touch(name, (*found, *rest, *extra), _whole(reader, line))
        return
    if rule == "surface":
        _surface(reader, body, line, node, rest)
        return
    if not (rule == "swipe" or _first_time(reader, body, rule, line)):
        return
    if rule == "plan":
        body.plan_span = _whole(reader, line)
        for child in line.children:
            _plan_row(reader, body, child)
        return
    _no_children(reader, line, f"nothing stands below '{line.first_word()}'")
    _setting(reader, body, line, node)


def _surface(reader: _Reader, body: _Body, line: Line, node: Node, rest: tuple[syntax.Phrase, ...]) -> None:
    extra = _phrase_lines(reader, line.children)
    sentence = reader.sentence(line)
    names = [child for child in node.children if not hasattr(child, "data")]
    found = build.phrases(sentence, (child for child in node.children if hasattr(child, "data")))
    spans = tuple(map(sentence.span, names))
    whole = _whole(reader, line)
    body.surfaces.append(syntax.Surface(tuple(map(str, names)), spans, (*found, *rest, *extra), whole))


def _setting(reader: _Reader, body: _Body, line: Line, node: Node) -> None:
    rule = str(node.data)
    sentence = reader.sentence(line)
    span = line.span(reader.file)
    if rule in ("columns", "heights"):
        track = syntax.Track(tuple(build.quantity(sentence, size) for size in node.children), span)
        if rule == "columns":
            body.columns = track
        else:
            body.heights = track
        body.plan_span = body.plan_span or span
    elif rule == "gap":
        body.gap = build.quantity(sentence, node.children[0])
        body.plan_span = body.plan_span or span
    elif rule == "margin":
        body.margin = build.quantity(sentence, node.children[0])
        body.plan_span = body.plan_span or span
    elif not _outside_part(reader, body, line):
        return
    elif rule == "swipe":
        side, screen = syntax.Side(node.children[0]), str(node.children[1])
        if any(swipe.direction == side for swipe in body.swipes):
            message = f"a swipe {side} has its screen already"
            reader.say("L117", message, sentence.span(node.children[0]), "keep one of the two")
            return
        body.swipes.append(syntax.Swipe(side, screen, span))
    elif rule == "comes":
        body.rises = build.expression(sentence, node.children[0])
    else:
        body.gives_way = True


_SAID = {"heights": "rows", "comes": "comes up", "gives": "gives way"}


def _first_time(reader: _Reader, body: _Body, rule: str, line: Line) -> bool:
    first = body.seen.setdefault(rule, line.number)
    if first == line.number:
        return True
    word = _SAID.get(rule, rule)
    message = f"'{word}' is given twice; the first is in line {first}"
    reader.say("L117", message, line.span(reader.file, 0, len(line.first_word())), "keep one of the two")
    return False


def _outside_part(reader: _Reader, body: _Body, line: Line) -> bool:
    if not body.is_part:
        return True
    word = line.first_word()
    message = f"a part has no '{word}'; only a whole screen has"
    span = line.span(reader.file, 0, len(word))
    reader.say("L129", message, span, "move this line to the screens that use the part")
    return False


def _plan_row(reader: _Reader, body: _Body, line: Line) -> None:
    node = _read(reader, Start.PLAN, line)
    _no_children(reader, line, "nothing stands below a row of the plan")
    if node is None:
        body.row_lost = True
        found = list(re.finditer(r"[^\W\d]\w*|(?<!\S)[.-](?!\S)", line.text))
        names = tuple("." if cell.group() == "-" else cell.group() for cell in found)
        spans = tuple(line.span(reader.file, *cell.span()) for cell in found)
        if names:
            body.rows.append(syntax.PlanRow(names, spans, line.span(reader.file)))
        return
    sentence = reader.sentence(line)
    cells = node.children
    spans = tuple(sentence.span(cell) for cell in cells)
    body.rows.append(syntax.PlanRow(tuple(map(str, cells)), spans, line.span(reader.file)))


def _body_guess(reader: _Reader, body: _Body, line: Line) -> None:
    """Lines below one that cannot be read: rows, contents or phrases, by their first word."""
    words = line.text.split()
    found = re.match(r"in[ \t]+([^\W\d]\w*)", line.text, re.IGNORECASE)
    unmarked = re.match(r"([^\W\d]\w*)[ \t]+(\w+)", line.text)
    if not found and unmarked and unmarked.group(2) in CONTENTS and unmarked.group(1) not in CONTENTS:
        found = unmarked
    if words and words[0].lower().rstrip(":") == "plan":
        body.plan_span = _whole(reader, line)
        for child in line.children:
            _plan_row(reader, body, child)
        return
    contents = _guess_children(reader, line.children)
    if found:
        span = line.span(reader.file, *found.span(1))
        name = found.group(1)
        body.areas.setdefault(name, syntax.Area(name, syntax.Flow.DOWN, contents, _whole(reader, line), span))


def _guess_children(reader: _Reader, lines: Sequence[Line]) -> tuple[syntax.Content, ...]:
    found: list[syntax.Content] = []
    for line in lines:
        if line.first_word() in CONTENTS:
            found.extend(_contents(reader, [line]))
        elif line.first_word() == "trace":
            _trace(reader, line)
        else:
            _phrase_lines(reader, [line])
    return tuple(found)


# -- areas and what stands in them


def _area(reader: _Reader, body: _Body, line: Line, node: Node, rest: tuple[syntax.Phrase, ...]) -> None:
    sentence = reader.sentence(line)
    name = str(node.children[0])
    name_span = sentence.span(node.children[0])
    flow = syntax.Flow.DOWN
    contents: tuple[syntax.Content, ...]
    if len(node.children) > 1 and hasattr(node.children[1], "data"):
        contents = (_finished(reader, build.content(sentence, node.children[1]), line, rest),)
    else:
        if len(node.children) > 1:
            flow = syntax.Flow(node.children[1])
        contents = _contents(reader, line.children)
    first = body.areas.get(name)
    if first is not None:
        message = f"the area '{name}' is filled already, in line {first.name_span.line}"
        remedy = f"put both under one 'in {name}', each on a line of its own"
        reader.say("L116", message, name_span, remedy)
        return
    body.areas[name] = syntax.Area(name, flow, contents, _whole(reader, line), name_span)


def _contents(reader: _Reader, lines: Iterable[Line]) -> tuple[syntax.Content, ...]:
    found = []
    for line in lines:
        node, rest = _read_long(reader, Start.CONTENT, line)
        if node is None:
            _guess_children(reader, line.children)
            continue
        item = build.content(reader.sentence(line), node.children[0])
        found.append(_finished(reader, item, line, rest))
    return tuple(found)


def _finished(
    reader: _Reader, item: syntax.Content, line: Line, rest: tuple[syntax.Phrase, ...]
) -> syntax.Content:
    """The item with what stands on the lines below it."""
    whole = item.span.to(_whole(reader, line))
    if isinstance(item, syntax.Use):
        _no_children(reader, line, "a part is used on one line")
        return replace(item, span=whole)
    if isinstance(item, syntax.Each):
        outer = reader.scope
        reader.scope = outer | {item.name}
        inner = _contents(reader, line.children)
        reader.scope = outer
        return replace(item, body=inner, span=whole)
    if isinstance(item, syntax.Joint | syntax.Pipe):
        return replace(
            item, phrases=(*item.phrases, *rest, *_phrase_lines(reader, line.children)), span=whole
        )
    phrases = [*item.phrases, *rest]
    traces = []
    for child in line.children:
        if child.first_word() != "trace":
            phrases.extend(_phrase_lines(reader, [child]))
            continue
        if item.kind != WidgetKind.CHART:
            message = f"a trace stands under a chart, not under '{item.kind}'"
            reader.say("L115", message, child.span(reader.file, 0, 5), "in AREA chart over 600 s")
        trace = _trace(reader, child)
        if trace is not None:
            traces.append(trace)
    return replace(item, phrases=tuple(phrases), children=tuple(traces), span=whole)


def _trace(reader: _Reader, line: Line) -> syntax.Widget | None:
    node, rest = _read_long(reader, Start.TRACE, line)
    extra = _phrase_lines(reader, line.children)
    if node is None:
        return None
    trace = build.widget(reader.sentence(line), node)
    return replace(trace, phrases=(*trace.phrases, *rest, *extra), span=_whole(reader, line))


def _phrase_lines(reader: _Reader, lines: Iterable[Line]) -> tuple[syntax.Phrase, ...]:
    found: list[syntax.Phrase] = []
    for line in lines:
        node, rest = _read_long(reader, Start.PHRASE, line)
        if node is not None:
            found.extend(build.phrases(reader.sentence(line), node.children))
            found.extend(rest)
        if line.children:
            _no_children(reader, line, "phrases stand beside each other, not below each other")
            found.extend(_phrase_lines(reader, line.children))
    return tuple(found)


# -- single sentences


def _read(reader: _Reader, rule: Start, line: Line) -> Node | None:
    """The tree of a line, or None with a finding told. An emptied line has had its finding."""
    if not line.text or reader.gives_up(line):
        return None
    node = read_sentence(rule, line.text)
    if isinstance(node, Slip):
        reader.findings.append(_explained(reader.file, line, rule, node))
        return None
    return _shallow(reader, line, node)


def _shallow(reader: _Reader, line: Line, node: Node) -> Node | None:
    deep = build.too_deep(node)
    if deep is None:
        return node
    message = "this value has too many parts inside each other to be read with confidence"
    remedy = "name a piece of it as a derived signal in signals.yaml and use that"
    reader.say("L123", message, reader.sentence(line).span(deep), remedy)
    return None


def _read_long(reader: _Reader, rule: Start, line: Line) -> tuple[Node | None, tuple[syntax.Phrase, ...]]:
    """Like ``_read``, for sentences with phrases: one that goes wrong is kept up to there, and the
    phrases after the next comma are read as well."""
    if not line.text or reader.gives_up(line):
        return None, ()
    node = read_sentence(rule, line.text)
    if not isinstance(node, Slip):
        return _shallow(reader, line, node), ()
    reader.findings.append(_explained(reader.file, line, rule, node))
    kept = _start_of_sentence(rule, line.text, node.place)
    if kept is not None:
        kept = _shallow(reader, line, kept)
    return kept, _later_phrases(reader, line, node.place)


def _start_of_sentence(rule: Start, text: str, place: int) -> Node | None:
    cuts = [cut for cut in _outside_quotes(text, " ,") if cut <= place]
    for cut in cuts[::-1][:TRIES]:
        node = fitting(rule, text[:cut].rstrip(BLANK + ","))
        if node is not None:
            return node
    return None


def _later_phrases(reader: _Reader, line: Line, place: int) -> tuple[syntax.Phrase, ...]:
    found: list[syntax.Phrase] = []
    told = 0
    for comma in _outside_quotes(line.text, ","):
        rest = line.text[comma + 1 :]
        start = comma + 1 + len(rest) - len(rest.lstrip(BLANK))
        if comma < place or told == FINDINGS_A_LINE:
            continue
        later = Line(line.number, line.column + start, line.text[start:])
        node = fitting(Start.PHRASE, later.text)
        place = len(line.text)
        if node is None and _opens_phrase(word_at(later.text, 0)):
            slip = read_sentence(Start.PHRASE, later.text)
            reader.findings.append(_explained(reader.file, later, Start.PHRASE, slip))
            told += 1
            node = _start_of_sentence(Start.PHRASE, later.text, slip.place)
            place = start + slip.place
        elif node is None:
            place = comma + 1
        if node is not None and build.too_deep(node) is None:
            found.extend(build.phrases(reader.sentence(later), node.children))
    return tuple(found)


def _opens_phrase(word: str) -> bool:
    return word in PHRASE_FORMS or (len(word) > 2 and closest(word, PHRASE_FORMS) is not None)


def _outside_quotes(text: str, signs: str) -> list[int]:
    """Where one of ``signs`` stands outside quotes."""
    found = []
    quoted = skip = False
    for place, char in enumerate(text):
        if skip:
            skip = False
        elif quoted and char == "\\":
            skip = True
        elif char == '"':
            quoted = not quoted
        elif not quoted and char in signs:
            found.append(place)
    return found


def _no_children(reader: _Reader, line: Line, reason: str) -> None:
    if line.children:
        first = line.children[0]
        message = f"this line stands below one that holds nothing: {reason}"
        remedy = f"indent it like line {line.number}, or put a '#' before it"
        reader.say("L115", message, first.span(reader.file), remedy)


def _whole(reader: _Reader, line: Line) -> Span:
    """From a line's first character to the end of the last line below it."""
    last = line
    while last.children:
        last = last.children[-1]
    return line.span(reader.file).to(last.span(reader.file))
