"""What reminders say, from their definition file."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import Literal, Self

from pydantic import model_validator

from engine.definitions import dialogs_directory, read_definition
from engine.dialog.text import Text, Words
from engine.messages import Language, Message

DAYS = 7


class Key(StrEnum):
    """Every text of the bell."""

    LOOK = "look"
    LOOK_AGAIN = "look_again"
    LOOK_ALARM = "look_alarm"
    MISSED = "missed"
    UNSEEN = "unseen"
    NO_ANSWER = "no_answer"
    NOT_SHOWN = "not_shown"
    ANSWERED = "answered"
    WHO_ON_PLANTER = "who_on_planter"
    WHO_NAME = "who_name"
    WHO_PLANTER = "who_planter"
    WHO_UNKNOWN = "who_unknown"
    CLOCK_FORWARD = "clock_forward"
    CLOCK_BACK = "clock_back"
    CLOCK_STOPPED = "clock_stopped"
    NEXT_LOOK = "next_look"
    NEXT_NOW = "next_now"
    AT = "at"
    OF_DAY = "of_day"
    ONE_OCLOCK = "one_oclock"
    OCLOCK = "oclock"
    SAID_SHARP = "said_sharp"
    SAID_FEW = "said_few"
    SAID_MINUTES = "said_minutes"
    ALL_GOOD = "all_good"
    ALL_GOOD_SAYS = "all_good_says"
    TEN_MORE = "ten_more"
    TEN_MORE_SAYS = "ten_more_says"


_CALL = frozenset({"dues", "unseen"})
_LATER = frozenset({"since", "unseen"})
_CLOCK = frozenset({"length", "now", "next"})
GIVEN: dict[Key, frozenset[str]] = {
    Key.LOOK: _CALL,
    Key.LOOK_AGAIN: _LATER,
    Key.LOOK_ALARM: _LATER | {"count"},
    Key.MISSED: _CALL,
    Key.UNSEEN: frozenset({"area"}),
    Key.NO_ANSWER: _LATER | {"who", "count"},
    Key.NOT_SHOWN: _LATER | {"who"},
    Key.ANSWERED: frozenset({"who", "time"}),
    Key.WHO_ON_PLANTER: frozenset({"name", "planter"}),
    Key.WHO_NAME: frozenset({"name"}),
    Key.WHO_PLANTER: frozenset({"planter"}),
    Key.CLOCK_FORWARD: _CLOCK | {"before"},
    Key.CLOCK_BACK: _CLOCK,
    Key.CLOCK_STOPPED: _CLOCK,
    Key.NEXT_LOOK: frozenset({"time"}),
    Key.AT: frozenset({"time"}),
    Key.OF_DAY: frozenset({"time", "day"}),
    Key.ONE_OCLOCK: frozenset({"clock"}),
    Key.OCLOCK: frozenset({"clock"}),
    Key.SAID_SHARP: frozenset({"hour"}),
    Key.SAID_FEW: frozenset({"hour", "minute"}),
    Key.SAID_MINUTES: frozenset({"hour", "minute"}),
}
"""The values that a text is given, none where it is not named here; a text may leave some out."""


class Texts(Message):
    """All texts by key, and the days of the week from Monday on."""

    format: Literal["1"]
    texts: dict[Key, Text]
    days: Words

    @model_validator(mode="after")
    def _all_there(self) -> Self:
        missing = [key for key in Key if key not in self.texts]
        if missing:
            raise ValueError(f"{missing[0]} is missing")
        for key, text in self.texts.items():
            if unknown := text.names - GIVEN.get(key, frozenset()):
                raise ValueError(f"{key} is not given {{{min(unknown)}}}")
        if (len(self.days.en), len(self.days.es)) != (DAYS, DAYS):
            raise ValueError("days are seven in each language")
        return self

    def say(self, key: Key, language: Language, **values: str) -> str:
        return self.texts[key].fill(language, values)


@lru_cache(maxsize=1)
def load_texts(directory: Path | None = None) -> Texts:
    """Raises DefinitionError where the file is wrong."""
    return read_definition((directory or dialogs_directory()) / "channels" / "bell.yaml").into(Texts)
