"""Questions about rows: where they are set, what they gave, last and run by run, and which are done without."""

from __future__ import annotations

from collections.abc import Iterator

from engine.calculations.advisor.verdict import PASSED
from engine.dialog.facts.state import DialogState
from engine.dialog.questions.knowledge import by_value, of_rows
from engine.dialog.questions.year_answers import say_wear, say_years, yearbook
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.absence import found_unfit, unfit_told
from engine.dialog.taking.verdicts import OFF, catch_of, last_judged
from engine.dialog.turns.turn_builder import TurnBuilder

_CATCHES = (Role.CATCH_MASS, Role.CATCH_VOLUME)
MOST_RUNS = 6
"""So many runs of a row are told at once, the newest ones."""


def say_settings(builder: TurnBuilder, row: int | None) -> None:
    """Where a row is set, or every row."""
    rows = of_rows(builder, Role.SETTING)
    if row is None and rows:
        builder.say(AnswerKey.SETTINGS, rows=by_value(builder, rows, AnswerKey.ROWS_AT))
    elif row is None:
        builder.say(AnswerKey.NO_SETTINGS)
    elif row in rows:
        builder.say(SystemKey.SETTING, row=str(row), value=builder.wording.value(rows[row], None))
    else:
        builder.say(SystemKey.NO_SETTING, row=str(row))


def say_catches(builder: TurnBuilder, row: int | None) -> None:
    """What a row gave last, or every row."""
    found = next((rows for role in _CATCHES if (rows := of_rows(builder, role)) and (row is None or row in rows)), {})
    if row is None and found:
        builder.say(AnswerKey.LAST_CATCHES, rows=by_value(builder, found, AnswerKey.ROWS_GAVE))
    elif row is None:
        builder.say(AnswerKey.NO_CATCHES)
    elif row in found:
        builder.say(SystemKey.LAST_CATCH, row=str(row), value=builder.wording.value(found[row], None))
    else:
        builder.say(SystemKey.NO_CATCH, row=str(row))


# ---------------------------------------------------------------- run by run


def say_history(builder: TurnBuilder, row: int | None) -> None:
    """The years of a row, before them the runs of the test run that is open; without a row how the last test run went,
    and the rows that wear."""
    dialog = builder.state.dialog
    if row is None or (dialog is not None and dialog.as_judged is not None):
        _say_runs(builder, row)
    if row is None:
        say_wear(builder)
    elif dialog is None or dialog.as_judged is None or yearbook(builder).of(row):
        say_years(builder, row)


def _say_runs(builder: TurnBuilder, row: int | None) -> None:
    """What a row gave run by run at which setting, or how many rows were on target in each run."""
    found = last_judged(builder)
    if found is None:
        builder.say(AnswerKey.NO_HISTORY)
        return
    runs = [found.now.as_of(run) for run in range(found.now.run - len(found.now.runs), found.now.run + 1)]
    if row is None:
        told = [text for one in runs[-MOST_RUNS:] if (text := _run_told(builder, one))]
        builder.lines.append(" ".join(told))
        return
    gave = [text for one in runs if (text := _gave(builder, one, row))]
    if gave:
        builder.say(AnswerKey.HISTORY_ROW, row=str(row), runs="; ".join(gave[-MOST_RUNS:]))
    else:
        builder.say(SystemKey.NO_CATCH, row=str(row))


def _run_told(builder: TurnBuilder, dialog: DialogState) -> str:
    verdicts = dialog.rows_of(Role.VERDICT)
    if not verdicts:
        return ""
    good = sum(one in PASSED for one in verdicts.values())
    return builder.wording.say(AnswerKey.HISTORY_RUN, run=str(dialog.run), good=str(good), all=str(len(verdicts)))


def _gave(builder: TurnBuilder, dialog: DialogState, row: int) -> str:
    caught = catch_of(dialog, row)
    if caught is None:
        return ""
    net, setting, error = caught
    told = {"run": str(dialog.run), "setting": str(setting), "value": builder.wording.value(net, None)}
    if error is not None:
        return builder.wording.say(AnswerKey.HISTORY_GAVE_OFF, **told, off=builder.wording.shown(error, OFF))
    return builder.wording.say(AnswerKey.HISTORY_GAVE, **told)


# ---------------------------------------------------------------- not in use


def say_stopped(builder: TurnBuilder) -> None:
    """The rows that are done without; that there is none where nothing else is known of any."""
    if not say_left_out(builder):
        builder.say(AnswerKey.NO_ROW_DOWN)


def say_left_out(builder: TurnBuilder) -> bool:
    """Say which rows are left out and why; False where none is."""
    lines = [*_left_out(builder)]
    builder.lines += lines
    return bool(lines)


def _left_out(builder: TurnBuilder) -> Iterator[str]:
    unfit, by_reason = found_unfit(builder), dict[str, list[int]]()
    yield from unfit_told(builder, unfit)
    checked = {row for rows in unfit.values() for row in rows}
    for row, said in sorted(builder.state.book.left_out.items()):
        if row not in checked:
            by_reason.setdefault(said, []).append(row)
    for said, rows in by_reason.items():
        named = builder.wording.row_names(rows)
        yield (
            builder.wording.say(AnswerKey.OUT_SAID, rows=named, said=said)
            if said
            else builder.wording.say(SystemKey.ROWS_OUT, rows=named)
        )
