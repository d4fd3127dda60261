"""Whether `hmic new` makes a design that passes its checks out of each description in a folder.

python -m tests.tools.made FOLDER
"""

from __future__ import annotations

import contextlib
import io
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from hmic.cli.main import main
from hmic.compile.compiling import examine
from hmic.diagnostics import Severity
from hmic.model.dbc import SUFFIXES


def made(path: Path) -> str:
    """What came of one description."""
    with tempfile.TemporaryDirectory(prefix="hmic-made-") as folder:
        design = Path(folder) / "car"
        told = io.StringIO()
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
            code = main(["new", str(design), "--dbc", str(path)])
        if not design.exists():
            reason = next((line for line in told.getvalue().splitlines() if line.startswith("error")), "")
            return f"no design, exit {code}: {reason.split(maxsplit=2)[1] if reason else 'nothing told'}"
        *_, findings = examine(design)
        errors = sorted({finding.code for finding in findings if finding.severity is Severity.ERROR})
        return f"errors {' '.join(errors)}" if errors else "passes its checks"


def run(folder: Path) -> None:
    """Prints each that does not pass, and the sums."""
    counts: Counter[str] = Counter()
    for path in sorted(each for each in folder.rglob("*") if each.suffix.lower() in SUFFIXES):
        begun = time.process_time()
        try:
            result = made(path)
        except Exception:
            result = "traceback"
            traceback.print_exc()
        counts[result] += 1
        if result != "passes its checks":
            print(f"{path.name[-80:]}: {result} ({time.process_time() - begun:.1f} s)", flush=True)
    for result, count in counts.most_common():
        print(f"{count:5}  {result}")


if __name__ == "__main__":
    run(Path(sys.argv[1]))
