"""Benchmarks: ``python -m tests.bench NAME``, from the repository's folder."""

from __future__ import annotations

import importlib
import sys

NAMES = {
    "start": "seconds from a command to its answer",
    "live": "milliseconds from a save to the picture in a browser, and memory over an hour of saves",
    "cost": "seconds of a check as the design grows",
    "push": "goodput of a push beside ZMODEM and YMODEM, and what an edit costs",
    "wire": "bytes on the wire beside other ways to say the same, and latency",
    "listening": "microseconds that a frame of a serial CAN adapter takes",
    "runtime": "latency from CAN frame to bytes, load, memory over a simulated day",
    "load": "share of a core of a whole run, and frames of a recording in a second of processor",
    "external": "a display of another make, on its port: pushes, screens, a line that spoils bits",
    "cuts": "power cut at every flash operation of a push",
    "faults": "wrong pixels on bad lines",
    "heal": "seconds in doubt after losses while every value moves",
    "fill": "seconds until a screen shows all its values at 9600 Bd",
    "world": "random worlds under seeds: what was met, and what went wrong",
    "mutations": "small wrong changes that the tests of a room notice",
    "peers": "a million frames of garbage for each end",
    "paint": "milliseconds a frame",
    "player": "code, memory and milliseconds a frame of the C player",
    "survey": "frames a second of a survey; of a folder the share read, held against python-can and cantools",
    "parse": "milliseconds a layout file",
    "pictograms": "milliseconds a pictogram",
}


def main(words: list[str]) -> int:
    """Runs one benchmark; what follows its name is for it."""
    if not words or words[0] not in NAMES:
        print("\n".join(f"python -m tests.bench {name:<10}  {text}" for name, text in NAMES.items()))
        return 2
    sys.argv = [f"tests.bench {words[0]}", *words[1:]]
    importlib.import_module(f"tests.bench.{words[0]}").main()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
