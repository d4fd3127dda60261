"""A fact with something else in it."""

from __future__ import annotations

import dataclasses
from typing import Any


def replace(fact: Any, **change: Any) -> Any:
    """The like of a dataclass or of a tuple with names."""
    return fact._replace(**change) if isinstance(fact, tuple) else dataclasses.replace(fact, **change)
