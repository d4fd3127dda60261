"""One process that examines designs again and again, as an editor or a live preview does."""

from __future__ import annotations

import functools
import gc
import shutil
from pathlib import Path

from hmic.arrange.compose import Arranged
from hmic.compile.compiling import examine
from hmic.pack.writer import write
from hmic.places import examples_folder, fonts_folder

BOUNDED_BY_WHAT_WE_SHIP = {
    "hmic.arrange.widgets.clock._minutes_of",  # three hands
    "hmic.check.limits._names",
    "hmic.model.yaml_source.schema",
    "hmic.paint.pictograms._picture",
    "hmic.paint.pictograms.names",
    "hmic.paint.raster._sine",  # whole degrees of a turn
    "hmic.paint.remembered._drawers",
    "hmic.places._shipped",
    "hmic.runtime.guarding._table",  # the polynomials of the checksums we know
}


def caches() -> dict[str, tuple[int, int | None]]:
    """Every cache of a function in this process: entries now, and at most."""
    kind = type(functools.lru_cache(lambda: None))
    found = [each for each in gc.get_objects() if isinstance(each, kind)]
    return {
        f"{each.__module__}.{each.__qualname__}": (each.cache_info().currsize, each.cache_info().maxsize)
        for each in found
        if each.__module__.startswith("hmic.")
    }


def arranged(folder: Path) -> Arranged:
    """The design's arrangement; it must have no error."""
    _, result, findings = examine(folder)
    assert result is not None, findings
    return result


def test_a_second_examination_leaves_nothing_behind() -> None:
    examine(examples_folder() / "dunlin")
    before = caches()
    examine(examples_folder() / "dunlin")
    assert caches() == before


def test_no_cache_can_grow_for_ever() -> None:
    examine(examples_folder() / "dunlin")
    examine(examples_folder() / "roost")
    endless = {name for name, (_, most) in caches().items() if most is None}
    assert endless <= BOUNDED_BY_WHAT_WE_SHIP


def test_a_font_that_was_exchanged_is_drawn_as_it_is_now(tmp_path: Path) -> None:
    folder = tmp_path / "roost"
    shutil.copytree(examples_folder() / "roost", folder)
    own = folder / "own.otf"
    text = (folder / "design.yaml").read_text()
    assert "figures: B612-Bold\n" in text
    (folder / "design.yaml").write_text(text.replace("figures: B612-Bold\n", "figures: own.otf\n"))
    shutil.copy(fonts_folder() / "B612-Bold.otf", own)
    bold = write(arranged(folder).drawing)
    shutil.copy(fonts_folder() / "B612-Regular.otf", own)
    assert write(arranged(folder).drawing) != bold
    shutil.copy(fonts_folder() / "B612-Bold.otf", own)
    assert write(arranged(folder).drawing) == bold
