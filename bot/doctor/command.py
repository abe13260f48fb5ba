"""``rowhand doctor``: everything that it looks at, one after another."""

from __future__ import annotations

import json
import stat
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from bot.definition_check import problems
from bot.doctor import record, wall_clock
from bot.doctor.finding import Finding, FindingMark, note, ok, wrong
from bot.extras import Extra, install, is_installed
from bot.settings import Settings, load_settings, settings_file
from bot.wiring import rules
from engine.data.definitions import dialogs_directory
from engine.errors import DefinitionError
from engine.messages import LANGUAGES

WRONG = 5
SECRETS = {"telegram_token", "webhook_secret"}


def doctor(
    *,
    db: Annotated[Path | None, typer.Option(help="The record to look at; it is not changed.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One object.")] = False,
) -> None:
    """Look whether everything is ready for an evening, and say what to do where it is not."""
    found = []
    for finding in examine(db):
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


def examine(database: Path | str | None = None) -> Iterator[Finding]:
    """One finding after another; without settings that can be read there is only one."""
    watch = wall_clock.ClockWatch()
    try:
        settings = load_settings(database=database)
        rules(settings)
    except DefinitionError as error:
        yield wrong("settings", f"{error.file}: {error.place}: {error.wrong}", error.mend)
        return
    for look in _looks(settings, watch):
        yield from _guarded(look)


def _looks(settings: Settings, watch: wall_clock.ClockWatch) -> Iterator[Callable[[], Iterable[Finding]]]:
    yield _file
    yield _dialogs
    yield lambda: record.examine(settings.database)
    yield lambda: record.copies(settings, datetime.now(settings.zone).date())
    yield lambda: [wall_clock.zone(settings, datetime.now(UTC))]
    yield from _speech(settings)
    yield lambda: _chat(settings)
    yield lambda: wall_clock.examine(datetime.now(UTC), record.times(settings.database), watch)


def _speech(settings: Settings) -> Iterator[Callable[[], Iterable[Finding]]]:
    if not is_installed(Extra.SPEECH):
        yield lambda: [note("speech", "typed only, what hears and speaks is not installed", install(Extra.SPEECH))]
        return
    from bot.doctor import recognizers

    for language in LANGUAGES:
        yield lambda language=language: [recognizers.hears(settings, language)]  # type: ignore[misc]
        yield lambda language=language: [recognizers.speaks(settings, language)]  # type: ignore[misc]
    yield recognizers.devices


def _chat(settings: Settings) -> Iterable[Finding]:
    if not is_installed(Extra.CHAT):
        mark = note if settings.telegram_token is None else wrong
        return [mark("chat", "what it needs is not installed", install(Extra.CHAT))]
    from bot.doctor import chat

    return chat.examine(settings)


def _guarded(look: Callable[[], Iterable[Finding]]) -> Iterator[Finding]:
    """What breaks the doctor is a finding too; of its words, which may hold a secret, nothing is told."""
    try:
        yield from look()
    except Exception as error:
        yield wrong("doctor", f"a look failed: {type(error).__name__}", "report this with the line before it")


def _file() -> Iterator[Finding]:
    place = settings_file()
    if not place.is_file():
        yield ok("settings", f"from the environment alone, {place} is not there")
        return
    held = SECRETS & tomllib.loads(place.read_text(encoding="utf-8")).keys()
    if held and place.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        yield note("settings", f"{place} holds a secret that others on this computer can read", f"chmod 600 {place}")
    else:
        yield ok("settings", f"{place} and the environment")


def _dialogs() -> Iterator[Finding]:
    place = dialogs_directory()
    if found := problems(place):
        yield wrong("dialogs", f"{len(found)} problems in {place}", "rowhand dialogs check")
    else:
        yield ok("dialogs", f"{len(list(place.rglob('*.yaml')))} files")
