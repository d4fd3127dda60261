"""Where the files that come with hmic are: beside the package in a checkout, else inside it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def fonts_folder() -> Path:
    """The fonts with their licences."""
    return _shipped("fonts_open")


def examples_folder() -> Path:
    """The example designs, one folder each."""
    return _shipped("layouts")


@cache
def _shipped(name: str) -> Path:
    beside = _PACKAGE.parent / name
    # An installed package lies in site-packages, where a folder of that name may be anybody's.
    return beside if (_PACKAGE.parent / "pyproject.toml").is_file() and beside.is_dir() else _PACKAGE / name
