"""What `hmic check` costs grows as the design does, whether all is right in it or nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from hmic.cli.main import main
from tests.tools.growth import LINEAR, growth
from tests.tools.large_designs import DESIGNS, written


@pytest.mark.parametrize("name", DESIGNS)
def test_check_takes_a_time_that_grows_with_the_design(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make, size = DESIGNS[name]
    assert growth(checking(make, tmp_path), size, tries=1) < LINEAR, name
    capsys.readouterr()


def checking(make: Callable[[int], dict[str, str]], folder: Path) -> Callable[[int], object]:
    """What checks a design of a size; the designs are written beforehand."""

    def check(size: int) -> int:
        return main(["check", str(written(folder / f"{size}", make(size)))])

    check(1)
    return check
