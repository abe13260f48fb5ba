"""``python -m demo``: one evening with the recorded operator.

Exit codes as for ``rowhand``: 0 every row on target, 1 not so, 2 what was given cannot be used, 3 no ears, 130 stopped.
"""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Annotated

import typer
from rich.console import Console

from bot.cli import exit_code
from bot.settings import load_settings
from demo.pace import FAST, SPOKEN, Pace
from demo.screen import COLUMNS
from demo.script_lines import DemoPart
from demo.show import DemoShow, all_passed
from engine.errors import InputError, RowhandError
from engine.history.store.segments import Ending
from speech.errors import SpeechError


class Tongue(StrEnum):
    EN = "en"
    ES = "es"


class EarsOption(StrEnum):
    PANEL = "panel"
    AUTO = "auto"
    VOSK = "vosk"
    POCKETSPHINX = "pocketsphinx"


def demo(
    text: Annotated[bool, typer.Option("--text", help="Typed, without sound.")] = False,
    language: Annotated[Tongue, typer.Option(help="Spanish is typed: nobody has recorded it.")] = Tongue.EN,
    engine: Annotated[EarsOption, typer.Option(help="Which ears: panel are the two models that came along.")] = (
        EarsOption.PANEL
    ),
    fast: Annotated[bool, typer.Option("--fast", help="Without pauses; at a terminal Enter ends one.")] = False,
    part: Annotated[str, typer.Option(help="Show these parts alone, commas between them.")] = ",".join(DemoPart),
    into: Annotated[Path | None, typer.Option(help="The folder for record and pictures; a new one else.")] = None,
) -> None:
    """A recorded operator calibrates a planter by voice and plants by night; the foreman gets a summary."""
    parts = chosen(part)
    voice = not text and language is Tongue.EN
    console = Console(highlight=False, width=None if sys.stdout.isatty() else COLUMNS)
    folder = _folder(into)
    pace, zone = FAST if fast else SPOKEN if voice else Pace(), load_settings().time_zone
    show = DemoShow(console, folder, language.value, engine.value, voice, pace, zone, parts)
    kept = into is not None
    try:
        record = show.play()
        kept = kept or DemoPart.SUMMARY in parts
    finally:
        if not kept:
            rmtree(folder, ignore_errors=True)
    if record.ending is not Ending.FINISHED or not all_passed(record):
        raise typer.Exit(1)


def chosen(parts: str) -> frozenset[DemoPart]:
    """The parts that are named; InputError for one that there is not."""
    named = [one.strip() for one in parts.split(",")]
    if strange := [one for one in named if one not in set(DemoPart)]:
        raise InputError(f"the demo has no part {strange[0]!r}: name any of {', '.join(DemoPart)}")
    return frozenset(map(DemoPart, named))


def _folder(into: Path | None) -> Path:
    """Where the record of this evening is kept; InputError where it cannot be, or something lies there already."""
    if into is None:
        return Path(mkdtemp(prefix="rowhand-demo-"))
    try:
        into.mkdir(parents=True, exist_ok=True)
        if any(into.iterdir()):
            raise InputError(f"{into} is not empty: name a new folder")
    except OSError as error:
        raise InputError(f"{into} cannot be made: {error.strerror}") from error
    return into.resolve()


def main() -> None:
    """Run the demo; errors become one sentence and an exit code."""
    app = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
    app.command()(demo)
    try:
        app(standalone_mode=True)
    except KeyboardInterrupt:
        sys.exit(130)
    except (RowhandError, SpeechError) as error:
        typer.echo(str(error), err=True)
        sys.exit(exit_code(error))


if __name__ == "__main__":
    main()
