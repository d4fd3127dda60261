"""Which values a picture of faults is painted with."""

from __future__ import annotations

from pathlib import Path

from hmic.cli.starter import FILES
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.samples import sample_values
from hmic.show.screens import fault_values
from tests.tools.large_designs import written

LAMP = """\
caution while motor.temperature > 110 °C
            danger while motor.temperature > 130 °C"""
HOT = "caution while motor.temperature > 150 °C"


def test_the_column_of_faults_lights_what_a_number_lights(tmp_path: Path) -> None:
    changed = {name: FILES[name].replace(LAMP, HOT) for name in ("drive.layout", "battery.layout")}
    assert all(HOT in text for text in changed.values())
    written(tmp_path, FILES | changed)
    compiled = compile_design(tmp_path)
    assert isinstance(compiled, Compiled), compiled.findings
    samples = sample_values(compiled.design)
    faulty = fault_values(compiled, samples)
    assert faulty["pack.fault"] is True and samples["pack.fault"] is False
    hot, plain = faulty["motor.temperature"], samples["motor.temperature"]
    assert isinstance(hot, float) and isinstance(plain, float) and plain < 150 < hot
