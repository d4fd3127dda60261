"""A million frames of garbage for a display and a host each: ``python -m tests.bench peers [N]``."""

from __future__ import annotations

import sys
import time

from tests.wire.bad_peers import fuzzed


def main() -> None:
    """Feeds N frames to each end (a million)."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    begun = time.monotonic()
    counts = fuzzed(count, seed=1)
    for name, number in counts.items():
        print(f"  {name:44}{number:>10}")
    print(
        f"{count} frames for each end in {time.monotonic() - begun:.0f} s: no exception, none out of bounds"
    )


if __name__ == "__main__":
    main()
