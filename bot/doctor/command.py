"""``rowhand doctor``."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from bot.doctor.finding import FindingMark

WRONG = 5


def doctor(
    *,
    db: Annotated[Path | None, typer.Option(help="The record to look at; it is not changed.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One object.")] = False,
) -> None:
    """Look whether everything is ready for an evening, and say what to do where it is not."""
    from bot.doctor.examination import examine

    found = []
    for finding in examine(str(db) if db else None):
        found.append(finding)
        if not as_json:
            typer.echo(str(finding))
    count = sum(finding.mark is FindingMark.WRONG for finding in found)
    if as_json:
        typer.echo(json.dumps({"wrong": count, "findings": [asdict(one) for one in found]}, ensure_ascii=False))
    else:
        typer.echo("nothing is wrong" if not count else f"{count} wrong")
    if count:
        raise typer.Exit(WRONG)
