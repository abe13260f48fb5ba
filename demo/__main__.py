"""``python -m demo``: one evening with the recorded operator.

Exit codes as for ``rowhand``: 0 every row on target, 1 not so, 2 what was given cannot be used, 3 no ears, 130 stopped.
"""

from __future__ import annotations

import sys
import time
from enum import StrEnum
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated

import typer
from rich.console import Console

from bot.cli import exit_code
from demo.evening import load
from demo.keeper import Keeper
from demo.letters import Orders
from demo.play import DemoOperator
from demo.screen import DemoScreen
from demo.wording import wording
from demo.worker import CONVERSATION
from engine.database import open_database
from engine.errors import RowhandError
from engine.history.records import Calibration, calibrations
from engine.history.store.journal import Journal
from engine.history.store.segments import Ending
from engine.messages import Language
from speech.errors import SpeechError
from speech.recognizer_choice import Preference

PAUSE_S = 0.25
PASSED = {"on_target", "closest_notch"}


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
    fast: Annotated[bool, typer.Option("--fast", help="Without pauses.")] = False,
) -> None:
    """A recorded operator calibrates an eight-row planter by voice until every row is on target."""
    voice = not text and language is Tongue.EN
    console = Console(highlight=False, width=None if sys.stdout.isatty() else 110)
    with TemporaryDirectory(prefix="rowhand-demo-") as folder:
        record = play(console, Path(folder) / "record.db", language.value, engine.value, voice, 0 if fast else PAUSE_S)
    if record.ending is not Ending.FINISHED or not all_passed(record):
        raise typer.Exit(1)


def play(
    console: Console, record: Path, language: Language, ears: Preference, voice: bool, pause_s: float
) -> Calibration:
    """Play the evening onto a record and give what the record holds of it."""
    started = time.monotonic()
    words = wording(language)
    screen = DemoScreen(console, words)
    screen.opening(words.spoken if voice else words.typed)
    with Keeper(Orders(record=str(record), language=language, ears=ears)) as keeper:
        for event in DemoOperator(keeper, language, voice).play(load(), lambda: time.sleep(pause_s)):
            screen.show(event)
    kept = calibrations(Journal(open_database(record)).turns(CONVERSATION))[-1]
    screen.summary(kept, time.monotonic() - started)
    return kept


def all_passed(record: Calibration) -> bool:
    verdicts = record.runs[-1].rows.get("verdict", {})
    return len(verdicts) == len(record.rows) and all(verdict in PASSED for verdict in verdicts.values())


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
