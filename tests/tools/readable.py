"""How many of the recordings and descriptions in a folder can be read, and why the others cannot.

python -m tests.tools.readable FOLDER
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from hmic.diagnostics import DesignError
from hmic.model.dbc import SUFFIXES, read_dbc
from hmic.sources.log import Log


def log_said(path: Path) -> str:
    """The form of a log. Raises DesignError."""
    log = Log(path)
    count = sum(1 for _ in log.rows())
    told = sorted({finding.code for finding in log.findings})
    print(f"{count:9} frames  {path.name}  {' '.join(told)}")
    return log.form


def description_said(path: Path) -> str:
    """Whether a description is read whole or in part. Raises DesignError."""
    facts, findings = read_dbc(path.read_bytes(), path.name, None)
    if facts is None:
        raise DesignError(findings)
    for finding in findings[:3]:
        print(f"  {path.name}:{finding.span.line if finding.span else 0}: {finding.message}")
    return f"{path.suffix.lower()} read {'in part' if findings else 'whole'}"


def share(paths: list[Path], said: Callable[[Path], str]) -> None:
    """Prints each file, then the sums by form."""
    forms: Counter[str] = Counter()
    for path in paths:
        try:
            forms[said(path)] += 1
        except DesignError as fault:
            print(f"  not read  {path.name}: {fault.findings[-1].message[:160]}")
    for form, count in forms.most_common():
        print(f"{count:5}  {form}")
    print(f"{forms.total()} of {len(paths)} read")


if __name__ == "__main__":
    found = sorted(path for path in Path(sys.argv[1]).rglob("*") if path.is_file())
    share([path for path in found if path.suffix.lower() not in SUFFIXES], log_said)
    share([path for path in found if path.suffix.lower() in SUFFIXES], description_said)
