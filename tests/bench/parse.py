"""Prints how long parsing takes: run with ``python tests/bench/parse.py``. Nothing is asserted."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from hmic.language import grammar  # noqa: E402
from hmic.language.parser import parse  # noqa: E402

LINES = 300


def long_file() -> str:
    """The example screens one after the other, renamed, until there are 300 lines; no two lines equal."""
    texts = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "layouts/dunlin").glob("*.layout"))]
    lines: list[str] = []
    turn = 0
    while len(lines) < LINES:
        turn += 1
        for text in texts:
            text = re.sub(r"^(screen|part) ", rf"\1 s{turn}_", text, flags=re.MULTILINE)
            lines += re.sub(r"called \"", f'called "{turn} ', text).split("\n")
    while not lines[LINES].startswith("screen"):
        del lines[LINES - 1]
    return "\n".join(lines[:LINES])


def milliseconds(start: float) -> str:
    return f"{1000 * (time.perf_counter() - start):.1f} ms"


def main() -> None:
    text = long_file()
    start = time.perf_counter()
    parse('screen s "S"\n', "warm.layout")
    print(f"import lark, load the grammar:  {milliseconds(start)}")
    for _ in range(3):
        grammar._parse.cache_clear()
        grammar.read_sentence.cache_clear()
        start = time.perf_counter()
        _, findings = parse(text, "long.layout")
        print(f"{LINES} lines, nothing remembered:  {milliseconds(start)}, {len(findings)} findings")
    start = time.perf_counter()
    parse(text, "long.layout")
    print(f"{LINES} lines, sentences remembered:  {milliseconds(start)}")
    start = time.perf_counter()
    code = "from hmic.language.parser import parse; parse('screen s \"S\"\\n', 'x')"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
    print(f"a new process that parses a line:  {milliseconds(start)}")


if __name__ == "__main__":
    main()
