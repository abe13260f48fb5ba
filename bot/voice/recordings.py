"""A lesson read from recordings: a folder with a list of what is said in each."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from bot.settings import Settings
from bot.voice.lesson import lesson_grammar
from bot.wiring import tutor
from engine.database import open_database
from engine.errors import InputError
from speech import recognizer_choice
from speech.audio import decode
from speech.transcript import Transcript

LIST = "lesson.tsv"


def learned_from(settings: Settings, person: str | None, folder: Path) -> str:
    """Hear each recording of the list as a reading of the lesson."""
    language = settings.language
    teaching = tutor(settings, open_database(":memory:"), person)
    words = teaching.texts.read(language)
    listed = list(_listed(folder, words))
    recognizer = recognizer_choice.choose(language, settings.recognizer.value, settings.models)
    grammar = lesson_grammar(words)

    def heard(name: str) -> Transcript:
        return recognizer.transcribe(decode(folder / name), language, grammar)

    return teaching.read_all(language, ((said, heard(name)) for name, said in listed))


def _listed(folder: Path, words: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Files and what is said in each, from the list of a folder."""
    try:
        with (folder / LIST).open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines, delimiter="\t"))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"there is no {LIST} to read in {folder}") from error
    for row in rows:
        name, said = row.get("file"), row.get("text")
        if not name or not said:
            raise InputError(f"{folder / LIST}: each line needs file and text, separated by a tab")
        if said not in words:
            raise InputError(f"{folder / LIST}: {said[:60]!r} is not read in the lesson: {', '.join(words)}")
        yield name, said
    if not rows:
        raise InputError(f"{folder / LIST} names no recording")
