"""What a design's texts say, read ahead while the rest of the program is still being loaded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from hmic.beside import beside
from hmic.diagnostics import Finding
from hmic.language.parser import parse, parse_expression
from hmic.language.syntax import Expression, Layout
from hmic.model.files import Folder
from hmic.model.yaml_source import Node, parse_yaml
from hmic.records import dataclass

Formula = tuple[str, str, int, int]
"""Text, file, line and column, as ``parse_expression`` takes them."""
Read = tuple[Expression | None, list[Finding]]


@dataclass(frozen=True)
class Parsed:
    """What the parser finds, for the texts that have been read; others are read when asked for."""

    layouts: Mapping[tuple[str, str], tuple[Layout, list[Finding]]]
    formulas: Mapping[Formula, Read]

    def layout(self, text: str, name: str) -> tuple[Layout, list[Finding]]:
        """As ``parse``."""
        return self.layouts.get((text, name)) or parse(text, name)

    def formula(self, node: Node, file: str) -> Read:
        """As ``parse_expression``, of a scalar of a YAML file."""
        formula = _formula(node, file)
        return self.formulas.get(formula) or parse_expression(*formula)


NOTHING = Parsed({}, {})


def read_ahead(folder: Path) -> Callable[[], Parsed]:
    """Begins to read a design's layout files and formulas; gives what waits for them. What is wrong
    with a file is told by whoever loads the design."""
    return beside(lambda: _parsed(Folder(folder)))


def _parsed(opened: Folder) -> Parsed:
    names = [name for name in opened.names() if Path(name).suffix == ".layout"]
    texts = ((name, opened.text(name)) for name in names)
    layouts = {(text, name): parse(text, name) for name, text in texts if text is not None}
    file = "signals.yaml"
    text = opened.text(file)
    node = parse_yaml(text, file)[0] if text is not None else None
    found = [_formula(each, file) for each in _formulas(node)] if node is not None else []
    return Parsed(layouts, {formula: parse_expression(*formula) for formula in found})


def _formulas(node: Node) -> list[Node]:
    values = [
        entry.value.get(key)
        for group, key in (("signals", "is"), ("outputs", "allowed"))
        for entry in (node.get(group) or Node(node.span)).each()
    ]
    return [value for value in values if value is not None and isinstance(value.scalar, str)]


def _formula(node: Node, file: str) -> Formula:
    # A quoted formula starts one column after its quote.
    return str(node.scalar), file, node.span.line, node.span.column + (1 if node.quoted else 0)
