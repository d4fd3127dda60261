"""The example's signals, its messages and its screens fit together."""

import re
from pathlib import Path

import cantools
import pytest
import yaml

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
DECLARED = yaml.safe_load((DUNLIN / "signals.yaml").read_text(encoding="utf-8"))
SIGNALS, OUTPUTS = DECLARED["signals"], DECLARED["outputs"]
DOTTED = re.compile(r"\b([a-z]+\.[a-z_]+)\b")


@pytest.fixture(scope="module")
def database():
    return cantools.database.load_file(str(DUNLIN / "dunlin.dbc"))


def sources():
    for name, entry in SIGNALS.items():
        if entry.get("from", "pipe") != "pipe":
            message, _, field = entry["from"].partition(".")
            for n in range(1, entry.get("count", 1) + 1):
                yield name, entry, message, field.replace("{n}", str(n))


def test_every_signal_on_a_screen_is_declared():
    families = {name.partition(".")[0] for name in SIGNALS}
    used = set()
    for path in sorted(DUNLIN.glob("*.layout")):
        for line in path.read_text(encoding="utf-8").splitlines():
            line = re.sub(r'"[^"]*"|#.*', "", line)
            if not line.strip().startswith("pipe from"):
                used |= {name for name in DOTTED.findall(line) if name.partition(".")[0] in families}
    assert len(used) > 50
    assert used <= set(SIGNALS)


def test_derived_signals_read_declared_ones():
    derived = [entry["is"] for entry in SIGNALS.values() if "is" in entry]
    assert len(derived) >= 6
    for expression in derived:
        assert set(DOTTED.findall(expression)) <= set(SIGNALS)


def test_sources_are_in_the_messages_with_the_same_unit(database):
    seen = 0
    for name, entry, message, field in sources():
        found = database.get_message_by_name(message).get_signal_by_name(field)
        if "words" in entry:
            assert {raw: str(word) for raw, word in found.choices.items()} == entry["words"]
        elif entry.get("flag"):
            assert found.length == 1 and found.choices is None
        else:
            assert (found.unit or "") == entry["unit"] or (name, found.unit) == ("pack.insulation", "kohm")
        seen += 1
    assert seen > 140


def test_no_data_is_the_largest_raw_value(database):
    """What a sender uses for "not available" is all ones, outside the range."""
    seen = 0
    for _, entry, message, field in sources():
        if "no data" in entry:
            found = database.get_message_by_name(message).get_signal_by_name(field)
            assert ((1 << found.length) - 1) * found.scale + found.offset == entry["no data"]
            assert not entry["range"][0] <= entry["no data"] <= entry["range"][1]
            seen += 1
    assert seen > 100


def test_requests_can_be_sent_and_are_read_back(database):
    for name, entry in OUTPUTS.items():
        message, _, field = entry["to"].partition(".")
        asked = database.get_message_by_name(message)
        assert asked.senders == ["Dash"]
        found = asked.get_signal_by_name(field)
        assert name in SIGNALS
        words = SIGNALS[name].get("words")
        if words:
            assert {raw: str(word) for raw, word in found.choices.items()} == words
