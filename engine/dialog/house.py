"""What Rowhand itself says in every dialog: texts and units from ``dialogs/house.yaml``, complete or refused."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Literal, Self

from pydantic import model_validator

from engine.definitions import dialogs_directory, read_definition
from engine.dialog.text import Text
from engine.messages import Message
from engine.quantities import UNITS


class Key(StrEnum):
    """Every text of the house."""

    WELCOME = "welcome"
    NOTHING_OPEN = "nothing_open"
    RESUMED = "resumed"
    KEPT = "kept"
    KEPT_ROW = "kept_row"
    KEPT_ROW_NAMED = "kept_row_named"
    KEPT_ROWS = "kept_rows"
    CORRECTED_ROWS = "corrected_rows"
    CORRECTED = "corrected"
    CORRECTED_RUN = "corrected_run"
    UNCHANGED = "unchanged"
    SKIPPED = "skipped"
    WITHDRAWN = "withdrawn"
    WITHDRAWN_TO = "withdrawn_to"
    WITHDRAWN_ROWS_TO = "withdrawn_rows_to"
    WITHDRAWN_SKIP = "withdrawn_skip"
    WITHDRAWN_REPORT = "withdrawn_report"
    REOPENED = "reopened"
    NOTHING_TO_WITHDRAW = "nothing_to_withdraw"
    NOT_GIVEN = "not_given"
    DROPPED = "dropped"
    NEXT_ROW = "next_row"
    ROW_PLACE = "row_place"
    ROW_PLACE_NAMED = "row_place_named"
    ROWS_PLACE = "rows_place"
    ROWS_PLACE_NAMED = "rows_place_named"
    TO = "to"
    AND = "and"
    SURE = "sure"
    SURE_UNUSUAL = "sure_unusual"
    WHICH = "which"
    HIGH = "high"
    LOW = "low"
    EVEN = "even"
    DIAL_SCALE = "dial_scale"
    OR = "or"
    REPLACE = "replace"
    REPLACE_ROWS = "replace_rows"
    RUN_READING = "run_reading"
    CANCEL_SURE = "cancel_sure"
    LEAVE_SURE = "leave_sure"
    CANCELLED = "cancelled"
    GOES_ON = "goes_on"
    YES_OR_NO = "yes_or_no"
    NEEDS_NO_ANSWER = "needs_no_answer"
    CANNOT_SKIP = "cannot_skip"
    ROWS_OPEN = "rows_open"
    SLOT_OPEN = "slot_open"
    SWITCHED_UNITS = "switched_units"
    US_UNITS = "us_units"
    METRIC_UNITS = "metric_units"
    SWITCHED_LANGUAGE = "switched_language"
    CANNOT_USE = "cannot_use"
    CANNOT_COMPUTE = "cannot_compute"
    HELP = "help"
    HELP_IDLE = "help_idle"
    HELP_ANSWER = "help_answer"
    HELP_CHOOSE = "help_choose"
    STATUS = "status"
    PROGRESS_ROWS = "progress_rows"
    PROGRESS_SLOTS = "progress_slots"
    STATUS_IDLE = "status_idle"
    UNKNOWN_YET = "unknown_yet"
    TARGET = "target"
    HOW_MUCH = "how_much"
    WHICH_AREA = "which_area"
    RUN_OUT = "run_out"
    LAST_CATCH = "last_catch"
    SETTING = "setting"
    NO_CATCH = "no_catch"
    NO_SETTING = "no_setting"
    WHICH_ROW = "which_row"
    EMERGENCY = "emergency"
    UNCLEAR_NOTHING_HEARD = "unclear_nothing_heard"
    UNCLEAR_UNKNOWN_WORDS = "unclear_unknown_words"
    UNCLEAR_NO_VALUE = "unclear_no_value"
    UNCLEAR_NO_SUCH_ROW = "unclear_no_such_row"
    UNCLEAR_WRONG_UNIT = "unclear_wrong_unit"
    UNCLEAR_NOT_A_CHOICE = "unclear_not_a_choice"
    UNCLEAR_NO_SUCH_SETTING = "unclear_no_such_setting"
    UNCLEAR_OUT_OF_RANGE = "unclear_out_of_range"
    UNCLEAR_WHICH_ROW = "unclear_which_row"
    UNCLEAR_TOO_NOISY = "unclear_too_noisy"
    DIGIT_BY_DIGIT = "digit_by_digit"
    PRESS_OR_SAY = "press_or_say"
    PRESS_OR_TYPE = "press_or_type"
    SKIP_OR_TYPE = "skip_or_type"
    SKIP_IT = "skip_it"
    TYPE_IT = "type_it"
    SKIP = "skip"
    LOST_DIALOG = "lost_dialog"
    WORLD_FAILED = "world_failed"
    SHIFT_GOOD = "shift_good"
    SHIFT_GOOD_BUT = "shift_good_but"
    SHIFT_ROWS_GOOD = "shift_rows_good"
    SHIFT_HIGH = "shift_high"
    SHIFT_STOPPED = "shift_stopped"
    GO_BACK = "go_back"
    AS_LEFT = "as_left"
    SHIFT_LEFT_FOR = "shift_left_for"
    SHIFT_SET_UP = "shift_set_up"
    SHIFT_EMPTY = "shift_empty"
    SHIFT_SAY_ANEW = "shift_say_anew"
    SHIFT_STOPPED_AT = "shift_stopped_at"
    SHIFT_HIGH_SINCE = "shift_high_since"
    SHIFT_HAD_FED = "shift_had_fed"
    SHIFT_RUNS_AT = "shift_runs_at"
    SHIFT_AS_OF = "shift_as_of"
    SHIFT_BY_THEN = "shift_by_then"
    SHIFT_STANDS = "shift_stands"
    SHIFT_TIME_OUTSIDE = "shift_time_outside"
    SHIFT_TIME_SKIPPED = "shift_time_skipped"
    SHIFT_RUNS = "shift_runs"
    SHIFT_NOT_IN_USE = "shift_not_in_use"
    SHIFT_REST = "shift_rest"
    SHIFT_DOUBT = "shift_doubt"
    SHIFT_NO_DOUBT = "shift_no_doubt"
    SHIFT_INSPECT = "shift_inspect"
    SHIFT_NO_SECOND = "shift_no_second"
    SHIFT_CATCH = "shift_catch"
    SHIFT_CATCH_KNOWN = "shift_catch_known"
    SHIFT_CATCH_FINE = "shift_catch_fine"
    SHIFT_CATCH_OFF = "shift_catch_off"
    SHIFT_CATCH_UNKNOWN = "shift_catch_unknown"
    SHIFT_LEFT = "shift_left"
    SHIFT_ALL_LEFT = "shift_all_left"
    SHIFT_MORE_THAN = "shift_more_than"
    SHIFT_REFILLED = "shift_refilled"
    SHIFT_ALL_REFILLED = "shift_all_refilled"
    SHIFT_ON_TOP = "shift_on_top"
    SHIFT_FULL = "shift_full"
    SHIFT_ALL_FULL = "shift_all_full"
    SHIFT_BAG = "shift_bag"
    SHIFT_USED = "shift_used"
    SHIFT_USED_CLOCK = "shift_used_clock"
    SHIFT_USED_FINE = "shift_used_fine"
    SHIFT_USED_OFF = "shift_used_off"
    SHIFT_ROW_USED = "shift_row_used"
    SHIFT_PLANTED = "shift_planted"
    SHIFT_FIELD_LEFT = "shift_field_left"
    SHIFT_LESS_PLANTED = "shift_less_planted"
    SHIFT_MORE_PLANTED = "shift_more_planted"
    SHIFT_PAUSED = "shift_paused"
    SHIFT_WENT_ON = "shift_went_on"
    SHIFT_RUNS_ALREADY = "shift_runs_already"
    SHIFT_HANDED = "shift_handed"
    SHIFT_HANDED_OVER = "shift_handed_over"
    SHIFT_SPEED = "shift_speed"
    SHIFT_SPEED_NEAR = "shift_speed_near"
    SHIFT_SPEED_FAR = "shift_speed_far"
    SHIFT_EFFECT = "shift_effect"
    SHIFT_EFFECT_RANGE = "shift_effect_range"
    SHIFT_LABEL_BELOW = "shift_label_below"
    SHIFT_LABEL_ABOVE = "shift_label_above"
    SHIFT_NOT_KEPT = "shift_not_kept"
    SHIFT_RATE = "shift_rate"
    SHIFT_PRODUCT = "shift_product"
    SHIFT_OTHER_PRODUCT = "shift_other_product"
    SHIFT_LOT = "shift_lot"
    SHIFT_OTHER_FIELD = "shift_other_field"
    SHIFT_FIELD = "shift_field"
    SHIFT_RECALIBRATE = "shift_recalibrate"
    SHIFT_SNOOZED = "shift_snoozed"
    SHIFT_SNOOZED_OVER = "shift_snoozed_over"
    SHIFT_STARTED = "shift_started"
    SHIFT_CLOSING = "shift_closing"
    SHIFT_NOT_MENDED = "shift_not_mended"
    SHIFT_OVER = "shift_over"
    SHIFT_SCOUT = "shift_scout"
    SHIFT_STATUS = "shift_status"
    SHIFT_STATUS_TROUBLED = "shift_status_troubled"
    SHIFT_RUN_OUT = "shift_run_out"
    SHIFT_HINT = "shift_hint"
    LOOK_BY = "look_by"
    LOOK_RUN_OUT = "look_run_out"
    LOOK_OWN = "look_own"
    LOOK_LATE = "look_late"
    LOOK_LONG = "look_long"
    LOOK_NOW = "look_now"
    LOOK_PAUSED = "look_paused"
    LOOK_OVERDUE = "look_overdue"
    LOOK_CLOSING = "look_closing"
    LOOK_CLOSING_ACRES = "look_closing_acres"
    LOOK_CLOSING_LEFT = "look_closing_left"
    LOOK_CLOSING_DONE = "look_closing_done"
    HOURS = "hours"


class UnitWords(Message):
    """How a unit is written and how it is said; ``one``: how exactly one is said, number and all; ``single``: how it is
    written after a 1. Both as otherwise where they are not given."""

    shown: Text
    said: Text
    one: Text | None = None
    single: Text | None = None


class House(Message):
    """The texts and units of the house, every key and every unit there."""

    format: Literal["1"]
    texts: dict[Key, Text]
    units: dict[str, UnitWords]

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        missing = [key for key in Key if key not in self.texts] + [unit for unit in UNITS if unit not in self.units]
        if missing:
            raise ValueError(f"{missing[0]} is missing")
        unknown = [unit for unit in self.units if unit not in UNITS]
        if unknown:
            raise ValueError(f"{unknown[0]} is not a unit Rowhand knows")
        return self


def load_house(directory: Path | None = None) -> House:
    """The house texts of a dialogs folder; DefinitionError where they are not complete."""
    return read_definition((directory or dialogs_directory()) / "house.yaml").into(House)
