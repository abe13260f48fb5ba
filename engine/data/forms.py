"""How a language writes and says what is the same thing in all of them, from ``dialogs/<language>/forms.yaml``."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from engine.data.definitions import dialogs_directory, read_definition
from engine.data.gathering import languages_here
from engine.data.languages import LANGUAGES, Language
from engine.data.units import System
from engine.frozen_model import FrozenModel

FILE = "forms.yaml"
Word = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
HALF_DAY = 12


class AnswerButtons(FrozenModel):
    """What stands on the buttons of a question; pressing one says it."""

    yes: Word
    no: Word


class ClockHours(FrozenModel):
    """How many hours a clock counts, for people used to each system of units."""

    us: Literal["12", "24"]
    metric: Literal["12", "24"]


class Clock(FrozenModel):
    """Times of day. ``sharp`` is said at a full hour, ``below_ten`` before minutes under ten; ``half_days`` are written
    behind the time where hours are counted to twelve. ``endings`` change how the number of an hour ends. ``articles``
    stand before a time inside a sentence: that of one o'clock, and that of all other hours."""

    hours: ClockHours
    half_days: Annotated[tuple[Word, ...], Field(min_length=2, max_length=2)] = ("AM", "PM")
    sharp: Word
    below_ten: Word
    endings: dict[str, str] = {}
    articles: Annotated[tuple[Word, ...], Field(min_length=2, max_length=2)] | None = None

    def counts_twelve(self, system: System) -> bool:
        return int(self.hours.us if system is System.US else self.hours.metric) == HALF_DAY

    def hour(self, hour: int, system: System) -> int:
        """An hour of the day as the clock counts it."""
        return hour % HALF_DAY or HALF_DAY if self.counts_twelve(system) else hour

    def shown(self, hour: int, minute: int, system: System) -> str:
        """ "1:05 AM" or "1:05" """
        half = f" {self.half_days[hour >= HALF_DAY]}" if self.counts_twelve(system) else ""
        return f"{self.hour(hour, system)}:{minute:02d}{half}"

    def in_sentence(self, hour: int, minute: int, system: System) -> str:
        """The same with its article, where the language has one: "la 1:05" """
        shown = self.shown(hour, minute, system)
        return f"{self.articles[self.hour(hour, system) != 1]} {shown}" if self.articles else shown

    def inflected(self, hour: str) -> str:
        """The number of an hour in words as it is said of the clock."""
        for ending, other in self.endings.items():
            if hour.endswith(ending):
                return hour.removesuffix(ending) + other
        return hour


class Speech(FrozenModel):
    """What is needed to hear and to speak: the ``voice`` of espeak-ng, the ``numbers`` of which a model must know some,
    and a word to try a voice with."""

    voice: Word
    numbers: Annotated[tuple[Word, ...], Field(min_length=5)]
    trial: Word


class Forms(FrozenModel):
    """The forms of one language.

    ``name`` is what it is called in English, ``own_name`` what it calls itself. ``called`` is typed to go on in it,
    while any other is spoken. ``through`` joins the ends of a range that is said. ``close`` are units written close to
    their number. ``run_on`` are endings that run on to a number word, with the word that each stands for. ``date`` is
    how a time of day is written with its date, ``day`` a date with its year, as ``strftime`` has it.
    """

    format: Literal["1"]
    name: Word
    own_name: Word
    called: Annotated[tuple[Word, ...], Field(min_length=1)]
    answers: AnswerButtons
    order: Annotated[tuple[Word, ...], Field(min_length=4)]
    through: Word
    close: tuple[str, ...] = ()
    run_on: dict[str, Word] = {}
    date: Annotated[str, StringConstraints(pattern=r"^([^%{}]|%[bdmY])*\{time\}([^%{}]|%[bdmY])*$")]
    day: Annotated[str, StringConstraints(pattern=r"^([^%{}]|%[bdmY])+$")]
    clock: Clock
    speech: Speech


@lru_cache(maxsize=16)
def load_forms(language: Language, directory: Path | None = None) -> Forms:
    """The forms of a language; DefinitionError says what in its file is wrong."""
    place = directory or dialogs_directory()
    return read_definition(place / language / FILE, f"{language}/{FILE}").into(Forms)


def forms_of(directory: Path) -> dict[str, Forms]:
    """The forms of every language of a folder of dialogs."""
    return {language: load_forms(language, directory) for language in languages_here(directory)}


def number_words() -> dict[str, tuple[str, ...]]:
    """For every language the numbers of which a speech model must know some."""
    return {language: load_forms(language).speech.numbers for language in LANGUAGES}
