"""What reminders say, from their definition file."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from engine.data.definitions import PlacedError
from engine.data.texts import TextKey, Texts, Words

DAYS = 7


class ReminderKey(TextKey):
    """Every text of the bell."""

    LOOK = "look", "dues", "unseen"
    LOOK_AGAIN = "look_again", "since", "unseen"
    LOOK_ALARM = "look_alarm", "count", "since", "unseen"
    MISSED = "missed", "dues", "unseen"
    UNSEEN = "unseen", "area"
    RECORD = "record", "where", "day"
    RECORD_NO_ANSWER = "record_no_answer", "who", "where", "day"
    REENTRY = "reentry", "where", "time"
    REENTRY_RUNS = "reentry_runs", "where", "time"
    FIELD_OF_DAY = "field_of_day", "day"
    FIELD_BY = "field_by", "where", "who"
    NO_ANSWER = "no_answer", "who", "since", "count", "unseen"
    NOT_SHOWN = "not_shown", "who", "since", "unseen"
    ANSWERED = "answered", "who", "time"
    WHO_ON_PLANTER = "who_on_planter", "name", "planter"
    WHO_NAME = "who_name", "name"
    WHO_PLANTER = "who_planter", "planter"
    WHO_UNKNOWN = "who_unknown"
    CLOCK_FORWARD = "clock_forward", "length", "now", "before", "next"
    CLOCK_BACK = "clock_back", "length", "now", "next"
    CLOCK_STOPPED = "clock_stopped", "length", "now", "next"
    CLOCK_FORWARD_ALONE = "clock_forward_alone", "length", "now"
    CLOCK_BACK_ALONE = "clock_back_alone", "length", "now"
    CLOCK_STOPPED_ALONE = "clock_stopped_alone", "length", "now"
    KEPT_OUT_BY_CLOCK = "kept_out_by_clock", "where", "time"
    NEXT_LOOK = "next_look", "time"
    NEXT_NOW = "next_now"
    AT = "at", "time"
    OF_DAY = "of_day", "time", "day"
    ONE_OCLOCK = "one_oclock", "clock"
    OCLOCK = "oclock", "clock"
    SAID_SHARP = "said_sharp", "hour"
    SAID_FEW = "said_few", "hour", "minute"
    SAID_MINUTES = "said_minutes", "hour", "minute"
    ALL_GOOD = "all_good"
    ALL_GOOD_SAYS = "all_good_says"
    TEN_MORE = "ten_more"
    TEN_MORE_SAYS = "ten_more_says"


class BellTexts(Texts[ReminderKey]):
    """All texts by key, and the days of the week from Monday on."""

    file = "channels/bell.yaml"

    days: Words

    @model_validator(mode="after")
    def _seven_days(self) -> Self:
        if any(len(days) != DAYS for days in self.days.root.values()):
            raise PlacedError(("days",), "days are seven in each language", "write them from Monday on")
        return self
