"""One process that examines designs again and again, as an editor or a live preview does."""

from __future__ import annotations

import functools
import gc
import shutil
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path

from hmic.arrange.compose import Arranged
from hmic.compile.bind import bind
from hmic.compile.compiling import Compiled, compile_design, examine
from hmic.model.samples import sample_values
from hmic.pack.writer import write
from hmic.paint.operations import Moment
from hmic.places import examples_folder, fonts_folder
from hmic.runtime.from_dbc import load_decoder
from hmic.runtime.replays import entries_of, open_replay
from hmic.runtime.seeking import SeekableReplay
from hmic.show.contact_sheet import contact_sheet
from hmic.show.report import page
from hmic.show.screens import brush, finisher, raw_values

BOUNDED_BY_WHAT_WE_SHIP = {
    "hmic.arrange.widgets.clock._minutes_of",  # three hands
    "hmic.model.yaml_source.schema",
    "hmic.paint.pictograms._picture",
    "hmic.paint.pictograms.names",
    "hmic.paint.raster._sine",  # whole degrees of a turn
    "hmic.paint.remembered._drawers",
    "hmic.places._shipped",
    "hmic.show.seeing._least",  # one table
    "hmic.runtime.plain_data._closure",  # our own types
    "hmic.runtime.plain_data._form",
    "hmic.runtime.plain_data.shape",
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


def everything(folder: Path) -> list[str]:
    """What each door of the rooms above the checks makes of a design, as hashes."""
    compiled = compile_design(folder)
    assert isinstance(compiled, Compiled), compiled.findings
    values, paint = sample_values(compiled.design), brush(compiled)
    finish = finisher(compiled, framed=compiled.findings, vision="protan", condition="sun")
    picture = finish(paint(Moment(0, 0, raw_values(compiled, values))), 0, 0)
    raw = raw_values(compiled, values)
    sheet = contact_sheet(compiled, paint, [0], [0], lambda _: values, live=lambda _: raw)
    made = (compiled.pack, picture.tobytes(), sheet.tobytes(), page(compiled).encode())
    return [sha256(each).hexdigest() for each in made]


def test_every_door_gives_the_same_again_and_leaves_nothing_behind() -> None:
    folder = examples_folder() / "roost"
    first = everything(folder)
    before = caches()
    assert everything(folder) == first
    assert caches() == before


def test_two_threads_share_nothing() -> None:
    folders = [examples_folder() / name for name in ("roost", "dunlin")]
    alone = [everything(folder) for folder in folders]
    with ThreadPoolExecutor(2) as pool:
        assert list(pool.map(everything, folders)) == alone


def test_a_recorded_drive_is_sought_in_from_the_folder_alone() -> None:
    folder = examples_folder() / "dunlin"
    compiled = compile_design(folder)
    assert isinstance(compiled, Compiled)
    bound, log = bind(compiled), folder / "logs" / "ten_minutes.blf"

    def replay() -> SeekableReplay:
        entries = entries_of(open_replay(bound.design, [str(log)]))
        return SeekableReplay(bound, entries, load_decoder(bound.design))

    sought = replay()
    late, early = sought.at(20.0), sought.at(7.5)
    assert early == replay().at(7.5) != late == sought.at(20.0)
