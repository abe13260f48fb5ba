"""The sentences that Rowhand says in the same words every time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from pydantic import BaseModel

from engine.data.texts import Text
from engine.dialog.reply.answer_texts import AnswerTexts
from engine.dialog.reply.speech_text import aloud
from engine.dialog.reply.system_texts import SystemTexts
from engine.library import load_library
from engine.messages import Language
from speech.synthesis.utterable import sentences


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
    elif isinstance(part, BaseModel):
        yield from _all_texts(value for _, value in part)
    elif isinstance(part, Mapping):
        yield from _all_texts(part.values())
    elif isinstance(part, tuple | list):
        yield from _all_texts(part)


def _all_texts(parts: Iterable[object]) -> Iterator[Text]:
    for part in parts:
        yield from _texts(part)
