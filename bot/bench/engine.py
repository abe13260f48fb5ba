"""The engines that are measured, by name."""

from __future__ import annotations

from bot.settings import load_settings
from speech import recognizer_choice
from speech.recognizer import Recognizer
from speech.vosk import VoskRecognizer

POLICY, VOSK, SECOND, POCKETSPHINX = "policy", "vosk", "vosk-second", "pocketsphinx"
ENGINES = (POLICY, VOSK, SECOND, POCKETSPHINX)
DEFAULT = (POLICY, VOSK, POCKETSPHINX)


def engine(name: str, language: str = "en") -> Recognizer:
    """``policy`` is what the product uses; the others are one model, or one program, alone."""
    match name:
        case "policy":
            return recognizer_choice.choose(language, models=load_settings().models)
        case "vosk":
            return VoskRecognizer(recognizer_choice.SHIPPED / language, language)
        case "vosk-second":
            return VoskRecognizer(recognizer_choice.SHIPPED / f"{language}-second", language)
        case _:
            return recognizer_choice.choose(language, "pocketsphinx")
