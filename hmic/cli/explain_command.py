"""Tells what a code means, with an example that has the mistake and the same put right.

Without a code, lists them all.
"""

from __future__ import annotations

import argparse

from hmic.diagnostics import DesignError, did_you_mean, error


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of the command."""
    parser.add_argument("code", nargs="?", metavar="CODE", help="as in error L106")


def run(arguments: argparse.Namespace) -> int:
    """Prints the page of a code, or the list."""
    from hmic.cli.pages import every_meaning

    meanings = every_meaning()
    if arguments.code is None:
        for code, meaning in meanings.items():
            print(f"{code}  {meaning}")
        return 0
    wanted = arguments.code.strip("[]").upper()
    if wanted not in meanings:
        near = did_you_mean(wanted, meanings, "codes")
        remedy = near if near.startswith("did") else "`hmic explain` lists them"
        raise DesignError([error("U960", f"there is no code '{arguments.code}'", None, remedy)])
    print(explanation(wanted, meanings[wanted]), end="")
    return 0


def explanation(code: str, meaning: str) -> str:
    """The page of a code as text."""
    import textwrap

    from hmic.cli.pages import Role, all_pages

    page = all_pages().get(code)
    lines = [f"{code}: {meaning}", ""]
    if page is not None:
        lines += [*textwrap.wrap(page.meaning, 78), ""]
        for block in page.of(Role.WITH):
            lines += [f"With this in {block.shown_as()}:", "", *_indented(block.plain()), ""]
        for role, heading in ((Role.WRONG, "Wrong"), (Role.RIGHT, "Right")):
            for block in page.of(role):
                where = block.shown_as()
                lines += [f"{heading}{f', in {where}' if where else ''}:", ""]
                lines += [*(_marked(block.text) if role == Role.WRONG else _indented(block.plain())), ""]
            if role == Role.WRONG and page.help:
                lines += [f"Remedy: {page.help}", ""]
    return "\n".join(lines)


def _indented(text: str) -> list[str]:
    return [f"    {line}".rstrip() for line in text.rstrip("\n").split("\n")]


def _marked(text: str) -> list[str]:
    """The lines with marks below what is meant, as findings are shown."""
    from hmic.cli import pages
    from hmic.diagnostics import MARK, below

    out: list[str] = []
    for line in text.rstrip("\n").split("\n"):
        pieces = line.split(pages.MARK)
        out.append(f"    {''.join(pieces)}".rstrip())
        if len(pieces) > 1:
            out.append(f"    {below(pieces[0])}{MARK * max(1, len(pieces[1]))}")
    return out
