"""The command line: ``rowhand``.

Exit codes: 0 done, 2 what was given cannot be used, 3 a recording could not be heard or a text not be said,
4 a dialog or settings file is wrong, 5 the world failed (disk, database, network) or what is needed is not installed,
130 stopped by hand.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from bot.settings import Settings
    from engine.database import Database

from bot.extras import Extra, bringing, need, sentence
from bot.late import CommandPanel, LatePlace, late
from bot.options import BeginOption, RecordOption
from engine.crew.roles import PersonRole
from engine.errors import DefinitionError, InputError, RowhandError, WorldError
from speech.errors import FetchFailed, ModelRefused, ShelfFailed, SpeechError

PLACES = {
    "calc": LatePlace(
        "bot.calculator.calc:app",
        "The calculations alone. Those of the catalogue take KEY=VALUE: rowhand calc NAME --help tells which.",
        CommandPanel.JOB,
    ),
    "hear": LatePlace(
        "bot.hear:hear",
        "Hear recordings of catches: the words, the entries, and whether to keep, ask, or say it again.",
        CommandPanel.JOB,
        Extra.SPEECH,
    ),
    "page": LatePlace(
        "bot.page.command:app",
        "A page for phones within reach of this computer: the same conversation, without internet.",
        CommandPanel.JOB,
        Extra.PAGE,
    ),
    "telegram": LatePlace(
        "bot.telegram.command:telegram",
        "Answer in a chat: text and voice notes, with the bot token in ROWHAND_TELEGRAM_TOKEN.",
        CommandPanel.JOB,
        Extra.CHAT,
    ),
    "worker": LatePlace(
        "bot.telegram.command:worker",
        "Work on what comes into a chat on a database server, beside rowhand telegram: any number, on any computers.",
        CommandPanel.JOB,
        Extra.CHAT,
    ),
    "record": LatePlace(
        "bot.record.command:app",
        "Show the record in words or as tables, keep copies of it, move it.",
        CommandPanel.RECORD,
    ),
    "doctor": LatePlace(
        "bot.doctor.command:doctor",
        "Look whether everything is ready for an evening, and say what to do where it is not.",
        CommandPanel.CARE,
    ),
    "models": LatePlace(
        "bot.models:app",
        "The speech models: which are there, install one, choose one.",
        CommandPanel.CARE,
        Extra.SPEECH,
    ),
    "say": LatePlace(
        "bot.say:say",
        "Say a text the way replies are said, or make all fixed sentences of the dialogs ready to be said at once.",
        CommandPanel.CARE,
        Extra.SPEECH,
    ),
    "voice": LatePlace(
        "bot.voice.command:app",
        "What one voice is heard for: learn it once, see it, forget it.",
        CommandPanel.CARE,
    ),
    "bench": LatePlace(
        "bot.bench.command:app", "Measure what Rowhand can do.", CommandPanel.LABORATORY, laboratory=True
    ),
    "shift": LatePlace(
        "bot.bench.shift:app",
        "Nights on a simulated planter: what is in doubt until somebody notices a row that stopped.",
        CommandPanel.LABORATORY,
        laboratory=True,
    ),
    "trial": LatePlace(
        "bot.bench.trial:trial",
        "Simulated planters: test runs until done and rows wrongly passed, by the advisor and by the handbook rule.",
        CommandPanel.LABORATORY,
        laboratory=True,
    ),
}

app = typer.Typer(
    name="rowhand",
    cls=late(PLACES, tuple(CommandPanel)),
    help="Calibrates the granular applicators of a row-crop planter by voice or message.",
    invoke_without_command=True,
    pretty_exceptions_enable=False,
)
dialogs = typer.Typer(help="Look after dialog files.", no_args_is_help=True)
app.add_typer(dialogs, name="dialogs", rich_help_panel=CommandPanel.CARE)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"rowhand {version('rowhand')}")
        raise typer.Exit


@app.callback()
def begin(
    context: typer.Context,
    version: Annotated[  # noqa: ARG001
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Say where to begin where no command is named."""
    if context.invoked_subcommand is None:
        typer.echo("Begin with: rowhand talk\nAll commands: rowhand --help")


@app.command(rich_help_panel=CommandPanel.JOB)
def talk(
    db: RecordOption = None,
    language: BeginOption = None,
    json: Annotated[bool, typer.Option("--json", help="One object a line.")] = False,
    session: Annotated[str | None, typer.Option(help="Name of this input: the same one is never taken twice.")] = None,
    ring: Annotated[bool | None, typer.Option(help="Ring reminders meanwhile; usual at a terminal alone.")] = None,
) -> None:
    """Talk on standard input, one utterance a line."""
    with _uncollected():
        from bot import terminal
        from bot.console import Talk, run
        from bot.record.place import file_of
        from bot.settings import load_settings
        from bot.wiring import assistant, calls, open_record

        settings = load_settings(database=db, language=language)
        record = open_record(settings)
        mind = assistant(settings, record, languages=())
        talking = Talk(mind, session)
        if language is not None:
            talking.speak(language)
        rings = sys.stdin.isatty() and not json if ring is None else ring
        due = calls(settings, mind, record) if rings else None
    if json or not terminal.fits():
        run(talking, json, sys.stdin, due)
        return
    from bot.terminal.channel import run as sit

    sit(talking, settings.time_zone, file_of(settings.database), due)


@app.command(rich_help_panel=CommandPanel.JOB)
def handsfree(
    *,
    db: RecordOption = None,
    language: BeginOption = None,
    microphone: Annotated[
        str | None, typer.Option("--input", help="Microphone: its number, or part of its name.")
    ] = None,
    loudspeaker: Annotated[str | None, typer.Option("--output", help="Loudspeaker, named the same way.")] = None,
    person: Annotated[str | None, typer.Option(help="Who speaks, where it is not ROWHAND_OPERATOR.")] = None,
    list_devices: Annotated[bool, typer.Option("--list-devices", help="Show the devices and stop.")] = False,
) -> None:
    """Talk through microphone and loudspeaker, until stopped with Ctrl-C."""
    need(Extra.SOUND)
    from bot.handsfree import command
    from bot.handsfree.sound import Kind
    from bot.settings import load_settings

    if list_devices:
        typer.echo("\n".join(command.devices()))
        return
    settings = load_settings(database=db, language=language)
    devices = {Kind.INPUT: microphone, Kind.OUTPUT: loudspeaker}
    command.run(settings, settings.language if language else None, devices, person)


@app.command(rich_help_panel=CommandPanel.CARE)
def invite(
    farm: Annotated[str, typer.Argument(help="The farm to join; the first invitation makes it.")],
    role: Annotated[PersonRole, typer.Option(help="What the person will be.")] = PersonRole.OPERATOR,
    days: Annotated[float, typer.Option(min=0.01, max=30, help="How long the invitation can be used.")] = 2.0,
    db: RecordOption = None,
) -> None:
    """Make an invitation that lets one person into the chat, once."""
    from bot.settings import load_settings
    from engine.crew.people import People
    from engine.database import open_database

    settings = load_settings(database=db)
    has_bot = settings.telegram_token is not None
    if has_bot:
        need(Extra.CHAT)
    database = open_database(settings.database)
    code = People(database).invite(farm, role, datetime.now(UTC) + timedelta(days=days))
    link = _link(settings, database, code) if has_bot else f"https://t.me/YOUR_BOT?start={code}"
    if link:
        typer.echo(f"Send this to the person: {link}")
    if not has_bot:
        typer.echo("YOUR_BOT stands for the name of your bot: no token is set.")
    typer.echo(f"{'or let' if link else 'Let'} them write to the bot: /start {code}")


def _link(settings: Settings, database: Database, code: str) -> str | None:
    from bot.telegram.updates.address import link_of

    link = link_of(settings, database, code)
    if link is None:
        typer.echo("The address of the bot cannot be asked for now.", err=True)
    return link


@dialogs.command("check")
def dialogs_check(
    directory: Annotated[Path | None, typer.Argument(help="Folder of dialog files.")] = None,
) -> None:
    """Check every dialog, text and vocabulary file; each problem on a line with file, place and mend."""
    from bot.definition_check import problems
    from engine.data.definitions import dialogs_directory

    place = directory or dialogs_directory()
    for problem in (found := problems(place)):
        typer.echo(str(problem), err=True)
    if found:
        raise typer.Exit(4)
    count = sum(1 for _ in place.rglob("*.yaml"))
    typer.echo(f"{count} files, no problem found")


@contextmanager
def _uncollected() -> Iterator[None]:
    """No search for garbage meanwhile: a start makes little of it, and each search goes through all that was made."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()


def main() -> None:
    """Run the command line; errors become one sentence and an exit code."""
    try:
        app()
    except KeyboardInterrupt:
        sys.exit(130)
    except (RowhandError, SpeechError) as error:
        typer.echo(str(error), err=True)
        sys.exit(exit_code(error))
    except ModuleNotFoundError as error:
        if (extra := bringing(error)) is None:
            raise
        typer.echo(sentence(extra), err=True)
        sys.exit(5)


def exit_code(error: RowhandError | SpeechError) -> int:
    match error:
        case InputError() | ModelRefused():
            return 2
        case FetchFailed() | ShelfFailed():
            return 5
        case SpeechError():
            return 3
        case DefinitionError():
            return 4
        case WorldError():
            return 5
        case _:
            return 1


if __name__ == "__main__":
    main()
