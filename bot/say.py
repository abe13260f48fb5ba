"""Say a text aloud: ``rowhand say TEXT`` speaks as replies are spoken, into a file or through the loudspeaker.

Exit codes: 2 for options that cannot be used, 3 without a voice or with one that does not speak, 5 where the sound can
neither be written nor played.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated

import soundfile
import typer
from pydantic import BaseModel

from bot.options import CHOICES, tongue
from bot.settings import Settings, VoiceChoice, load_settings
from engine.data.texts import Text
from engine.dialog.reply.answer_texts import AnswerTexts
from engine.dialog.reply.speech_text import aloud
from engine.dialog.reply.system_texts import SystemTexts
from engine.errors import InputError, WorldError
from engine.library import load_library
from engine.messages import Language
from speech.audio import AudioClip, encode_opus
from speech.errors import VoiceMissing
from speech.synthesis.phrase_cache import PhraseCache
from speech.synthesis.utterable import sentences

WAVE, OGG = ".wav", (".ogg", ".oga", ".opus")


class Unplayable(WorldError):
    """The sound could be made, and neither written nor played."""


def say(
    text: Annotated[str | None, typer.Argument(help="what to say, after -- where it begins with a dash")] = None,
    *,
    language: Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="language of the text")] = None,
    voice: Annotated[VoiceChoice | None, typer.Option(help="what speaks")] = None,
    out: Annotated[Path | None, typer.Option(help="file to write: .wav, or .ogg for a voice note")] = None,
    prompts: Annotated[bool, typer.Option("--prompts", help="make the questions of the dialogs ready instead")] = False,
) -> None:
    """Say a text the way replies are said, or make all fixed sentences of the dialogs ready to be said at once."""
    settings = load_settings(language=language, voice=voice.value if voice else None)
    suffix = out.suffix.lower() if out else WAVE
    if suffix != WAVE and suffix not in OGG:
        raise InputError(f"{out}: name the file .wav or .ogg")
    if (text is None) is not prompts:
        raise InputError("give either a text or --prompts")
    speaker = _speaker(settings)
    if text is None:
        made = speaker.warm(fixed_sentences(settings.language))
        typer.echo(f"{made} sentences made ready")
        return
    said = speaker.speak(aloud(text, settings.language))
    if not len(said.samples):
        raise InputError(f"{text!r} has nothing to say in it")
    if out is None:
        _play(said)
    else:
        _write(said, out)
        typer.echo(f"{out}: {said.duration_s:.1f} s, {speaker.name}")


def _speaker(settings: Settings) -> PhraseCache:
    from bot import wiring

    speaker = wiring.voice(settings, settings.language)
    if speaker is None:
        raise VoiceMissing(settings.language, settings.voice.value, _advice(settings))
    return speaker


def _advice(settings: Settings) -> str:
    if settings.voice is VoiceChoice.NONE:
        return "choose piper or espeak-ng to hear something"
    return f"install espeak-ng, or Piper with a voice in {settings.voices / settings.language}"


def _write(said: AudioClip, out: Path) -> None:
    try:
        if out.suffix.lower() == WAVE:
            soundfile.write(out, said.samples, said.sample_rate_hz, format="WAV", subtype="PCM_16")
        else:
            out.write_bytes(encode_opus(said))
    except (OSError, soundfile.LibsndfileError) as error:
        raise Unplayable(f"{out} cannot be written: {error}") from error


def _play(said: AudioClip) -> None:
    from bot.handsfree.sound import SoundMissing, portaudio

    try:
        module = portaudio()
    except SoundMissing as error:
        raise Unplayable(f"there is no loudspeaker to play it on: write it to a file with --out ({error})") from error
    try:
        module.play(said.samples, said.sample_rate_hz, blocking=True)
    except module.PortAudioError as error:
        raise Unplayable(f"the loudspeaker cannot be used, write to a file with --out ({error})") from error


def fixed_sentences(language: Language) -> tuple[str, ...]:
    """Every sentence of dialogs and house without a value in it, as it is said aloud; none that is only shown.

    Raises DefinitionError where a definition file is wrong.
    """
    texts = [*_texts(load_library().scripts), *SystemTexts.load().texts.values(), *AnswerTexts.load().texts.values()]
    found = (sentence for text in texts for sentence in sentences(text.of(language)))
    said = (aloud(sentence, language) for sentence in found if "{" not in sentence)
    return tuple(dict.fromkeys(one for one in said if sentences(one)))


def _texts(part: object) -> Iterator[Text]:
    """Every text inside, at any depth."""
    if isinstance(part, Text):
        yield part
        return
    part = dict(part) if isinstance(part, BaseModel) else part
    inside = part.values() if isinstance(part, Mapping) else part if isinstance(part, tuple | list) else ()
    for one in inside:
        yield from _texts(one)
