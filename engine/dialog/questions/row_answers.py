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


def say_settings(walk: TurnBuilder, row: int | None) -> None:
    """Where a row is set, or every row."""
    rows = of_rows(walk, Role.SETTING)
    if row is None and rows:
        walk.say(AnswerKey.SETTINGS, rows=by_value(walk, rows, AnswerKey.ROWS_AT))
    elif row is None:
        walk.say(AnswerKey.NO_SETTINGS)
    elif row in rows:
        walk.say(SystemKey.SETTING, row=str(row), value=walk.wording.value(rows[row], None))
    else:
        walk.say(SystemKey.NO_SETTING, row=str(row))


def say_catches(walk: TurnBuilder, row: int | None) -> None:
    """What a row gave last, or every row."""
    found = next((rows for role in _CATCHES if (rows := of_rows(walk, role)) and (row is None or row in rows)), {})
    if row is None and found:
        walk.say(AnswerKey.LAST_CATCHES, rows=by_value(walk, found, AnswerKey.ROWS_GAVE))
    elif row is None:
        walk.say(AnswerKey.NO_CATCHES)
    elif row in found:
        walk.say(SystemKey.LAST_CATCH, row=str(row), value=walk.wording.value(found[row], None))
    else:
        walk.say(SystemKey.NO_CATCH, row=str(row))


# ---------------------------------------------------------------- run by run


def say_history(walk: TurnBuilder, row: int | None) -> None:
    """The years of a row, before them the runs of the test run that is open; without a row how the last test run went,
    and the rows that wear."""
    dialog = walk.state.dialog
    if row is None or (dialog is not None and dialog.as_judged is not None):
        _say_runs(walk, row)
    if row is None:
        say_wear(walk)
    elif dialog is None or dialog.as_judged is None or yearbook(walk).of(row):
        say_years(walk, row)


def _say_runs(walk: TurnBuilder, row: int | None) -> None:
    """What a row gave run by run at which setting, or how many rows were on target in each run."""
    found = last_judged(walk)
    if found is None:
        walk.say(AnswerKey.NO_HISTORY)
        return
    runs = [found.now.as_of(run) for run in range(found.now.run - len(found.now.runs), found.now.run + 1)]
    if row is None:
        told = [text for one in runs[-MOST_RUNS:] if (text := _run_told(walk, one))]
        walk.lines.append(" ".join(told))
        return
    gave = [text for one in runs if (text := _gave(walk, one, row))]
    if gave:
        walk.say(AnswerKey.HISTORY_ROW, row=str(row), runs="; ".join(gave[-MOST_RUNS:]))
    else:
        walk.say(SystemKey.NO_CATCH, row=str(row))


def _run_told(walk: TurnBuilder, dialog: DialogState) -> str:
    verdicts = dialog.rows_of(Role.VERDICT)
    if not verdicts:
        return ""
    good = sum(one in PASSED for one in verdicts.values())
    return walk.wording.say(AnswerKey.HISTORY_RUN, run=str(dialog.run), good=str(good), all=str(len(verdicts)))


def _gave(walk: TurnBuilder, dialog: DialogState, row: int) -> str:
    caught = catch_of(dialog, row)
    if caught is None:
        return ""
    net, setting, error = caught
    told = {"run": str(dialog.run), "setting": str(setting), "value": walk.wording.value(net, None)}
    if error is not None:
        return walk.wording.say(AnswerKey.HISTORY_GAVE_OFF, **told, off=walk.wording.shown(error, OFF))
    return walk.wording.say(AnswerKey.HISTORY_GAVE, **told)


# ---------------------------------------------------------------- not in use


def say_stopped(walk: TurnBuilder) -> None:
    """The rows that are done without; that there is none where nothing else is known of any."""
    if not say_left_out(walk):
        walk.say(AnswerKey.NO_ROW_DOWN)


def say_left_out(walk: TurnBuilder) -> bool:
    """Say which rows are left out and why; False where none is."""
    lines = [*_left_out(walk)]
    walk.lines += lines
    return bool(lines)


def _left_out(walk: TurnBuilder) -> Iterator[str]:
    unfit, by_reason = found_unfit(walk), dict[str, list[int]]()
    yield from unfit_told(walk, unfit)
    checked = {row for rows in unfit.values() for row in rows}
    for row, said in sorted(walk.state.book.left_out.items()):
        if row not in checked:
            by_reason.setdefault(said, []).append(row)
    for said, rows in by_reason.items():
        named = walk.wording.row_names(rows)
        yield (
            walk.wording.say(AnswerKey.OUT_SAID, rows=named, said=said)
            if said
            else walk.wording.say(SystemKey.ROWS_OUT, rows=named)
        )
