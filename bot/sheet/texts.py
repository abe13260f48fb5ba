"""What stands on a drawn test run and on the picture of its rows, from its definition file."""

from __future__ import annotations

from engine.data.texts import TextKey, Texts


class SheetKey(TextKey):
    """Every text of a sheet."""

    VERDICT_ON_TARGET = "verdict_on_target"
    VERDICT_CLOSEST = "verdict_closest"
    VERDICT_ADJUST = "verdict_adjust"
    VERDICT_AGAIN = "verdict_again"
    VERDICT_CANNOT_TELL = "verdict_cannot_tell"
    VERDICT_NOT_SURE = "verdict_not_sure"
    VERDICT_DOUBTFUL = "verdict_doubtful"
    VERDICT_INTERMITTENT = "verdict_intermittent"
    MARK_ON_TARGET = "mark_on_target"
    MARK_CLOSEST = "mark_closest"
    MARK_NOT_SURE = "mark_not_sure"
    MARK_AGAIN = "mark_again"
    MARK_MOVE = "mark_move"
    MARK_FAULT = "mark_fault"
    MARK_NO_CATCH = "mark_no_catch"
    MARK_LEFT_OUT = "mark_left_out"
    COUNT = "count", "good", "rows"
    COUNT_OFF = "count_off", "count", "off"
    OTHERS = "others", "count"
    OTHERS_GOOD = "others_good", "count"
    LAST_CATCH = "last_catch"
    BOTH = "both", "catch", "off", "estimate"
    GAVE = "gave", "verdict", "gave", "before"
    PAGE = "page", "page", "pages"
    LABEL_RANGE = "label_range", "low", "high"
    LOT = "lot", "lot"
    SCALE = "scale", "name"
    STEP = "step", "step"
    SCALE_AND_STEP = "scale_and_step", "name", "step"
    TITLE = "title", "run"
    TARGET = "target", "target", "tolerance"
    LOW = "low"
    HIGH = "high"
    SETTING = "setting", "setting"
    MOVE = "move", "setting", "next"
    ROW_GAVE = "row_gave", "setting", "net", "off"
    ROW_READ = "row_read", "setting", "read"
    SPEAKER = "speaker", "name"
    FINISHED = "finished", "who", "run"
    ROW_TOLD = "row_told", "row", "told"
    ROWS_REST = "rows_rest", "rows"
    ROW_RUNS = "row_runs", "row", "runs"
    AN_OPERATOR = "an_operator"


class SheetTexts(Texts[SheetKey]):
    """All texts by key."""

    file = "channels/sheet.yaml"
