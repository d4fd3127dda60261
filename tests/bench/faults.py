"""Random schedules of trouble on the line, every frame judged: ``python -m tests.bench faults [N]``."""

from __future__ import annotations

import sys
from collections import Counter

from tests.link.bad_days import bad_day


def main() -> None:
    """Counts over N days (300)."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    total: Counter[str] = Counter()
    for seed in range(days):
        day = bad_day(seed)
        total.update(vars(day.counts))
        total["touches"] += len(day.told)
    print(
        f"{days} schedules of trouble: {total['frames']} frames and {total['squares']} values on the glass "
        f"judged, {total['live']} of them live\n"
        f"  wrong: {total['wrong']}; older than the limit: {total['old']}; touches told once and in order: "
        f"{total['touches']}; every frame right two seconds after"
    )


if __name__ == "__main__":
    main()
