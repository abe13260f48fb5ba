"""``rowhand voice``: read a short lesson once, see what came of it, or forget it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from bot.extras import Extra, need
from bot.options import CHOICES, tongue
from bot.settings import load_settings
from bot.voice.profiles import Profiles
from bot.voice.texts import LessonKey, VoiceTexts
from engine.data.forms import load_forms
from engine.data.languages import LANGUAGES
from engine.messages import Language
from engine.voice_profile import VoiceProfile

app = typer.Typer(
    name="voice",
    help="What one voice is heard for: learn it once, see it, forget it.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
STOPPED_EXIT = 130

Person = Annotated[str | None, typer.Option("--person", help="whose voice, where it is not ROWHAND_OPERATOR")]
Record = Annotated[Path | None, typer.Option("--db", help="the record beside which it is kept")]
Tongue = Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="language of the lesson")]


@app.command("learn")
def learn_command(
    person: Person = None,
    language: Tongue = None,
    db: Record = None,
    recordings: Annotated[
        Path | None, typer.Option(help="folder of recordings with lesson.tsv instead of a microphone", file_okay=False)
    ] = None,
    microphone: Annotated[
        str | None, typer.Option("--input", help="microphone: its number, or part of its name")
    ] = None,
    loudspeaker: Annotated[str | None, typer.Option("--output", help="loudspeaker, named the same way")] = None,
) -> None:
    """Read some twenty words, once: what is mixed up is asked from then on, never kept."""
    settings = load_settings(database=db, language=language)
    need(Extra.SPEECH if recordings else Extra.SOUND)
    if recordings is not None:
        from bot.voice.recordings import learned_from

        typer.echo(learned_from(settings, person, recordings))
        return
    from bot.handsfree import command
    from bot.handsfree.sound import Kind

    wanted = {Kind.INPUT: microphone, Kind.OUTPUT: loudspeaker}
    told = command.run(settings, settings.language, wanted, person, lesson=True)
    if told is None:
        raise typer.Exit(STOPPED_EXIT)
    typer.echo(told)


@app.command("show")
def show_command(
    person: Person = None,
    language: Tongue = None,
    db: Record = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object a profile")] = False,
) -> None:
    """Show what is kept of a voice, of all voices where none is named."""
    settings = load_settings(database=db, language=language)
    shelf = Profiles(settings.voice_profiles)
    named = (shelf.of(person, one) for one in ((language,) if language else LANGUAGES)) if person else iter(shelf.all())
    found = [one for one in named if one.pairs]
    if as_json:
        for one in found:
            typer.echo(json.dumps(one.model_dump(mode="json"), ensure_ascii=False))
        return
    typer.echo("\n".join(_shown(found, settings.language)))


@app.command("forget")
def forget_command(person: Person = None, language: Tongue = None, db: Record = None) -> None:
    """Remove all that is kept of a voice, in one language or in all."""
    settings = load_settings(database=db)
    count = Profiles(settings.voice_profiles).forget(person or settings.operator, language)
    texts = VoiceTexts.load()
    spoken = language or settings.language
    typer.echo(
        texts.say(LessonKey.FORGOTTEN, spoken, count=str(count)) if count else texts.say(LessonKey.NO_PROFILE, spoken)
    )


def _shown(found: list[VoiceProfile], language: Language) -> Iterator[str]:
    texts = VoiceTexts.load()
    if not found:
        yield texts.say(LessonKey.NO_PROFILE, language)
    for one in found:
        yield texts.say(LessonKey.PROFILE, language, person=one.person, tongue=load_forms(one.language).name)
        for pair in sorted(one.pairs, key=lambda pair: -pair.count):
            said, heard, count = pair.said, pair.heard, str(pair.count)
            if pair.is_asked:
                yield f"  {texts.say(LessonKey.LINE, language, said=said, heard=heard, count=count)}"
            else:
                yield f"  {texts.say(LessonKey.LINE_ONCE, language, said=said, heard=heard, count=count)}"
