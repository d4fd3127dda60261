"""DESIGN.md against the tool: its examples make one sound design, and it leaves out no key, unit,
function, limit or default."""

from __future__ import annotations

import json
import re
import shutil
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from hmic.check.own_limits import check_settings
from hmic.model import theme_choice, units
from hmic.model.design import ByClock, BySignal, Design
from hmic.model.functions import FUNCTIONS
from hmic.model.limits import DEFAULTS
from hmic.model.load import load
from hmic.model.requests_file import EVERY, METHODS
from hmic.model.themes_file import REQUIRED_ROLES
from hmic.runtime.from_dbc import load_encoder
from hmic.runtime.keeping import EVERY as KEPT_EVERY
from hmic.runtime.obd import Asker
from hmic.runtime.parameters import PARAMETERS
from hmic.runtime.requests import FOLLOW_WITHIN
from hmic.runtime.touching import CONFIRM_WITHIN, LATE, READ_WITHIN, SHOW_REFUSED

ROOT = Path(__file__).parents[2]
MODEL = ROOT / "hmic" / "model"
DOCUMENT = (MODEL / "DESIGN.md").read_text(encoding="utf-8")
DUNLIN = ROOT / "layouts" / "dunlin"

LAYOUT = """\
screen drive "Drive"
    plan
        speed   lock
    in speed    reading vehicle.speed as "0 km/h", text 40 arcmin, called "Speed"
    in lock     switch charge.port_lock, called "Speed", confirmed by "Lock the cable?"
        allowed when vehicle.speed < 1 km/h, refused with "Stop first"
"""


def blocks() -> list[tuple[str, str]]:
    """(file, YAML) of each example."""
    found = re.findall(r"^```yaml\n# (\S+)\n(.*?)^```$", DOCUMENT, re.MULTILINE | re.DOTALL)
    assert len(found) == DOCUMENT.count("```yaml"), "an example does not name its file"
    return found


def sections(text: str) -> Iterator[tuple[str, str]]:
    """(key, text) of each top-level key."""
    for piece in re.findall(r"^[^\s#].*\n(?:(?:[ \t].*)?\n)*", text, re.MULTILINE):
        yield piece.partition(":")[0], piece


def assembled(folder: Path, chosen: int = 0) -> Path:
    """The design of all the examples; ``chosen`` of those that say how a theme is chosen."""
    parts: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for file, text in blocks():
        for key, piece in sections(text):
            parts[file][key].append(piece)
    for file, keys in parts.items():
        text = ""
        for key, pieces in keys.items():
            if key == "choose":
                pieces = [pieces[chosen]]
            # One `signals:` above the lines of all of them.
            text += pieces[0] + "".join(piece.partition("\n")[2] for piece in pieces[1:])
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(text, encoding="utf-8")
    (folder / "drive.layout").write_text(LAYOUT, encoding="utf-8")
    shutil.copy(DUNLIN / "dunlin.dbc", folder)
    return folder


def loaded(folder: Path) -> Design:
    design, findings = load(folder)
    # The examples are many, the layout is small.
    wrong = [finding for finding in findings if finding.code != "M247"]
    assert design is not None and wrong == []
    return design


def test_the_examples_make_one_design(tmp_path: Path) -> None:
    design = loaded(assembled(tmp_path))
    assert design.said == {"On": "An", "Off": "Aus", "Not now": "Jetzt nicht"} and not design.broken
    assert check_settings(design) == []
    assert len(design.signals) > 30 and len(design.outputs) == 3 and len(design.messages) == 1
    assert isinstance(design.choose, BySignal)
    assert Asker(design.signals).wants
    assert load_encoder(design) is not None


def test_the_other_choice_of_a_theme(tmp_path: Path) -> None:
    assert isinstance(loaded(assembled(tmp_path, 1)).choose, ByClock)


def test_every_function_has_an_example(tmp_path: Path) -> None:
    text = (assembled(tmp_path) / "signals.yaml").read_text(encoding="utf-8")
    assert [name for name in FUNCTIONS if f"{name}(" not in text] == []


def keys_of(schema: Any) -> Iterator[str]:
    if isinstance(schema, dict):
        for key, value in schema.items():
            if key == "properties":
                yield from value
            yield from keys_of(value)
    elif isinstance(schema, list):
        for item in schema:
            yield from keys_of(item)


@pytest.mark.parametrize("name", ["design", "signals", "themes", "part"])
def test_every_key_is_explained(name: str) -> None:
    schema = json.loads((MODEL / "schema" / f"{name}.json").read_text(encoding="utf-8"))
    assert [key for key in keys_of(schema) if f"`{key}`" not in DOCUMENT] == []


def test_every_name_is_there() -> None:
    names = [*units.spellings(), *METHODS, *REQUIRED_ROLES, *(f"{number:02X}" for number in PARAMETERS)]
    assert [name for name in names if f"`{name}`" not in DOCUMENT] == []


def test_every_limit_is_there_with_its_default() -> None:
    lacking = [
        name
        for name, limit in DEFAULTS.items()
        if not re.search(rf"`{name}` {re.escape(f'{limit.value:g} {limit.unit}')}(?=, | \|)", DOCUMENT)
    ]
    assert lacking == []
    table = DOCUMENT.split("| about | name and default |")[1]
    listed = re.findall(r"`([a-z ]+)` [0-9.]+ ", table)
    assert listed == list(DEFAULTS)


def row(key: str) -> list[str]:
    """The cells of a table's row."""
    found = [line for line in DOCUMENT.splitlines() if line.startswith(f"| `{key}` |")]
    assert found, key
    return [cell.strip() for cell in found[-1].strip("|").split("|")]


@pytest.mark.parametrize(
    ("key", "default"),
    [
        ("hysteresis", f"{theme_choice.HYSTERESIS * 100:g} %"),
        ("wait", f"{theme_choice.WAIT / 1000:g} s"),
        ("keep", f"{theme_choice.KEEP / 1000:g} s"),
        ("every", f"{EVERY} ms (common practice, no source)"),
        ("method", f"`{METHODS[0]}`"),
        ("reflectance", f"{DEFAULTS['panel reflectance'].value:g} % (from memory)"),
        ("native contrast", f"{DEFAULTS['panel contrast'].value:g} (from memory)"),
    ],
)
def test_defaults_are_the_tools(key: str, default: str) -> None:
    assert row(key)[-1] == default


def test_times_of_a_request_are_the_tools() -> None:
    text = " ".join(DOCUMENT.split())
    assert f"lapses after {CONFIRM_WITHIN:g} s" in text and READ_WITHIN == 0.5
    assert "half a second after it at the earliest" in text
    assert "more than a second late does nothing" in text and LATE == 1.0
    assert f"does not follow within {FOLLOW_WITHIN:g} s" in text
    assert SHOW_REFUSED == 1 and "shows the refusal for a second" in text
    assert f"writes it every {KEPT_EVERY:g} s" in text


def test_links_lead_somewhere() -> None:
    for target in re.findall(r"\]\(([^)]+)\)", DOCUMENT):
        file, _, heading = target.partition("#")
        text = (MODEL / file).read_text(encoding="utf-8") if file else DOCUMENT
        headings = [
            re.sub(r"[^a-z0-9 -]", "", line.lstrip("# ").lower()).replace(" ", "-")
            for line in text.splitlines()
            if line.startswith("#")
        ]
        assert not heading or heading in headings, target
