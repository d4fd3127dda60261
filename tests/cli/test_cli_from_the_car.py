# ruff: noqa: E501
"""A design out of the car's own files, and one more signal: lines that a person would have written, which pass
the checks and read what the frames say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.cli.main import main
from hmic.cli.signals_command import inserted
from hmic.compile.compiling import examine
from hmic.diagnostics import Severity
from hmic.model.load import load
from hmic.model.values import ValueKind
from hmic.runtime.from_dbc import load_decoder
from hmic.sources.log import Log
from hmic.survey.draft import Fit, layouts
from hmic.survey.proposal import Proposal

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"
LOG = DUNLIN / "logs" / "ten_minutes.blf"
HEAD = 'VERSION ""\nNS_ :\nBS_:\nBU_: A\n'


def errors(folder: Path) -> list[str]:
    return [each.message for each in examine(folder)[2] if each.severity is Severity.ERROR]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new") / "mycar"
    assert main(["new", str(folder), "--dbc", str(DUNLIN / "dunlin.dbc"), "--log", str(LOG)]) == 0
    return folder


def test_two_commands_lead_from_the_car_to_a_picture(made: Path, tmp_path: Path) -> None:
    assert main(["check", str(made)]) == 0
    assert main(["preview", str(made), "--out", str(tmp_path)]) == 0
    assert len(list(tmp_path.glob("drive-*.png"))) == 2
    assert main(["tidy", "--check", str(made)]) == 0


def test_every_declaration_holds_what_the_recording_brings(made: Path) -> None:
    """No value that came is out of its range, and none is stale between two of its frames."""
    design, findings = load(made)
    assert design is not None and len(design.signals) >= 10
    assert [each.code for each in findings if each.code in ("M262", "M264", "M265", "M266", "M294")] == []
    decoder = load_decoder(design)
    last: dict[str, float] = {}
    gaps: dict[str, list[float]] = {}
    count = 0
    for frame in Log(LOG):
        if frame.at > 60:
            break
        for reading in decoder.readings(frame):
            signal = design.signals[reading.name]
            if isinstance(reading.value, float):
                assert signal.low <= reading.value <= signal.high, reading
                count += 1
            gaps.setdefault(reading.name, []).append(frame.at - last.get(reading.name, frame.at))
            last[reading.name] = frame.at
    assert count > 3000
    for name, apart in gaps.items():
        assert sorted(apart)[len(apart) // 2] * 1000 < design.signals[name].stale_after / 2 + 1, name


def test_units_words_flags_and_no_data(tmp_path: Path) -> None:
    dbc = (
        'BO_ 288 Motion: 8 A\n SG_ Speed : 0|16@1+ (0.01,0) [0|60] "m/s" A\n SG_ MotorTemp : 16|8@1+ (1,-40) [0|0] "degC" A\n'
        ' SG_ Gear : 24|4@1+ (1,0) [0|0] "" A\n SG_ Ready : 28|1@1+ (1,0) [0|0] "" A\n SG_ Alive : 32|4@1+ (1,0) [0|0] "" A\n'
        ' SG_ CRC : 56|8@1+ (1,0) [0|0] "" A\nVAL_ 288 Gear 0 "P" 1 "R" 3 "D" 15 "SNA" ;\nVAL_ 288 MotorTemp 254 "Error" ;\n'
    )
    (tmp_path / "a.dbc").write_text(HEAD + dbc)
    lines = []
    for at in range(600):
        speed = 0xFFFF if at % 50 == 0 else 1000 + at
        body = speed.to_bytes(2, "little") + bytes([60 + at % 9, 3 | 1 << 4, at % 16, 0, 0])
        check = 0
        for byte in body:
            check ^= byte
        lines.append(f"({at * 0.02:.6f}) can0 120#{body.hex()}{check:02X}\n")
    (tmp_path / "a.log").write_text("".join(lines))
    folder = tmp_path / "car"
    words = ["new", str(folder), "--dbc", str(tmp_path / "a.dbc"), "--log", str(tmp_path / "a.log"), "--signals", "*.*"]
    assert main(words) == 0 and errors(folder) == []
    text = (folder / "signals.yaml").read_text()
    assert "motion.speed: {unit: km/h, range: [0, 216], from: Motion.Speed, stale: 60 ms, no data: 655.35}" in text
    assert "motion.motor_temp: {unit: °C, range: [-40, 215], from: Motion.MotorTemp, stale: 60 ms}" in text
    assert 'motion.gear: {words: {0: "P", 1: "R", 3: "D"}, from: Motion.Gear, stale: 60 ms}' in text
    assert "motion.ready: {flag: true, from: Motion.Ready, stale: 60 ms}" in text
    assert "  Motion: {counter: Alive, checksum: CRC, method: xor}" in text
    assert "# came every 20 ms, at the longest after 20 ms" in text


@pytest.mark.parametrize("attribute", ["", 'BA_DEF_ "ProtocolType" STRING ;\nBA_DEF_DEF_ "ProtocolType" "J1939";\n'])
def test_parameter_groups_come_from_the_sender_that_is_meant(tmp_path: Path, attribute: str) -> None:
    """Two senders of one group: the busier one is taken, by its address, and what stands for none is in no range."""
    dbc = (
        f'BO_ {0x18FEF1FE | 1 << 31} Road: 8 A\n SG_ RoadSpeed : 8|16@1+ (0.00390625,0) [0|255] "km/h" A\n'
        f'BO_ {0x18FEEEFE | 1 << 31} Warmth: 8 A\n SG_ CoolantTemp : 0|8@1+ (1,-40) [0|0] "degC" A\n'
    )
    (tmp_path / "van.dbc").write_text(HEAD + dbc + attribute)
    lines = []
    for at in range(300):
        speed = 0xFFFF if at % 50 == 0 else 0x1000 + 16 * at
        lines.append(f"({at / 10:.3f}) can0 18FEF10B#FF{speed.to_bytes(2, 'little').hex()}FFFFFFFFFF")
        lines.append(f"({at / 10 + 0.01:.3f}) can0 18FEEE00#{60 + at // 30:02X}FFFFFFFFFFFFFF")
        if at % 3 == 0:
            lines.append(f"({at / 10 + 0.02:.3f}) can0 18FEF131#FFFFFFFFFFFFFFFF")
    (tmp_path / "drive.log").write_text("\n".join(lines) + "\n")
    folder = tmp_path / "van"
    assert main(["new", str(folder), "--dbc", str(tmp_path / "van.dbc"), "--log", str(tmp_path / "drive.log")]) == 0
    assert errors(folder) == []
    text = (folder / "signals.yaml").read_text()
    assert "from: Road.RoadSpeed, source address: 0x0B," in text and "CoolantTemp, stale" in text and "no data" not in text
    assert ("j1939: true" in (folder / "design.yaml").read_text()) == (not attribute)
    design, findings = load(folder)
    assert design is not None and not {"M265", "M238", "M239"} & {each.code for each in findings}
    decoder = load_decoder(design)
    came = [reading for frame in Log(tmp_path / "drive.log") for reading in decoder.readings(frame)]
    numbers = [each.value for each in came if isinstance(each.value, float)]
    assert len(came) == 600 and len(numbers) == 594 and decoder.take_findings() == []
    # The DBC says all that 16 bits carry, the standard less.
    assert 250.9 < design.signals["road.road_speed"].high <= 251


@pytest.mark.parametrize("panel", ["320x240@70x52.5mm", "480x272@95x53.8mm", "1024x600@173.1x101.4mm", "800x480@154x92.4mm"])
def test_it_fits_panels_of_every_size(tmp_path: Path, panel: str) -> None:
    folder = tmp_path / "car"
    assert main(["new", str(folder), "--dbc", str(DUNLIN / "dunlin.dbc"), "--panel", panel]) == 0
    assert errors(folder) == []


def test_a_signal_is_added_as_a_person_would(made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "car"
    assert main(["new", str(folder), "--dbc", str(DUNLIN / "dunlin.dbc"), "--signals", "PackState.Charge"]) == 0
    before = (folder / "signals.yaml").read_text()
    assert "messages:" not in before
    words = ["signals", str(folder), "--add", "PackPower.Voltage", "--add", "CellVoltages.Cell*", "--log", str(LOG)]
    assert main(words) == 0
    text = (folder / "signals.yaml").read_text()
    assert text.startswith(before.rstrip("\n"))
    assert 'cell_voltages.cells: {unit: V, range: [0, 5], count: 90, from: "CellVoltages.Cell{n}"' in text
    assert 'cell_voltages.lowest_cell: {unit: V, is: "min(cell_voltages.cells)"}' in text
    assert re.search(r"messages:\n  PackPower: \{counter: Counter, checksum: Checksum, method: CRC-8/SAE-J1850", text)
    assert errors(folder) == []
    design, _ = load(folder)
    assert design is not None and design.signals["cell_voltages.cells"].count == 90
    # Once more, under another name.
    assert main(["signals", str(folder), "--add", "PackPower.Voltage"]) == 0
    assert "pack_power.voltage_2: " in (folder / "signals.yaml").read_text() and errors(folder) == []
    capsys.readouterr()
    assert main(["signals", str(folder), "--add", "PackPower.Voltag"]) == 2
    assert "did you mean 'PackPower.Voltage'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("signals:\n  a.b: {}\n\noutputs:\n  c: {}\n", "signals:\n  a.b: {}\n  NEW\n\noutputs:\n  c: {}\n"),
        ("# x\nsignals: # y\n  a.b: {}\n  # z\n  c.d:\n    unit: V", "# x\nsignals: # y\n  a.b: {}\n  # z\n  c.d:\n    unit: V\n  NEW\n"),
        ("other:\n  a: {}\n", "other:\n  a: {}\n\nsignals:\n  NEW\n"),
    ],
)
def test_lines_go_to_the_end_of_their_mapping(before: str, after: str) -> None:
    assert inserted(before, "signals", "  NEW\n") == after


def test_a_terminal_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def answer(question: str) -> str:
        asked.append(question)
        return "1 PackPower.Voltage"

    monkeypatch.setattr("builtins.input", answer)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    folder = tmp_path / "car"
    assert main(["new", str(folder), "--dbc", str(DUNLIN / "dunlin.dbc")]) == 0
    assert len(asked) == 1
    design, _ = load(folder)
    assert design is not None and list(design.signals) == ["vehicle_speed.speed", "pack_power.voltage"]


@pytest.mark.parametrize(("scale", "most", "form"), [("0.1", "999999.9", "0.0 km"), ("1", "16777215", "0 km"), ("0.01", "655.35", "0.00 km")])
def test_an_odometer_is_shown_over_all_of_its_range(tmp_path: Path, scale: str, most: str, form: str) -> None:
    """The range is the description's to its last digit; a reading of two channels is no hindrance."""
    dbc = f'BO_ 288 Way: 8 A\n SG_ Odometer : 0|24@1+ ({scale},0) [0|{most}] "km" A\n'
    (tmp_path / "a.dbc").write_text(HEAD + dbc)
    folder = tmp_path / "car"
    assert main(["new", str(folder), "--dbc", str(tmp_path / "a.dbc")]) == 0 and errors(folder) == []
    assert f"range: [0, {most}]" in (folder / "signals.yaml").read_text()
    assert f'reading way.odometer as "{form}"' in (folder / "more.layout").read_text()


def test_what_was_chosen_and_is_on_no_screen_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dbc = 'BO_ 288 M: 8 A\n SG_ Far : 0|32@1- (1,0) [0|0] "m" A\n SG_ Near : 32|8@1+ (1,0) [0|0] "m" A\n'
    (tmp_path / "a.dbc").write_text(HEAD + dbc)
    assert main(["new", str(tmp_path / "car"), "--dbc", str(tmp_path / "a.dbc"), "--signals", "M.*"]) == 0
    assert "m.far is on no screen" in capsys.readouterr().out


def test_a_counter_is_held_to_though_the_recording_lost_frames(tmp_path: Path) -> None:
    """`hmic run` asks that it moves with every frame, no more: that can be told in spite of a gap."""
    dbc = 'BO_ 288 M: 8 A\n SG_ Near : 0|8@1+ (1,0) [0|0] "V" A\n SG_ Alive : 8|4@1+ (1,0) [0|0] "" A\n SG_ Stuck : 12|4@1+ (1,0) [0|0] "" A\n'
    (tmp_path / "a.dbc").write_text(HEAD + dbc)
    frames = [(at, at % 16, (at - (at >= 300)) % 16) for at in range(600) if not 200 <= at < 250]
    lines = [f"({at * 0.02:.6f}) can0 120#{at % 50:02X}{alive | stuck << 4:02X}\n" for at, alive, stuck in frames]
    (tmp_path / "a.log").write_text("".join(lines))
    words = ["new", str(tmp_path / "car"), "--dbc", str(tmp_path / "a.dbc"), "--log", str(tmp_path / "a.log")]
    assert main(words) == 0
    assert "  M: {counter: Alive}" in (tmp_path / "car" / "signals.yaml").read_text()
    design, _ = load(tmp_path / "car")
    assert design is not None
    decoder = load_decoder(design)
    came = [frame for frame in Log(tmp_path / "a.log") if list(decoder.readings(frame))]
    assert len(came) == len(frames) and not decoder.take_findings()


@given(st.integers(1, 40), st.integers(1, 9))
def test_no_screen_is_left_with_a_crumb(many: int, room: int) -> None:
    """Screens of one kind differ by one value at most, and there are no more of them than needed."""
    proposals = [Proposal(f"a.b{at}", "", "", ValueKind.NUMBER, "", "", decimals=0) for at in range(many)]
    files = layouts([("battery", "Battery", each) for each in proposals], Fit(room, 1, 20))
    counts = [text.count("reading ") for text in files.values()]
    assert sum(counts) == many and max(counts) <= room and max(counts) - min(counts) <= 1
    assert len(counts) == -(-many // room)
    order = re.findall(r"reading a\.b(\d+) ", "".join(files.values()))
    assert order == [str(at) for at in range(many)]


def test_numbers_too_wide_to_show_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.dbc").write_text(HEAD + 'BO_ 288 M: 8 A\n SG_ Far : 0|32@1- (1,0) [0|0] "m" A\n')
    assert main(["new", str(tmp_path / "car"), "--dbc", str(tmp_path / "a.dbc")]) == 2
    assert "too wide to be shown" in capsys.readouterr().err and not (tmp_path / "car").exists()
