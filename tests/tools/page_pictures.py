"""The pictures of pages in README.md, taken in a real browser:
``python -m tests.tools.page_pictures`` writes them."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from hmic.cli.main import main as hmic
from tests.tools.browser import browser
from tests.tools.pages import LAYOUTS, design, served, write

LOG = str(LAYOUTS / "dunlin" / "logs" / "ten_minutes.blf")
FOLDER = LAYOUTS / "dunlin" / "pictures"


def main() -> None:
    """A wrong size beside its finding; a rehearsal; a shared page on a phone."""
    with tempfile.TemporaryDirectory() as room, browser() as started:
        folder = design(Path(room), "dunlin")
        with served(folder, [LOG]) as live:
            page = started.new_page(viewport={"width": 1280, "height": 860}, reduced_motion="reduce")
            page.goto(live.address)
            page.wait_for_selector("#how:text-matches('^up to date')", timeout=60_000)
            page.click("#themes button:text-is('day')")
            write(folder / "drive.layout", "text 100 arcmin", "text 14 arcmin")
            page.wait_for_selector("#findings .does", timeout=60_000)
            page.click("#findings .about >> nth=0")
            page.wait_for_timeout(300)
            _taken(page, "page-finding")
            write(folder / "drive.layout", "text 14 arcmin", "text 100 arcmin")
            page.wait_for_selector("#how:text-matches('^up to date')", timeout=60_000)
            page.keyboard.press("p")
            page.wait_for_selector("#line:text-matches('^Line up')", timeout=60_000)
            page.wait_for_selector("#now:not(:text-matches('reading'))", timeout=120_000)
            page.fill("#moment", "420")
            page.wait_for_selector("#now:text-matches('^7:00')", timeout=60_000)
            page.click("#screens button:text-is('charging')")
            page.click("#play")
            page.wait_for_timeout(5000)
            _taken(page, "page-rehearsal")
            page.close()
        out = Path(room) / "dunlin.html"
        words = ["--replay", LOG, "--from", "2:00", "--clock", "10:24"]
        assert hmic(["share", str(LAYOUTS / "dunlin"), "-o", str(out), *words]) == 0
        page = started.new_page(viewport={"width": 390, "height": 560}, device_scale_factor=2)
        page.goto(out.as_uri())
        page.wait_for_selector("body[data-ready=yes]", timeout=60_000)
        page.click("#themes button:text-is('night')")
        page.wait_for_timeout(300)
        _taken(page, "page-shared")


def _taken(page: Any, name: str) -> None:
    path = FOLDER / f"{name}.png"
    page.screenshot(path=path)
    with Image.open(path) as taken:
        taken.convert("RGB").save(path, optimize=True)


if __name__ == "__main__":
    main()
