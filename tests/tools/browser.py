"""Pages in a real browser: Debian's Chromium, driven by playwright."""

from __future__ import annotations

import base64
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")

_READ = """
(() => {
  const canvas = document.getElementById("glass");
  const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  let text = "";
  for (let at = 0; at < data.length; at += 9999) text += String.fromCharCode(...data.subarray(at, at + 9999));
  return btoa(text);
})()
"""


@contextmanager
def browser() -> Iterator[Any]:
    """A browser of one's own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        try:
            yield started
        finally:
            started.close()


@contextmanager
def opened(browser: Any, file: Path, **look: Any) -> Iterator[Any]:
    """A page from a file that is ready, and that asked nothing of anybody and complained of nothing."""
    page = browser.new_page(**look)
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda fault: said.append(str(fault)))
    try:
        page.goto(file.as_uri())
        page.wait_for_selector("body[data-ready=yes]", timeout=30_000)
        yield page
        assert asked == [file.as_uri()] and said == []
    finally:
        page.close()


def canvas(page: Any) -> bytes:
    """What its canvas shows, red, green and blue of each pixel."""
    rgba = base64.b64decode(page.evaluate(_READ))
    assert rgba[3::4] == b"\xff" * (len(rgba) // 4)
    rgb = bytearray(len(rgba) // 4 * 3)
    for channel in range(3):
        rgb[channel::3] = rgba[channel::4]
    return bytes(rgb)
