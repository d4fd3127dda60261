# ruff: noqa: E501
"""Files of shared parts in an editor: they belong to the design that takes them in."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from hmic.compile.compiling import examine
from hmic.diagnostics import Finding
from hmic.editor.completion import complete
from hmic.editor.hover import definition
from hmic.editor.project import View, by_file, name_in, root_of
from hmic.editor.server import Desk
from hmic.model.design import Design

ROOT = Path(__file__).parents[2]
BASE = ROOT / "hmic" / "cli" / "pages" / "base"
SIGNALS = "../parts/charger/signals.yaml"


def examined(root: Path, texts: object) -> tuple[Design | None, list[Finding]]:
    design, _, findings = examine(root, None, texts)  # type: ignore[arg-type]
    return design, findings


@pytest.fixture
def van(tmp_path: Path) -> Path:
    """A design with a shared part, beside one that has none."""
    shutil.copytree(BASE, tmp_path / "van")
    shutil.copytree(BASE, tmp_path / "another")
    shutil.copytree(ROOT / "layouts" / "parts", tmp_path / "parts")
    settings = tmp_path / "van" / "design.yaml"
    settings.write_text(settings.read_text() + "uses: [../parts/charger]\n")
    return tmp_path / "van"


def test_a_file_of_a_part_belongs_to_the_design_that_takes_it_in(van: Path) -> None:
    charger, stove = van.parent / "parts" / "charger", van.parent / "parts" / "stove"
    for name in ("signals.yaml", "part.yaml", "charger.layout", "words/de.yaml"):
        assert root_of(charger / name) == van, name
        assert name_in(van, charger / name) == f"../parts/charger/{name}"
    assert root_of(charger / "charger.dbc") is None and root_of(stove / "signals.yaml") is None
    far = van.parent / "far" / "away" / "from" / "here" / "van"
    shutil.copytree(van, far)
    (far / "design.yaml").write_text((far / "design.yaml").read_text().replace("../parts/charger", "../../../../../parts/stove"))
    assert root_of(stove / "signals.yaml") is None and root_of(stove / "signals.yaml", [far]) == far


def test_what_is_written_in_a_part_counts_before_it_is_saved(van: Path) -> None:
    desk = Desk(examined)
    path = van.parent / "parts" / "charger" / "signals.yaml"
    desk.texts[path] = path.read_text().replace("unit: V,", "unit: Vlot,")
    view = desk.look(van)
    assert list(by_file([each for each in view.findings if each.severity.value == "error"])) == [SIGNALS]
    desk.texts[path] = path.read_text()
    assert [each for each in desk.look(van).findings if each.severity.value == "error"] == []
    seen = desk.view(path)
    assert seen is not None and seen[0].root == van and seen[1] == SIGNALS


def test_names_lead_into_a_part_and_out_of_it(van: Path) -> None:
    view = Desk(examined).look(van)
    assert view.design is not None
    text = 'screen more "More"\n    plan\n        a\n    in a  reading charger.power as "0 kW"\n'
    typed = View(van, view.design, {**view.texts, "more.layout": text})
    found = definition(typed, "more.layout", 3, 22)
    assert found is not None and (found.file, found.line) == (SIGNALS, 5)
    lines = view.texts[SIGNALS].split("\n")
    row = next(at for at, line in enumerate(lines) if "Status.Voltage" in line)
    found = definition(view, SIGNALS, row, lines[row].index("Status.Voltage") + 8)
    assert found is not None and found.file == "../parts/charger/charger.dbc"
    half = {**view.texts, SIGNALS: "signals:\n  charger.more: {unit: V, from: Sta"}
    offered = [each.text for each in complete(View(van, view.design, half), SIGNALS, 1, 33)]
    assert "Status.Voltage" in offered and not any("/" in each for each in offered)
    keys = [each.text for each in complete(view, "../parts/charger/part.yaml", 6, 0)]
    assert "tried on" in keys and "panel" not in keys
