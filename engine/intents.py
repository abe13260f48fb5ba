"""What an operator can mean, as closed sets: commands, questions, and reports of a shift."""

from __future__ import annotations

from enum import StrEnum


class Command(StrEnum):
    """What an operator can do at any moment in any dialog."""

    REPEAT = "repeat"
    BACK = "back"
    SKIP = "skip"
    SCRATCH = "scratch"
    STATUS = "status"
    HELP = "help"
    CANCEL = "cancel"
    RESUME = "resume"
    DONE = "done"
    STOP_HERE = "stop_here"
    US_UNITS = "us_units"
    METRIC_UNITS = "metric_units"
    LANGUAGE = "language"


class Topic(StrEnum):
    """Questions that are always answered."""

    TARGET = "target"
    TOLERANCE = "tolerance"
    SPEED_TO_HOLD = "speed_to_hold"
    HOW_MUCH = "how_much"
    RUN_OUT = "run_out"
    LAST_CATCH = "last_catch"
    SETTING = "setting"
    WHY = "why"
    VERDICT = "verdict"
    HISTORY = "history"
    TEST_DONE = "test_done"
    STOPPED_ROWS = "stopped_rows"
    LEFT_TO_DO = "left_to_do"
    WHAT_NEXT = "what_next"
    MY_VALUES = "my_values"
    ACRES_DONE = "acres_done"
    ACRES_LEFT = "acres_left"
    NEXT_LOOK = "next_look"
    REGISTER = "register"
    STOCK = "stock"
    SUMMARY = "summary"
    CAUTIONS = "cautions"
    RECORD = "record"
    REENTRY = "reentry"
    EMERGENCY = "emergency"


class Report(StrEnum):
    """What can be told during a shift, in any order."""

    GOOD = "good"
    HIGH = "high"
    STOPPED = "stopped"
    RUNS = "runs"
    LEFT = "left"
    LEVEL = "level"
    REFILLED = "refilled"
    CAUGHT = "caught"
    PLANTED = "planted"
    REMAINING = "remaining"
    PAUSED = "paused"
    WENT_ON = "went_on"
    HANDED_OVER = "handed_over"
    ENDED = "ended"
    SPEED = "speed"
    RATE = "rate"
    PRODUCT = "product"
    LOT = "lot"
    FIELD = "field"
    SNOOZED = "snoozed"
    DROPPING = "dropping"
    LOOKS = "looks"
    DECIDED = "decided"
    CLOCK = "clock"
