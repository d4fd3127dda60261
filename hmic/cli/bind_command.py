"""Writes one file with all that a run of the design needs, so that `hmic run FILE` starts at once: nothing is
compiled, and neither the design nor its DBC need be there.

It holds the pack too: `hmic push FILE` sends that to the display.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from hmic.cli.designs import compile_or_stop
from hmic.cli.writing import write_result

EPILOG = """\
examples:
  hmic bind layouts/dunlin -o dunlin.host
  hmic push dunlin.host --port /dev/ttyUSB0
  hmic run dunlin.host --port /dev/ttyUSB0 --can can0

What stands in it is described in HOST_FILE.md in the folder hmic/runtime.
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("design", type=Path, help="folder with design.yaml")
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="HOST", help="the host file to write"
    )


def run(arguments: argparse.Namespace) -> int:
    """Writes the file and says how large it is and which pack it belongs to."""
    from hmic.compile.bind import host_of
    from hmic.runtime.host_file import write

    host = host_of(compile_or_stop(arguments.design))
    data = write(host)
    write_result(arguments.output, data)
    kilobytes = (len(data) - len(host.pack)) / 1000
    print(f"{arguments.output}: {len(data)} bytes, {kilobytes:.0f} kB of tables and the pack")
    print(f"  runs with pack {host.bound.identity.hex()} on the display")
    return 0
