"""Signals that every design has without declaring them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from hmic.model.units import Unit, unit
from hmic.model.values import ValueKind

# What the tool itself says on a screen: the newest end of a chart, and a refused touch without a reason.
NOW = "now"
NOT_NOW = "Not now"
# The state of a switch.
OFF, ON = "Off", "On"
# Minutes since midnight, kept by the runtime from the host's clock.
CLOCK = "clock.time"


@dataclass(frozen=True)
class BuiltinSignal:
    """A single number, declared like a signal of signals.yaml."""

    unit: Unit | None
    low: float
    high: float
    kind: ValueKind = ValueKind.NUMBER
    count: int | None = None
    words: Mapping[int, str] = field(default_factory=dict)


BUILTIN: Mapping[str, BuiltinSignal] = {CLOCK: BuiltinSignal(unit("min"), 0.0, 24 * 60 - 1.0)}
