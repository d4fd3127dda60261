"""Which values a picture of faults is painted with."""

from __future__ import annotations

from pathlib import Path

from hmic.cli.starter import FILES
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.samples import sample_values
from hmic.show.screens import fault_values
from tests.tools.large_designs import written

LAMP = "    in lamps    lamp battery"
BOTH = """\
    in lamps across
        lamp motor, caution while motor.temperature > 150 °C, means "Hot"
        lamp battery"""


def test_the_column_of_faults_lights_what_a_number_lights(tmp_path: Path) -> None:
    text = FILES["drive.layout"]
    assert LAMP in text
    text = text.replace(LAMP, BOTH).replace("        means", "            means")
    written(tmp_path, FILES | {"drive.layout": text})
    compiled = compile_design(tmp_path)
    assert isinstance(compiled, Compiled), compiled.findings
    samples = sample_values(compiled.design)
    faulty = fault_values(compiled, samples)
    assert faulty["pack.fault"] is True and samples["pack.fault"] is False
    hot, plain = faulty["motor.temperature"], samples["motor.temperature"]
    assert isinstance(hot, float) and isinstance(plain, float) and plain < 150 < hot
