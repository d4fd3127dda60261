"""The small design that `hmic new` writes: in order, and its one control asks only where it may."""

from __future__ import annotations

from pathlib import Path

import pytest

from hmic.cli.main import main
from hmic.cli.starter import BATTERY
from hmic.model.load import load
from hmic.model.values import Doubt, Value
from hmic.runtime.from_dbc import load_encoder
from hmic.runtime.refusals import RequestRefused
from hmic.runtime.requests import RequestMade, Requests
from hmic.sources.frame import Frame


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("new") / "mycar"
    assert main(["new", str(made)]) == 0
    return made


def test_it_is_tidy(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tidy", "--check", str(folder)]) == 0
    assert main(["check", "--strict", str(folder)]) == 0


def test_the_control_asks_first_and_says_why_it_refuses() -> None:
    sentence = BATTERY[BATTERY.index("switch coolant.pump") :]
    for phrase in ("allowed when vehicle.speed < 1 km/h", 'confirmed by "', 'refused with "Stop first"'):
        assert phrase in sentence


UNKNOWN = "whether it is allowed is not known"


@pytest.mark.parametrize(
    ("may_send", "speed", "answer"),
    [
        (True, 0.0, Frame(0.0, 0x140, False, b"\x01")),
        (True, 30.0, "not allowed now: it needs `vehicle.speed < 1 km/h`"),
        (True, Doubt.STALE, f"{UNKNOWN}: of `vehicle.speed < 1 km/h` the last value is too old"),
        (False, 0.0, "this run sends nothing to the vehicle"),
    ],
)
def test_the_pump_is_asked_for_only_at_standstill(
    folder: Path, may_send: bool, speed: Value, answer: Frame | str
) -> None:
    design, findings = load(folder)
    assert design is not None and findings == []
    encoder = load_encoder(design)
    assert encoder is not None
    values: dict[str, Value] = {"vehicle.speed": speed, "coolant.pump": False}
    requests = Requests(design, may_send, lambda name: 1, encoder.targets, encoder.encode)
    asked = requests.ask("coolant.pump", True, values.__getitem__, 10.0)
    if isinstance(answer, str):
        assert isinstance(asked, RequestRefused) and asked.reason == answer
    else:
        assert asked == RequestMade("coolant.pump", True, answer)
