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
    HOW_MUCH = "how_much"
    RUN_OUT = "run_out"
    LAST_CATCH = "last_catch"
    SETTING = "setting"
    WHY = "why"
    VERDICT = "verdict"
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
