"""The fills and glyph masks of a screen drawn by a general 2D library (skia-python), beside the player
drawing the same. Part of ``python -m tests.bench player``; left out loudly where it is not installed."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import partial
from typing import Any

from hmic.pack.writer import write
from hmic.paint.operations import LIVE, NO_CHANNEL, Drawing, Figures, Fill, Moment, Run, Stencil
from hmic.paint.painter import figures_of
from tests.tools.changed import replace
from tests.tools.player import Area, PlayerPainter, library

Stamp = tuple[int, int, int, tuple[int, int, int]]
"""A mask by number, where its corner stands, and its ink."""


def only_flat(drawing: Drawing, number: int) -> Drawing:
    """The drawing with the fills, stencils, texts and readings of one screen, unconditional and untinted."""
    kept = []
    for one in drawing.screens[number].operations:
        if isinstance(one, Fill | Stencil | Run | Figures):
            still = replace(one, ink=replace(one.ink, tint=NO_CHANNEL), when=None)
            kept.append(replace(still, flash=False) if isinstance(still, Stencil) else still)
    screens = list(drawing.screens)
    screens[number] = replace(screens[number], operations=tuple(kept))
    return replace(drawing, screens=tuple(screens))


def stamps(drawing: Drawing, number: int, raw: tuple[int, ...]) -> list[Fill | Stamp]:
    """What is drawn, in order."""
    colours, out = drawing.themes[0].colours, []
    for one in drawing.screens[number].operations:
        ink = colours[one.ink.first]  # type: ignore[union-attr]
        match one:
            case Fill():
                out.append(one)
            case Stencil(box=box, mask=mask):
                out.append((mask, box.left, box.top, ink))
            case Run(box=box, glyphs=glyphs):
                out += [(each.mask, box.left + each.left, box.top + each.top, ink) for each in glyphs]
            case Figures(box=box):
                cells, pen = drawing.figure_sets[one.figure_set], box.left + box.width
                for figure in figures_of(one, one.offset + one.scale * (raw[one.channel] - LIVE)):
                    pen -= cells.point_advance if figure >= 15 else cells.advance
                    glyph = cells.glyphs[figure]
                    out.append((glyph.mask, pen + glyph.left, box.top + glyph.top, ink))
    return out


def drawn_by_skia(
    skia: Any, numpy: Any, drawing: Drawing, todo: list[Fill | Stamp]
) -> tuple[Any, Callable[[], None]]:
    """A surface, and what draws all of it: recorded once, so that no Python is in what is timed."""
    surface = skia.Surface(drawing.width, drawing.height)
    recorder, paint = skia.PictureRecorder(), skia.Paint(AntiAlias=False)
    canvas = recorder.beginRecording(skia.Rect.MakeWH(drawing.width, drawing.height))
    canvas.clear(skia.Color(*drawing.themes[0].colours[0]))
    for one in todo:
        if isinstance(one, Fill):
            paint.setColor(skia.Color(*drawing.themes[0].colours[one.ink.first]))
            canvas.drawRect(
                skia.Rect.MakeXYWH(one.box.left, one.box.top, one.box.width, one.box.height), paint
            )
            continue
        mask = drawing.masks[one[0]]
        if mask.width and mask.height:
            levels = numpy.frombuffer(mask.coverage, numpy.uint8).reshape(mask.height, mask.width) * 17
            image = skia.Image.fromarray(levels.copy(), colorType=skia.kAlpha_8_ColorType)
            paint.setColor(skia.Color(*one[3]))
            canvas.drawImage(image, one[1], one[2], skia.SamplingOptions(), paint)
    picture = recorder.finishRecordingAsPicture()
    return surface, lambda: surface.getCanvas().drawPicture(picture)


def beside_a_general_library(
    examples: list[tuple[str, Drawing]], milliseconds: Callable[[Callable[[], object]], float]
) -> None:
    """Prints the table."""
    try:
        import numpy
        import skia  # type: ignore[import-not-found, unused-ignore]
    except ImportError:
        print("\nNOT COMPARED WITH A GENERAL 2D LIBRARY: skia-python and numpy are not installed")
        return
    print("\n| fills and glyph masks alone | player, ms | skia, ms | largest difference of a part |")
    print("|---|---|---|---|")
    for name, whole in examples:
        for number, screen in enumerate(whole.screens):
            raw = tuple(LIVE + steps // 2 for steps in whole.channels)
            drawing = only_flat(replace(whole, depth=24), number)
            player, moment = PlayerPainter(write(drawing)), Moment(number, 0, raw)
            pixels = ctypes.create_string_buffer(drawing.width * drawing.height * 3)
            told, _raw = player.told(moment)
            area = Area(0, 0, drawing.width, drawing.height)
            paint = partial(library().hmic_paint, ctypes.byref(player.pack), ctypes.byref(told), area, pixels)
            surface, draw = drawn_by_skia(skia, numpy, drawing, stamps(drawing, number, raw))
            own, other = milliseconds(paint), milliseconds(draw)
            seen = numpy.frombuffer(pixels.raw, numpy.uint8).reshape(drawing.height, drawing.width, 3)
            wanted = surface.toarray(colorType=skia.kRGBA_8888_ColorType)[:, :, :3]
            apart = int(numpy.abs(seen.astype(int) - wanted).max())
            print(f"| {name} {screen.name} | {own:.2f} | {other:.2f} | {apart} |", flush=True)
