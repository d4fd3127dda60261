"""The pictograms that a design can show: the built-in ones, and its own from SVG files."""

from __future__ import annotations

from functools import lru_cache

from hmic.causes import NAMELESS
from hmic.diagnostics import DesignError, Finding, Span, Subject, Told, did_you_mean, error
from hmic.model.design import Design, OwnPictogram
from hmic.paint import pictograms
from hmic.paint.operations import Mask
from hmic.paint.pictograms import Picture, draw_picture
from hmic.paint.svg_paths import Refused, read_svg

_read = lru_cache(maxsize=256)(read_svg)
_drawn = lru_cache(maxsize=256)(draw_picture)


class Pictograms:
    """Of one design. ``findings`` tell what is wrong with its own, once for each."""

    def __init__(self, design: Design) -> None:
        self._faults = design.faults
        self._own: dict[str, Picture | Finding] = {
            each.name: _own(each) for each in design.pictograms.values()
        }
        self.findings = [each for each in self._own.values() if isinstance(each, Finding)]

    @property
    def wrong(self) -> frozenset[str]:
        """Those of the design that cannot be painted."""
        return frozenset(name for name, each in self._own.items() if isinstance(each, Finding))

    @property
    def names(self) -> tuple[str, ...]:
        """All by name, those of the design first."""
        return (*self._own, *(name for name in pictograms.names() if name not in self._own))

    def draw(self, name: str, width: int, height: int, span: Span) -> Mask:
        """A pictogram as large as fits. Raises ``DesignError``: A324 for an unknown name, ``Told`` for one
        whose file is wrong, which is told."""
        own = self._own.get(name)
        if isinstance(own, Finding):
            raise Told(own)
        if own is not None:
            return _drawn(own, width, height)
        if name in pictograms.names():
            return pictograms.draw(name, width, height)
        lacking = (("pictograms", name), ("pictograms", NAMELESS))
        cause = self._faults.of(*(Subject("design.yaml", path) for path in lacking))
        if cause is not None:
            raise Told(cause)
        remedy = did_you_mean(name, self.names, "pictograms")
        raise DesignError([error("A324", f"there is no pictogram '{name}'", span, remedy)])


def _own(each: OwnPictogram) -> Picture | Finding:
    if each.name in pictograms.names():
        remedy = f"call it 'own_{each.name}'"
        return error("A395", f"a built-in pictogram is called '{each.name}'", each.span, remedy)
    try:
        return _read(each.text)
    except Refused as why:
        first, *others = places = [_place(each, wrong) for wrong in (why, *why.more)]
        more = (f"in line {at.line} {wrong}" for at, wrong in zip(others, why.more, strict=True))
        told = [why.message, *more]
        remedy = "; ".join(dict.fromkeys(wrong.remedy for wrong in (why, *why.more)))
        message = f"'{each.file}' is no pictogram: {', '.join(told)}"
        broken = (Subject("design.yaml", ("pictograms", each.name)),)
        return error("A395", message, first, remedy, breaks=broken, also=tuple(places[1:]))


def _place(each: OwnPictogram, wrong: Refused) -> Span:
    before = each.text[: wrong.place]
    line, column = before.count("\n") + 1, wrong.place - before.rfind("\n")
    rest = each.text[wrong.place : wrong.place + wrong.length].partition("\n")[0]
    return Span(each.file, line, column, line, column + max(1, len(rest)))
