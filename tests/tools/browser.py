"""Pages in a real browser: Debian's Chromium, driven by playwright."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from PIL.Image import Image

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed")

_DIGEST = """
(async () => {
  const canvas = document.getElementById("glass");
  const data = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", data));
  return Array.from(digest, (each) => each.toString(16).padStart(2, "0")).join("");
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
        page.wait_for_selector("body[data-ready=yes]", timeout=60_000)
        yield page
        assert asked == [file.as_uri()] and said == []
    finally:
        page.close()


def canvas(page: Any) -> str:
    """A digest of what its canvas shows."""
    found: str = page.evaluate(_DIGEST)
    return found


def digest(picture: Image) -> str:
    """The same of a picture."""
    return sha256(picture.convert("RGBA").tobytes()).hexdigest()
