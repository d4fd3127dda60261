"""Milliseconds a pictogram mask, best of five: ``python tests/bench/pictograms.py``."""

from __future__ import annotations

from time import perf_counter

from hmic.paint import pictograms


def milliseconds(name: str, side: int) -> float:
    """The best of five drawings; reading the file is not counted after the first."""
    times = []
    for _ in range(5):
        start = perf_counter()
        pictograms.draw(name, side, side)
        times.append(perf_counter() - start)
    return 1000 * min(times)


def main() -> None:
    """One line a size: mean, and the slowest with its name."""
    for side in (24, 48, 80, 96):
        found = sorted((milliseconds(name, side), name) for name in pictograms.names())
        mean = sum(time for time, _ in found) / len(found)
        print(f"{side} px: mean {mean:.2f} ms, slowest {found[-1][1]} {found[-1][0]:.2f} ms")


if __name__ == "__main__":
    main()
