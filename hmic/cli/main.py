"""The command line: names a command, and only then loads what it needs."""

from __future__ import annotations

import argparse
import gc
import importlib
import os
import sys
import warnings
from collections.abc import Sequence
from errno import ENOSPC
from pathlib import Path

from hmic import __version__
from hmic.cli.codes import USAGE
from hmic.diagnostics import DesignError, Shown, error
from hmic.foreign_text import visible_output

# Command -> what it does, in the order a builder meets them.
COMMANDS = {
    "survey": "say what a bus or recording holds, and which description explains it",
    "new": "write a small design to start from",
    "signals": "add a field of the DBC to a design, as a person would write it",
    "check": "say what is wrong with a design, or not legible, before anyone drives",
    "explain": "tell what a finding's code means, with a wrong and a right example",
    "editor": "help an editor while you write: findings, completion, hover, definitions",
    "tidy": "set layout files in order, their meaning unchanged",
    "words": "write the table of a language, every text that lacks to be filled in",
    "preview": "write a picture of every screen, in every theme",
    "build": "compile a design into one screen pack",
    "inspect": "show what a screen pack holds, byte by byte",
    "display": "be a display: play a screen pack on a pseudo terminal or serial port",
    "player": "write the display side in C, for a board of your own",
    "push": "send a screen pack to a display, and switch to it when it is whole",
    "bind": "write one file with all that a run needs, so that it starts at once",
    "run": "show a vehicle's signals, live or from a log, on a display",
    "trace": "make the picture again that a display showed at a moment of a log or record",
    "share": "write one page that shows it all in any browser, for a friend or an inspector",
    "demo": "do all of it once on the example van, with nothing plugged in",
}

EPILOG = """\
A first walk:
  hmic demo                                     see it all work, nothing plugged in
  hmic new mycar                                a small design of your own
  hmic check mycar                              what is wrong, where, and what to do
  hmic preview mycar --out pictures             every screen as a picture
  hmic build mycar -o mycar.pack                one file for the display
  hmic display mycar.pack                       a software display; it prints its port
  hmic run mycar --port PORT --replay LOG       play a recorded log on it

`hmic COMMAND --help` tells more. Exit codes: 0 fine, 1 something was found wrong, 2 wrong usage.
"""


def program() -> int:
    """``main`` as a process of its own, which need not look often for what to free: a design is many
    small objects that all stay to the end, and then all go."""
    gc.set_threshold(200_000, 20, 20)
    if not sys.warnoptions:
        # What libraries warn of is for those who write programs.
        warnings.simplefilter("ignore")
    try:
        code = main()
    except KeyboardInterrupt:
        # A second one, while the first was being answered.
        code = 130
    gc.freeze()
    return code


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and gives its exit code; no traceback reaches a person, nor any control of the
    terminal that others wrote."""
    if sys.stdout is None:
        # Started with it closed; what is said to nobody is no fault.
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    with visible_output():
        return _command(list(sys.argv[1:] if arguments is None else arguments))


def _command(words: list[str]) -> int:
    command = words[0] if words else ""
    if command not in COMMANDS:
        return _without_command(words)
    module = importlib.import_module(f"hmic.cli.{command}_command")
    parser = argparse.ArgumentParser(
        prog=f"hmic {command}",
        description=module.__doc__,
        epilog=getattr(module, "EPILOG", None),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    module.add_arguments(parser)
    try:
        parsed = parser.parse_args(words[1:])
    except SystemExit as leaving:
        return int(leaving.code or 0)
    try:
        _look_at_names(parsed)
        result: int = module.run(parsed)
        sys.stdout.flush()
        return result
    except DesignError as raised:
        from hmic.cli.findings import show

        if not isinstance(raised, Shown):
            show(raised.findings, {}, as_json=getattr(parsed, "json", False))
        codes = {finding.code for finding in raised.findings}
        return 2 if codes and codes <= USAGE else 1
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # The reader of our output went away (`hmic inspect ... | head`); nobody is left to tell.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as fault:
        if fault.errno != ENOSPC:
            raise
        # Standard output is a full disk; what is left in its buffer has no place either.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        print(f"hmic: the output cannot be written: {fault.strerror}", file=sys.stderr)
        return 1


def _look_at_names(parsed: argparse.Namespace) -> None:
    """Raises ``DesignError`` U911 for the name of a file that no system can have."""
    values = vars(parsed).values()
    listed = [each for value in values if isinstance(value, list) for each in value]
    for value in [*(value for value in values if isinstance(value, Path)), *listed]:
        if "\0" in str(value):
            message = f"no file can be called '{value}'"
            raise DesignError([error("U911", message, None, "take the zero character out of its name")])


def _without_command(words: list[str]) -> int:
    if words and words[0] in ("--version", "-V"):
        print(f"hmic {__version__}")
        return 0
    listing = "\n".join(f"  {name:<9} {text}" for name, text in COMMANDS.items())
    head = "usage: hmic COMMAND ...\n\nCompiles, checks and runs screens for a vehicle's display."
    page = f"{head}\n\n{listing}\n\n{EPILOG}"
    if words and words[0] in ("--help", "-h", "help"):
        print(page, end="")
        return 0
    if words:
        from hmic.diagnostics import did_you_mean

        print(
            f"hmic: there is no command '{words[0]}'; {did_you_mean(words[0], COMMANDS, 'commands')}",
            file=sys.stderr,
        )
    else:
        print(page, end="", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(program())
