"""The page of all commands, made of the program's own help: ``python -m tests.docs.commands`` writes it.

What a command says of itself with ``--help`` is written down once, in the program; ``tests/docs/test_references.py``
compares the page with it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer
from typer.main import get_command

from bot import cli
from bot.calculator.formula import names

PAGE = Path(__file__).parents[2] / "bot" / "COMMANDS.md"
HEAD = """\
# Every command

Written by `python -m tests.docs.commands` from what the program says with `--help`; a test compares. `--help` itself is
taken by every command. What they are for stands in the [guide](GUIDE.md), in [running Rowhand](OPERATING.md) and in
[the laboratory](../tests/LABORATORY.md).
"""


def command_page() -> str:
    """The whole page."""
    top = get_command(cli.app)
    parts = [_part("rowhand", top)]
    parts += [_part(f"rowhand {name}", command) for name, command in _below("", top)]
    return "\n".join([HEAD, *parts, _exit_codes()])


def _below(way: str, group: Any) -> Iterator[tuple[str, Any]]:
    """Every command below a group, by the words that lead to it; the formulas of the catalogue are listed apart."""
    for name in sorted(getattr(group, "commands", {})):
        command = group.commands[name]
        yield f"{way}{name}", command
        yield from _below(f"{way}{name} ", command)


def _part(words: str, command: Any) -> str:
    context = typer.Context(command, info_name=words, parent=None)
    level = "##" if words.count(" ") < 2 else "###"
    usage = " ".join(command.collect_usage_pieces(context))
    lines = [f"{level} {words}", "", f"`{words} {usage}`", "", _sentences(command.help or ""), ""]
    below = [(name, _first(command, context, name)) for name in getattr(command, "commands", {})]
    lines += _table(("command", "what it does"), below)
    rows = [record for one in command.get_params(context) if (record := one.get_help_record(context))]
    lines += _table(("what is given", "meaning"), [row for row in rows if row[0] != "--help"])
    if words == "rowhand calc":
        lines += _table(("formula", "what it works out"), [(name, _first(command, context, name)) for name in names()])
    return "\n".join(lines)


def _first(command: Any, context: Any, name: str) -> str:
    """What a group says of one of its commands in its list."""
    one = command.get_command(context, name)
    return str(one.short_help or one.help)


def _sentences(text: str) -> str:
    return " ".join(re.sub(r"[\b\f]", "", text).split())


def _table(heads: tuple[str, str], rows: list[tuple[str, str]]) -> list[str]:
    if not rows:
        return []
    cells = [(f"`{first}`", _sentences(second)) for first, second in rows]
    return [
        f"| {heads[0]} | {heads[1]} |",
        "|---|---|",
        *(f"| {first.replace('|', chr(92) + '|')} | {second.replace('|', chr(92) + '|')} |" for first, second in cells),
        "",
    ]


def _exit_codes() -> str:
    """The codes that the program promises in its own words."""
    told = (cli.__doc__ or "").partition("Exit codes: ")[2].split()
    pairs = re.findall(r"(\d+) ([^\d]+?)(?:, (?=\d)|\.$)", " ".join(told))
    return "\n".join(["## Exit codes", "", *_table(("code", "meaning"), pairs)])


def main() -> None:
    PAGE.write_text(command_page(), encoding="utf-8")


if __name__ == "__main__":
    main()
