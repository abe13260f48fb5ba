"""What hears and what speaks each language, tried out; and the sound devices."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from bot import wiring
from bot.doctor.finding import Finding, note, ok, wrong
from bot.handsfree.sound import Kind, Sound, SoundMissing, portaudio
from bot.settings import RecognizerChoice, Settings, VoiceChoice
from engine.data.forms import load_forms
from engine.messages import Language
from speech import recognizer_choice
from speech.audio import SAMPLE_RATE_HZ, AudioClip
from speech.errors import ModelMissing, SpeechError


@dataclass(frozen=True)
class RecognizerTrial:
    """How a recogniser did: its name, or why there is none; ``is_missing`` where no model is there."""

    name: str = ""
    why: str = ""
    is_missing: bool = False


def hears(settings: Settings, language: Language) -> Finding:
    """Load the recogniser in a process of its own, which a wrong model can end, and let it hear a second of hiss."""
    subject = f"hearing {load_forms(language).name}"
    with ProcessPoolExecutor(1, get_context("spawn")) as pool:
        try:
            tried = pool.submit(_try, settings.recognizer, language, settings.models).result()
        except BrokenProcessPool:
            tried = RecognizerTrial(why="the model ends the program that loads it")
    if tried.name:
        return ok(subject, f"{tried.name} loads and listens")
    if tried.is_missing and settings.recognizer is RecognizerChoice.AUTO:
        return note(subject, "typed only, no model is there", f"rowhand models install SOURCE --language {language}")
    return wrong(subject, tried.why, f"rowhand models install SOURCE --language {language}, or set ROWHAND_RECOGNIZER")


def _try(choice: RecognizerChoice, language: Language, models: Path) -> RecognizerTrial:
    hiss = np.random.default_rng(1).normal(0, 0.001, SAMPLE_RATE_HZ).astype(np.float32)
    try:
        recognizer = recognizer_choice.choose(language, choice.value, models)
        answers = load_forms(language).answers
        said = f"{answers.yes} | {answers.no}".lower()
        grammar = f"#JSGF V1.0;\ngrammar doctor;\npublic <said> = {said};\n"
        recognizer.transcribe(AudioClip(hiss), language, grammar)
    except ModelMissing as error:
        return RecognizerTrial(why=str(error), is_missing=True)
    except SpeechError as error:
        return RecognizerTrial(why=str(error))
    return RecognizerTrial(recognizer.name)


def speaks(settings: Settings, language: Language) -> Finding:
    """Make one word, not from what was said before."""
    subject = f"speaking {load_forms(language).name}"
    voice = wiring.voice(settings, language)
    if settings.voice is VoiceChoice.NONE:
        return note(subject, "turned off by ROWHAND_VOICE")
    if voice is None and settings.voice is VoiceChoice.AUTO:
        return note(subject, "nothing speaks", "install espeak-ng, or a Piper voice")
    if voice is None:
        return wrong(subject, f"{settings.voice} is not there", "install it, or set ROWHAND_VOICE to auto")
    try:
        spoken = voice.voice.speak(load_forms(language).speech.trial)
    except SpeechError as error:
        return wrong(subject, str(error), "install it anew, or set ROWHAND_VOICE to another one")
    seconds = len(spoken.samples) / spoken.sample_rate_hz
    return (
        ok(subject, f"{voice.name} speaks, {seconds:.1f} s of sound")
        if seconds
        else wrong(subject, f"{voice.name} is silent", "set ROWHAND_VOICE to another one")
    )


def devices() -> Iterator[Finding]:
    """Microphone and loudspeaker, which only hands-free needs."""
    try:
        sound = Sound(portaudio())
    except SoundMissing as error:
        yield note("sound", "hands-free cannot be used here, chat and typing can", str(error))
        return
    for kind in Kind:
        device = sound.default(kind)
        if device:
            yield ok("sound", f"{kind.told} {device.name}")
        else:
            yield note("sound", f"no {kind.told} was found", "plug one in for hands-free; chat and typing need none")
