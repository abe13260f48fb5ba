"""Everything that is wrong with a folder of definition files: forms, units, dialogs, vocabularies, texts."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from bot.bell.texts import BellTexts
from bot.handsfree.texts import HandsfreeTexts
from bot.page.texts import PageTexts
from bot.record.texts import RecordTexts
from bot.sheet.texts import SheetTexts
from bot.telegram.texts import ChatTexts
from bot.terminal.texts import TerminalTexts
from bot.voice.texts import VoiceTexts
from engine import library
from engine.data.forms import load_forms
from engine.data.languages import languages_of
from engine.data.texts import Texts
from engine.data.units import FILE, read_units, tried
from engine.dialog.reply.answer_texts import AnswerTexts
from engine.dialog.reply.system_texts import SystemTexts
from engine.entries.phrases import proofreading, unit_words
from engine.errors import DefinitionError

CATALOGUES: tuple[type[Texts[Any]], ...] = (
    SystemTexts,
    AnswerTexts,
    BellTexts,
    ChatTexts,
    HandsfreeTexts,
    PageTexts,
    RecordTexts,
    SheetTexts,
    TerminalTexts,
    VoiceTexts,
)


def problems(directory: Path) -> tuple[DefinitionError, ...]:
    """All that is wrong with a folder; a part that it does not have is taken from the package.

    Where the forms of a language or the table of units are wrong, nothing else is looked at: all stands on those.
    """
    if found := tuple(_forms(directory)):
        return found
    own_units = (directory / FILE).exists()
    if own_units and (found := unit_words.problems(directory)):
        return found
    with tried(read_units(directory)) if own_units else nullcontext():
        return (*library.problems(directory), *_vocabulary(directory), *text_problems(directory))


def _forms(directory: Path) -> Iterator[DefinitionError]:
    for language in languages_of(directory):
        try:
            load_forms(language, directory)
        except DefinitionError as error:
            yield error


def _vocabulary(directory: Path) -> tuple[DefinitionError, ...]:
    return proofreading.problems(directory) if languages_of(directory) else ()


def text_problems(directory: Path) -> Iterator[DefinitionError]:
    """What is wrong with the catalogues of texts; one is looked at where its file or the files beside it are there."""
    for catalogue in CATALOGUES:
        places = [directory / language / catalogue.file for language in languages_of(directory)]
        if any(place.exists() or place.parent.is_dir() for place in places):
            try:
                catalogue.load(directory)
            except DefinitionError as error:
                yield error
