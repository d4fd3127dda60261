"""The panel of a display: told, or that of the pack it keeps; with real pushes over pseudo terminals."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PIL import Image
from test_display_hands import Process

from hmic.cli.main import main
from hmic.display.serve import open_display
from hmic.pack.reader import read
from hmic.pack.writer import write
from tests.tools.changed import replace


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new")
    assert main(["new", str(folder / "car")]) == 0
    assert main(["build", str(folder / "car"), "-o", str(folder / "car.pack")]) == 0
    return folder / "car.pack"


@contextmanager
def display(*words: str) -> Iterator[tuple[Process, str, str]]:
    """A display with its port and what it says of its panel."""
    process = Process("display", *words)
    try:
        # The port is told when the loop opens it.
        said = process.until("bits a pixel")
        yield process, process.until("port ").split()[1], said
    finally:
        process.end()


def test_what_is_pushed_to_a_panel_is_kept_with_it(
    pack: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing = read(pack.read_bytes())
    store = str(tmp_path / "flash.bin")
    panel = f"{drawing.width}x{drawing.height}x{drawing.depth}"
    told = f"display {drawing.width} x {drawing.height}, {drawing.depth} bits a pixel"
    assert panel != "1024x600x24"
    with display("--store", store, "--panel", panel, "--hands") as (process, port, said):
        assert told in said
        assert main(["push", str(pack), "--port", port]) == 0
        assert f"of {len(pack.read_bytes())} bytes " in capsys.readouterr().out
        process.say(f"picture {tmp_path / 'now.png'}")
        process.until("now.png")
        with Image.open(tmp_path / "now.png") as shown:
            assert shown.size == (drawing.width, drawing.height) and len(shown.getcolors(1 << 20) or ()) > 8
    with display("--store", store) as (_, port, said):
        assert told in said
        assert main(["push", str(pack), "--port", port]) == 0
        assert "has this pack already" in capsys.readouterr().out
    with display("--store", store, "--panel", "320x240x16") as (process, port, said):
        assert "display 320 x 240, 16 bits" in said
        assert f"panel of {drawing.width} x {drawing.height}" in process.until("refused")
        assert main(["push", str(pack), "--port", port]) == 1
        assert "W654" in capsys.readouterr().err


def test_an_empty_display_must_know_its_panel(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = tmp_path / "flash.bin"
    for words in ([], ["--store", str(store)]):
        assert main(["display", *words]) == 1
        assert "W665" in capsys.readouterr().err
    assert not store.exists()


@pytest.mark.parametrize(
    "panel", ["", "800x480", "800x480x18", "8x480x16", "800x5000x16", "800x480x16x1", "ax1x16"]
)
def test_what_is_no_panel(panel: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["display", "--panel", panel]) == 2
    assert "U921" in capsys.readouterr().err


def test_a_pack_that_names_a_rate_of_no_line_is_not_pushed(
    pack: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = tmp_path / "odd.pack"
    odd.write_bytes(write(replace(read(pack.read_bytes()), baud=300)))
    assert main(["push", str(odd), "--port", str(tmp_path / "none")]) == 2
    assert "U931" in capsys.readouterr().err


def test_a_pack_is_read_once_for_its_panel_and_its_use(
    pack: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hmic.display import display as module
    from hmic.pack import reader

    counted: list[int] = []
    real = reader.read

    def count(data: bytes) -> object:
        counted.append(len(data))
        return real(data)

    monkeypatch.setattr(reader, "read", count)
    monkeypatch.setattr(module, "read", count)
    data = pack.read_bytes()
    open_display(data, tmp_path / "store")
    assert len(counted) == 1
