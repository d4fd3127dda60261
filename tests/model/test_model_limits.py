"""Values of a design's YAML files at the limits of what they can be, just within and just beyond, and files
that grow without end: each is refused at its place, and nothing is passed over in silence."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import pytest

from hmic.diagnostics import Finding
from hmic.language.design_bounds import DEEPEST_VALUE, MOST_VALUES, MOST_YAML
from hmic.model.load import load
from hmic.model.yaml_source import parse_yaml
from tests.check.good_design import FILES
from tests.tools.large_designs import written

AT_ONCE = 60.0
"""Seconds: a hang is one for ever; on two busy cores an honest answer may take its time."""

BY_CLOCK = "choose: {by: clock, times: {day: 7:00, night: 19:30}}"
BY_SPEED = "choose: {{by: vehicle.speed, levels: {{day: 1 km/h, night: 0 km/h}}, wait: {}}}"
GLASS = "[800, 480]\n  size: [154.1 mm, 85.9 mm]"
VALUES = [
    ("design.yaml", GLASS, "[4096, 480]\n  size: [733 mm, 85.9 mm]", None),
    ("design.yaml", "[800, 480]", "[4097, 480]", "M231"),
    ("design.yaml", "[800, 480]", "[100000, 100000]", "M231"),
    ("design.yaml", "[800, 480]", "[800, 15]", "M231"),
    ("design.yaml", GLASS, "[800, 16]\n  size: [154.1 mm, 3.1 mm]", None),
    ("design.yaml", GLASS, "[800, 480]\n  size: [9999.999 mm, 6000 mm]", None),
    ("design.yaml", "154.1 mm", "10000 mm", "M230"),
    ("design.yaml", "154.1 mm", f"{10**30} mm", "M230"),
    ("design.yaml", "154.1 mm", "0 mm", "M231"),
    ("design.yaml", "eye distance: 700 mm", "eye distance: 9999 mm", None),
    ("design.yaml", "eye distance: 700 mm", "eye distance: 10000 mm", "M230"),
    ("design.yaml", "eye distance: 700 mm", f"eye distance: {'9' * 100_000} mm", "M230"),
    ("design.yaml", "flash: 1 MB", "flash: 9999999 MB", None),
    ("design.yaml", "flash: 1 MB", "flash: 10000000 MB", "M230"),
    ("design.yaml", "flash: 1 MB", f"flash: {'9' * 400} MB", "M230"),
    ("design.yaml", "baud: 115200", "baud: 3000000", None),
    ("design.yaml", "baud: 115200", "baud: 3000001", "M231"),
    ("signals.yaml", "stale: 500 ms", "stale: 99999 min", None),
    ("signals.yaml", "stale: 500 ms", "stale: 100000 min", "M230"),
    ("signals.yaml", "stale: 500 ms", f"stale: {'9' * 100_000} ms", "M230"),
    ("themes.yaml", BY_CLOCK, BY_SPEED.format("99999 min"), None),
    ("themes.yaml", BY_CLOCK, BY_SPEED.format("100000 s"), "M230"),
]


@pytest.mark.parametrize(
    ("file", "old", "new", "code"), VALUES, ids=[f"{new[:24]}-{code}" for _, _, new, code in VALUES]
)
def test_a_value_at_its_limit(file: str, old: str, new: str, code: str | None, tmp_path: Path) -> None:
    assert old in FILES[file]
    text = FILES[file].replace(old, new, 1)
    design, found = load(written(tmp_path, FILES | {file: text}))
    errors = [item for item in found if item.severity.value == "error"]
    if code is None:
        assert design is not None and not errors
        return
    line = text[: text.index(new)].count("\n") + 1
    assert {item.code for item in errors} == {code}
    for item in errors:
        assert item.remedy and item.span is not None
        assert (item.span.file, item.span.line) == (file, line)


def test_no_design_without_an_error(tmp_path: Path) -> None:
    """Whatever keeps a design from being looked at is told: silence is for success."""
    for lines in range(FILES["design.yaml"].count("\n")):
        for cut in (lines, slice(lines, None)):
            kept = FILES["design.yaml"].splitlines()
            del kept[cut]
            design, found = load(written(tmp_path, FILES | {"design.yaml": "\n".join(kept) + "\n"}))
            assert design is not None or any(item.severity.value == "error" for item in found), kept


LAUGHS = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 20)
)
FILES_WITHOUT_END = {
    "laughs": LAUGHS,
    "lists": "[" * 200_000,
    "mappings": "{a: " * 200_000,
    "dashes": "- " * 300_000,
    "keys": "? " * 300_000,
    "steps": "\n".join(f"{' ' * n}a:" for n in range(1200)),
    "digits": f"a: {'1' * 900_000}\n",
    "a-number-of-digits": f"a: 0.{'1' * 900_000}e999999999\n",
    "a-quote": f'a: "{"b" * 900_000}\n',
    "lines-of-a-quote": 'a: "' + "b\n" * 400_000,
    "a-key": f"{'k' * 900_000}: 1\n",
    "one-key": "k: 1\n" * 20_000,
    "marks": "".join(f"k{n}: &m{n} 1\n" for n in range(40_000)) + "k: *m\n",
    "repeats": "m: &m 1\n" + "".join(f"k{n}: *m\n" for n in range(60_000)),
    "no-yaml": "x\n" * 300_000,
    "comments": "#\n" * 500_000,
    "documents": "---\n" * 200_000,
    "tabs": "\t" * 900_000,
    "tags": "!!a " * 200_000,
    "colons": ":" * 900_000,
    "folded": "a: >\n" + "  b\n" * 200_000,
    "merged": "a: &a {b: 1}\nc: {<<: [" + "*a," * 100_000 + "]}\n",
}


@pytest.mark.parametrize("name", FILES_WITHOUT_END)
def test_a_file_without_end_is_read_or_refused_at_once(name: str) -> None:
    text = FILES_WITHOUT_END[name]
    tracemalloc.start()
    start = time.perf_counter()
    node, found = parse_yaml(text, "signals.yaml")
    took, most = time.perf_counter() - start, tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert node is not None or found
    assert took < AT_ONCE and most < 250_000_000


def told(text: str) -> list[Finding]:
    return [item for item in parse_yaml(text, "x.yaml")[1] if item.code == "M226"]


def test_yaml_at_its_limits() -> None:
    assert not told("#" * MOST_YAML)
    (found,) = told("#" * (MOST_YAML + 1))
    assert found.span is not None and found.span.line == 1
    assert not told("[" * DEEPEST_VALUE + "]" * DEEPEST_VALUE)
    (found,) = told("[" * (DEEPEST_VALUE + 1) + "]" * (DEEPEST_VALUE + 1))
    assert found.span is not None and found.span.column == DEEPEST_VALUE + 1
    # The list itself is a value.
    assert not told("[" + "1," * (MOST_VALUES - 1) + "]")
    assert told("[" + "1," * MOST_VALUES + "]")
    assert not told(f"a: &a [{'1,' * 999}]\nb: [{'*a,' * 98}]\n")
    assert told(f"a: &a [{'1,' * 999}]\nb: [{'*a,' * 100}]\n")
