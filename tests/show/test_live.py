"""The page of a design that is being written: what it follows, whom it serves."""

from __future__ import annotations

import asyncio
import json
import shutil
import socket
import struct
import threading
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

import pytest
from aiohttp import ClientSession, WSServerHandshakeError

from hmic.cli.main import main
from hmic.compile.compiling import Compiled, compile_design
from hmic.model.samples import sample_values, set_value
from hmic.show.live import Unmended, Watched, state
from hmic.show.screens import raw_values
from tests.tools.pages import LAYOUTS, asked, design, seen, served, write

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 10"><path d="M1 1h8v8h-8z"/></svg>'


def settled(watched: Watched) -> int:
    """Turns until nothing is new; how many turns had something."""
    count = 0
    while watched.turn():
        count += 1
        assert count < 10
    return count


def test_it_follows_what_is_saved(tmp_path: Path) -> None:
    """First the picture, then what the checks find; after each save anew, and never without one."""
    folder = design(tmp_path)
    watched = Watched(folder)
    assert watched.turn() and watched.sight.shown is not None and not watched.sight.checked
    assert watched.turn() and watched.sight.checked and not watched.sight.failed and not watched.turn()
    before = watched.sight
    write(folder / "battery.layout", "screen battery", "screen battary")
    assert settled(watched)
    assert watched.sight.failed and watched.sight.behind and watched.sight.shown is before.shown
    assert watched.sight.findings and watched.sight.version > before.version
    write(folder / "battery.layout", "screen battary", "screen battery")
    assert settled(watched) and not watched.sight.failed and not watched.sight.behind
    whole = compile_design(folder)
    assert isinstance(whole, Compiled) and watched.sight.shown is not None
    assert watched.sight.shown.pack == whole.pack and watched.sight.findings == whole.findings


def test_it_follows_shared_parts_and_own_pictograms(tmp_path: Path) -> None:
    """Whatever a design is read from, also from another folder."""
    folder = design(tmp_path)
    shutil.copytree(LAYOUTS / "parts", tmp_path / "parts")
    (folder / "own.svg").write_text(SVG, encoding="utf-8")
    with (folder / "design.yaml").open("a", encoding="utf-8") as file:
        file.write("uses: [../parts/stove]\npictograms: {own: own.svg}\n")
    watched = Watched(folder)
    settled(watched)
    part = next((tmp_path / "parts" / "stove").glob("*.yaml"))
    for saved in (part, folder / "own.svg"):
        assert not watched.turn()
        saved.write_text(saved.read_text(encoding="utf-8") + "\n", encoding="utf-8")
        assert watched.turn(), saved.name
        settled(watched)


def test_an_error_of_the_checks_alone_can_be_looked_at(tmp_path: Path) -> None:
    folder = design(tmp_path)
    write(folder / "design.yaml", "memory:", "memory: 1 kB #")
    watched = Watched(folder)
    settled(watched)
    assert watched.sight.failed and not watched.sight.behind and watched.sight.shown is not None


def test_a_remedy_is_applied_as_the_command_does(tmp_path: Path) -> None:
    """To the same text; once something was saved, or for what has none, it changes nothing."""
    folder, twin = design(tmp_path / "a"), design(tmp_path / "b")
    for each in (folder, twin):
        write(each / "sun.layout", '"0.0 kWh", text 22 arcmin', '"0.0 kWh", text 9 arcmin')
    watched = Watched(folder)
    settled(watched)
    told = state(watched.sight)
    mends = [number for number, each in enumerate(told["findings"]) if each["mends"]]
    assert mends
    with pytest.raises(Unmended):
        watched.mend(told["version"] - 1, mends[0])
    with pytest.raises(Unmended):
        watched.mend(told["version"], len(told["findings"]))
    assert "arcmin" in watched.mend(told["version"], mends[0])
    assert main(["check", str(twin), "--mend", "all"]) == 0
    for file in sorted(folder.iterdir()):
        if file.is_file():
            assert file.read_bytes() == (twin / file.name).read_bytes(), file.name
    with pytest.raises(Unmended):
        watched.mend(told["version"], mends[0])
    assert settled(watched) and len(watched.sight.findings) < len(told["findings"])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda folder: (folder / "battery.layout").write_bytes(b"\xff\xfe\x00"),
        lambda folder: (folder / "battery.layout").write_bytes(b"#" * 10_000_000),
        lambda folder: (folder / "signals.yaml").write_text("["),
        lambda folder: (folder / "design.yaml").unlink(),
        lambda folder: shutil.rmtree(folder),
    ],
)
def test_whatever_happens_to_the_folder_it_finds_back(spoil: Any, tmp_path: Path) -> None:
    folder = design(tmp_path)
    watched = Watched(folder)
    settled(watched)
    good = watched.sight.shown
    spoil(folder)
    assert settled(watched) and watched.sight.failed and watched.sight.findings
    assert watched.sight.shown is good and state(watched.sight)["behind"]
    shutil.rmtree(folder, ignore_errors=True)
    design(tmp_path)
    assert settled(watched) and not watched.sight.failed


def test_what_a_page_is_told_of_signals_and_findings(tmp_path: Path) -> None:
    folder = design(tmp_path)
    watched = Watched(folder)
    settled(watched)
    told = json.loads(json.dumps(state(watched.sight), allow_nan=False))
    assert told["name"] and len(told["reads"]) == len(told["facts"]["screens"])
    assert set().union(*told["reads"]) == set(told["signals"])
    ranges = [signal["range"] for signal in told["signals"].values() if signal["kind"] == "number"]
    assert ranges and all(low < high for low, high in ranges)
    write(folder / "battery.layout", "text ", "text 2 px #")
    settled(watched)
    found = state(watched.sight)["findings"]
    assert found and all(each["code"] and each["message"] for each in found)


def test_only_who_has_the_address_is_served(tmp_path: Path) -> None:
    with served(design(tmp_path)) as live:
        seen(live.address)
        whole = live.address.removesuffix("/").rpartition("/")[0]
        port = whole.rpartition(":")[2]
        for address, headers in (
            (f"{whole}/", {}),
            (f"{whole}/state", {}),
            (f"{whole}/{'x' * 22}/state", {}),
            (live.address + "state", {"Host": "example.invalid"}),
            (live.address + "state", {"Host": f"example.invalid:{port}"}),
            (live.address + "state", {"Origin": "http://example.invalid"}),
            (live.address + "state", {"Origin": "null"}),
            (live.address + "../../etc/passwd", {}),
        ):
            with pytest.raises(HTTPError) as refused:
                asked(address, headers=headers)
            assert refused.value.code in (403, 404), address
        assert asked(live.address + "state", headers={"Origin": f"http://127.0.0.1:{port}"})
        # Another address of this computer, as others on the network would use.
        with socket.socket() as other, pytest.raises(OSError):
            other.settimeout(2)
            other.connect(("127.0.0.2", int(port)))


def test_values_are_those_of_a_preview(tmp_path: Path) -> None:
    folder = design(tmp_path)
    with served(folder) as live:
        told = seen(live.address)
        compiled = compile_design(folder)
        assert isinstance(compiled, Compiled) and asked(live.address + "pack") == compiled.pack
        numbers = {name: each for name, each in told["signals"].items() if each["kind"] == "number"}
        name = next(name for name, each in numbers.items() if not each["count"])
        for text in ("stale", str(told["signals"][name]["range"][0])):
            sent = json.dumps({"settings": {name: text, "gone.signal": "1"}, "touch": "idle"}).encode()
            answer = asked(live.address + "values", data=sent)
            wanted = sample_values(compiled.design)
            wanted.update([set_value(compiled.design, f"{name}={text}")])
            assert struct.unpack(f"<{len(answer) // 2}H", answer) == raw_values(compiled, wanted)
        for sent, code in (
            (b"", 400),
            (b"[]", 400),
            (b'{"settings":{"a":1},"touch":"idle"}', 400),
            (b"[" * 50_000, 400),
            (b"x" * 200_000, 413),
            (json.dumps({"settings": {name: "much"}, "touch": "idle"}).encode(), 422),
        ):
            with pytest.raises(HTTPError) as refused:
                asked(live.address + "values", data=sent)
            assert refused.value.code == code, sent[:40]


async def answers(address: str, said: list[str], origin: str) -> list[dict[str, Any]]:
    """What a rehearsal answers to what is said to it: faults, one each, and what it shows first."""
    found: list[dict[str, Any]] = []
    own = {"Origin": origin}
    async with ClientSession() as session, session.ws_connect(address + "rehearsal", headers=own) as socket:
        for text in said:
            await socket.send_str(text)
            while True:
                news = json.loads(await asyncio.wait_for(socket.receive_str(), 30))
                found.append(news)
                if "fault" in news or ("raw" in news and text == said[0]):
                    break
    return found


def test_a_rehearsal_is_for_its_page_and_bears_anything(tmp_path: Path) -> None:
    with served(design(tmp_path)) as live:
        seen(live.address)
        own = live.address.rpartition("/")[0].rpartition("/")[0]
        wrong = [
            "[]",
            "{",
            "[" * 5000,
            '{"do": "fly"}',
            '{"do": "play", "speed": -1}',
            '{"do": "seek", "at": 1e400}',
            '{"do": "press", "x": "0", "y": 0}',
            '{"do": "pull", "on": 1}',
            '{"do": "set", "settings": {"sun.today": "much"}}',
            '{"do": "set", "settings": {"sun.today": 1}}',
        ]
        told = asyncio.run(answers(live.address, ['{"do": "go", "screen": 1}', *wrong], own))
        assert any(each.get("powered") for each in told)
        assert sum("fault" in each for each in told) == len(wrong)
        with pytest.raises(WSServerHandshakeError) as refused:
            asyncio.run(answers(live.address, ["{}"], "http://example.invalid"))
        assert refused.value.status == 403
        gone = [thread for thread in threading.enumerate() if thread.name.startswith("rehearse")]
        for thread in gone:
            thread.join(10)
            assert not thread.is_alive(), "it outlives its page"


def test_a_rehearsal_of_no_log(tmp_path: Path) -> None:
    """It says why, and the page goes on."""
    with served(design(tmp_path), [str(tmp_path / "none.log")]) as live:
        seen(live.address)
        own = live.address.rpartition("/")[0].rpartition("/")[0]
        told = asyncio.run(answers(live.address, ['{"do": "next"}'], own))
        assert "none.log" in told[-1]["fault"]


def test_a_port_that_is_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = design(tmp_path)
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        words = ["preview", str(folder), "--live", "--page-port", str(other.getsockname()[1])]
        assert main(words) == 1
    assert "U947" in capsys.readouterr().err
    assert main(["preview", str(folder), "--live", "--page-port", "70000"]) == 1
    assert "U947" in capsys.readouterr().err
    assert main(["preview", str(tmp_path / "none"), "--live"]) != 0
