"""Pages in a real browser, one for all: what is seen on them, and how they follow hands and keys."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from hmic.check.contrast import measures
from hmic.check.eye import RIM, as_seen, seen_at
from hmic.check.light import Condition, light
from hmic.check.painted import Painted
from hmic.cli.main import main
from hmic.compile.compiling import Failed, compile_design
from hmic.model.limits import Limits
from hmic.model.samples import doubtful_values, sample_values
from hmic.model.values import Doubt
from hmic.paint.operations import Moment
from hmic.paint.painter import Painter
from hmic.show.rehearsal import opened as opened_log
from hmic.show.screens import raw_values
from hmic.show.share import page
from tests.tools.browser import browser, canvas, digest, needs_browser, opened
from tests.tools.pages import LAYOUTS, compiled, design, served, write

pytestmark = needs_browser
EXAMPLES = ("dunlin", "roost", "plover")
LOG = LAYOUTS / "dunlin" / "logs" / "ten_minutes.blf"
TWO_FRAMES = "new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
NAMELESS = """
[...document.querySelectorAll("button, input, select, canvas, [role=group]")].filter((each) => {
  const by = each.getAttribute("aria-labelledby");
  const named = each.getAttribute("aria-label") || (by && document.getElementById(by)?.textContent)
    || [...each.labels ?? []].map((label) => label.textContent).join("") || each.textContent.trim();
  return !named;
}).map((each) => each.outerHTML)
"""
"""What a screen reader has no name for."""


@pytest.fixture(scope="module")
def started() -> Iterator[Any]:
    with browser() as one:
        yield one


def press(page: Any, row: str, value: object) -> None:
    """A choice of a row; a click by hand waits for what stands still anyway."""
    page.evaluate(f"""document.querySelector("#{row} button[value='{value}']").click()""")


def settled(page: Any) -> None:
    page.wait_for_selector("#how:text-matches('^up to date')", timeout=60_000)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_shared_page_shows_each_screen_as_previewed(
    name: str, started: Any, tmp_path: Path
) -> None:
    """Every screen in every theme with samples; in doubt every second."""
    known, file = compiled(name), tmp_path / f"{name}.html"
    file.write_text(page(known, None), encoding="utf-8")
    drawing, samples = known.arranged.drawing, sample_values(known.design)
    painter = Painter(drawing)
    stale = raw_values(known, doubtful_values(known.design, Doubt.STALE))
    looks = {"samples": raw_values(known, samples), "stale": stale}
    with opened(started, file, reduced_motion="reduce") as shown:
        for look, raw in looks.items():
            press(shown, "looks", look)
            for theme in range(len(drawing.themes)):
                press(shown, "themes", theme)
                for screen in range(theme % 2, len(drawing.screens), 2 if look == "stale" else 1):
                    press(shown, "screens", screen)
                    wanted = painter.paint(Moment(screen, theme, raw))
                    assert canvas(shown) == digest(wanted), (look, theme, screen)


def test_a_shared_page_plays_and_is_led_by_keys_and_fingers(started: Any, tmp_path: Path) -> None:
    out = tmp_path / "van.html"
    words = ["share", str(LAYOUTS / "dunlin"), "-o", str(out), "--replay", str(LOG)]
    assert main([*words, "--from", "1:00", "--to", "1:02"]) == 0
    begin = '<script type="application/json" id="facts">'
    known = json.loads(out.read_text(encoding="utf-8").split(begin)[1].split("</script>")[0])
    screens = [each["name"] for each in known["screens"]]
    drive = known["screens"][screens.index("drive")]
    with opened(started, out, viewport={"width": 1100, "height": 900}) as shown:

        def shows(name: str) -> None:
            shown.wait_for_selector(f"#shown:text-matches('^{name},')", timeout=60_000)

        shows("drive")
        assert shown.inner_text("#now") == "1:00.0"
        shown.keyboard.press(" ")
        shown.wait_for_selector("#now:text-is('1:02.0')")
        assert shown.inner_text("#play") == "Play"
        order = [*screens, screens[0]]
        shown.keyboard.press("ArrowRight")
        shows(order[screens.index("drive") + 1])
        shown.keyboard.press("ArrowLeft")
        shows("drive")
        before = canvas(shown)
        shown.keyboard.press("t")
        shown.wait_for_timeout(100)
        assert canvas(shown) != before
        box = shown.locator("#glass").bounding_box()
        scale = box["width"] / known["width"]
        left, top, width, height, to = drive["ways"][0]
        shown.mouse.click(box["x"] + (left + width / 2) * scale, box["y"] + (top + height / 2) * scale)
        shows(screens[to])
        press(shown, "screens", screens.index("drive"))
        middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        ways = (("left", -200), ("right", 200))
        side, across = next((side, by) for side, by in ways if side in drive["swipes"])
        shown.mouse.move(*middle)
        shown.mouse.down()
        shown.mouse.move(middle[0] + across, middle[1])
        shown.mouse.up()
        shows(screens[drive["swipes"][side]])
        shown.set_viewport_size({"width": 390, "height": 844})
        wide = shown.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, "it would have to be moved sideways on a phone held upright"


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_live_page_shows_each_screen_as_previewed_and_follows(
    name: str, started: Any, tmp_path: Path
) -> None:
    """Every screen and theme; then as eyes get it; then saves."""
    folder, known = design(tmp_path, name), compiled(name)
    drawing, limits = known.arranged.drawing, Limits(known.design)
    painter, raw = Painter(drawing), raw_values(known, sample_values(known.design))
    with served(folder) as live:
        shown = started.new_page(reduced_motion="reduce")
        said: list[str] = []
        asked: list[str] = []
        shown.on("pageerror", lambda fault: said.append(str(fault)))
        shown.on("request", lambda request: asked.append(request.url.rpartition("/")[2]))
        shown.goto(live.address)
        settled(shown)
        assert asked.count("pack") == 1, "what the checks find brings no other picture"
        for theme in range(len(drawing.themes)):
            press(shown, "themes", theme)
            for screen in range(len(drawing.screens)):
                press(shown, "screens", screen)
                shown.evaluate(TWO_FRAMES)
                assert canvas(shown) == digest(painter.paint(Moment(screen, theme, raw))), (screen, theme)
        plain = painter.paint(Moment(screen, theme, raw))
        for eye, condition in (("deutan", None), ("tritan", Condition.DAY), ("grey", Condition.SUN)):
            press(shown, "eyes", eye)
            press(shown, "lights", condition or "")
            shown.evaluate(TWO_FRAMES)
            wanted = as_seen(plain, eye)
            if condition is not None:
                wanted = seen_at(wanted, light(known.design.themes[theme], condition, limits), limits)
                wanted = wanted.crop((RIM, RIM, RIM + plain.width, RIM + plain.height))
            assert canvas(shown) == digest(wanted), (eye, condition)
        press(shown, "eyes", "")
        press(shown, "lights", "")
        file = sorted(folder.glob("*.layout"))[0]
        text = file.read_text(encoding="utf-8")
        file.write_text(text + "\nscreen", encoding="utf-8")
        shown.wait_for_selector("#picture.behind", timeout=60_000)
        assert shown.inner_text("#findings").strip() and canvas(shown) == digest(plain)
        file.write_text(text, encoding="utf-8")
        settled(shown)
        assert shown.locator("#picture.behind").count() == 0
        shown.click("#all button:text-is('stale')")
        shown.wait_for_timeout(300)
        assert canvas(shown) != digest(plain)
        # A phone held upright, and a window of 1280 by 900 at 200 %.
        for width, height in ((390, 844), (640, 450)):
            shown.set_viewport_size({"width": width, "height": height})
            assert shown.evaluate("document.documentElement.scrollWidth") <= width
        papers = []
        for scheme in ("light", "dark"):
            shown.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            papers.append(shown.evaluate("getComputedStyle(document.body).backgroundColor"))
        assert papers[0] != papers[1]
        assert shown.evaluate(NAMELESS) == [] and said == []
        shown.close()


def test_a_live_page_measures_and_mends(started: Any, tmp_path: Path) -> None:
    """The ruler by the panel's pitch, the contrast by the checks' own measures, a remedy at a press; all by
    keys."""
    folder = design(tmp_path, "dunlin")
    write(folder / "drive.layout", "text 100 arcmin", "text 9 arcmin")
    with served(folder) as live:
        shown = started.new_page(reduced_motion="reduce", viewport={"width": 1400, "height": 900})
        shown.goto(live.address)
        shown.wait_for_selector("#findings .does", timeout=60_000)
        shown.focus("#glass")
        shown.keyboard.press("r")
        shown.keyboard.press("ArrowUp")
        shown.keyboard.press("Enter")
        for _ in range(4):
            shown.keyboard.press("ArrowRight")
        result = compile_design(folder)
        assert isinstance(result, Failed) and result.compiled is not None
        result = result.compiled
        panel = result.design.panel
        assert panel.square
        length, angle = 40 * panel.pitch, panel.arcmin_from_pixels(40)
        assert shown.inner_text("#measured").startswith(f"40 px: {length:.2f} mm, {angle:.1f} arcmin at")
        shown.keyboard.press("c")
        shown.keyboard.press("ArrowUp")
        shown.wait_for_selector("#measured li:text-matches(':1, limit')", timeout=60_000)
        painted = Painted(result.arranged, result.arranged.drawing.start)
        every = {f"{each.ratio:.2f}:1" for each in measures(result.design, Limits(result.design), painted)}
        told = shown.locator("#measured li").all_inner_texts()
        assert told and all(any(ratio in text for ratio in every) for text in told)
        shown.keyboard.press("Escape")
        shown.click("#findings .about >> nth=0")
        assert shown.locator("#marks i").count() >= 1
        before = shown.locator("#findings > li").count()
        shown.click("#findings .does >> nth=0")
        shown.wait_for_selector("#done:text-matches('^Mended drive.layout')", timeout=60_000)
        shown.locator("#findings > li").nth(before - 1).wait_for(state="detached", timeout=60_000)
        assert "text 9 arcmin" not in (folder / "drive.layout").read_text(encoding="utf-8")
        shown.close()


def test_a_rehearsal_is_led_by_hands(started: Any, tmp_path: Path) -> None:
    """A moment of a log is painted as a trace has it; a swipe brings the next screen; glass without power is
    dark; a save goes on from the same moment."""
    folder, known = design(tmp_path, "dunlin"), compiled("dunlin")
    with served(folder, [str(LOG)]) as live, closing(opened_log(known, [str(LOG)], 0.0)) as other:
        shown = started.new_page(reduced_motion="reduce", viewport={"width": 1200, "height": 1200})
        said: list[str] = []
        shown.on("pageerror", lambda fault: said.append(str(fault)))
        shown.goto(live.address)
        settled(shown)
        shown.keyboard.press("p")
        shown.wait_for_selector("#line:text-matches('^Line up')", timeout=60_000)
        slid = "(it) => { it.max = 9; it.value = 3.5; it.dispatchEvent(new Event('input')); }"
        shown.locator("#moment").evaluate(slid)
        shown.wait_for_selector("#now:text-matches('^0:03.5')", timeout=60_000)
        shown.wait_for_timeout(800)
        assert other.replay is not None
        then = other.replay.at(3.5)
        number = then.sightings[-1].screen
        # Of other screens' channels a display knows nothing.
        channels = known.arranged.drawing.screens[number].channels
        raw = tuple(each if at in channels else 0 for at, each in enumerate(then.raw))
        wanted = digest(Painter(known.arranged.drawing).paint(Moment(number, then.theme, raw)))
        assert canvas(shown) == wanted
        box = shown.locator("#glass").bounding_box()
        middle = box["y"] + box["height"] / 2
        shown.mouse.move(box["x"] + 0.7 * box["width"], middle)
        shown.mouse.down()
        shown.mouse.move(box["x"] + 0.2 * box["width"], middle)
        shown.mouse.up()
        shown.wait_for_selector("#shown:not(:text-matches('^drive,'))", timeout=60_000)
        press(shown, "screens", number)
        shown.wait_for_selector("#shown:text-matches('^drive,')", timeout=60_000)
        shown.click("#power")
        shown.wait_for_selector("#power[aria-pressed=true]", timeout=60_000)
        shown.wait_for_timeout(200)
        assert canvas(shown) == digest(Image.new("RGB", (1024, 600)))
        shown.click("#power")
        version = shown.evaluate("document.body.dataset.version")
        write(folder / "drive.layout", "text 100 arcmin", "text 99 arcmin")
        shown.wait_for_selector(f"body[data-checked=true]:not([data-version='{version}'])", timeout=60_000)
        shown.wait_for_selector("#now:text-matches('^0:03.5')", timeout=60_000)
        shown.wait_for_timeout(800)
        assert canvas(shown) not in (wanted, digest(Image.new("RGB", (1024, 600)))) and said == []
        shown.close()
