"""Keeping values: each is checked, asked about where it is doubtful, kept, and read back."""

from __future__ import annotations

from collections.abc import Sequence

from engine.dialog.checking import look, refusal
from engine.dialog.events import Kept, Reopened, Skipped
from engine.dialog.house import Key
from engine.dialog.question import About, Question, Reading
from engine.dialog.sentences import kept, kept_rows, place
from engine.dialog.walk import Walk
from engine.messages import DoubtReason, Given
from engine.values import Value


def give(walk: Walk, given: Given, answered: frozenset[About] = frozenset()) -> None:
    """Keep a value, or ask about it first. ``answered`` are the doubts that the operator has already settled."""
    refused = refusal(walk, given.slot, given.value)
    if refused is not None:
        walk.lines.append(refused)
        return
    question = _question(walk, given, answered)
    at = next((place for place, one in enumerate(walk.questions) if _is_about(one, given)), len(walk.questions))
    walk.questions[at:] = [one for one in walk.questions[at:] if not _is_about(one, given)]
    if question is not None:
        walk.questions.insert(at, question)
        return
    _keep(walk, given)


def give_rows(walk: Walk, givens: Sequence[Given]) -> None:
    """The same sure value for many rows: kept row by row, read back at once."""
    lines = len(walk.lines)
    before = len(walk.facts)
    for given in givens:
        give(walk, given)
    rows = [fact.row for fact in walk.facts[before:] if isinstance(fact, Kept) and fact.row and fact.replaces is None]
    if len(rows) == len(givens):
        walk.lines[lines:] = [kept_rows(walk.script, walk.wording, givens[0], rows)]


def _is_about(question: Question, given: Given) -> bool:
    """Whether a question waits for the value that was just said again."""
    return any(
        (one.slot, one.row) == (given.slot, given.row) for reading in question.readings for one in reading.givens
    )


def said_again(question: Question | None, given: Given) -> bool:
    """Whether a doubtful value was simply repeated: twice the same is sure."""
    values = [one for reading in question.readings for one in reading.givens] if question else []
    return any((one.slot, one.row, one.value) == (given.slot, given.row, given.value) for one in values)


def _question(walk: Walk, given: Given, answered: frozenset[About]) -> Question | None:
    run = walk.dialog.run
    reading = Reading(givens=(given,), run=run)
    warning = _warning(walk, given) if About.CHECK not in answered else None
    if warning is not None and given.doubt is DoubtReason.UNUSUAL and About.DOUBT not in answered:
        return warning
    if given.doubt is not None and About.DOUBT not in answered:
        rivals = tuple(Reading(givens=(given.model_copy(update={"value": rival}),), run=run) for rival in given.rivals)
        about = About.CHOICE if rivals else About.DOUBT
        return Question(about=about, readings=(reading, *rivals), reason=given.doubt)
    earlier = _in_earlier_run(walk, given)
    if earlier is not None and About.CHOICE not in answered:
        before = Reading(givens=(given,), run=run - 1)
        return Question(about=About.CHOICE, readings=(before, reading), old=earlier)
    old = walk.dialog.value(given.slot, given.row)
    if old not in (None, given.value) and not given.correcting and About.REPLACE not in answered:
        return Question(about=About.REPLACE, readings=(reading,), old=old)
    return warning


def _in_earlier_run(walk: Walk, given: Given) -> Value | None:
    """The value that "row two was fifty two" may mean to correct when a new run has just begun."""
    rows = walk.dialog.rows.get(given.slot, {})
    if not given.correcting or given.row is None or rows or not walk.dialog.runs:
        return None
    return walk.dialog.runs[-1].get(given.slot, {}).get(given.row)


def _warning(walk: Walk, given: Given) -> Question | None:
    """The first check whose outcome wants a confirmation."""
    for number, check in enumerate(walk.script.slots[given.slot].checks):
        outcome, shown = look(walk, check, given.value)
        if outcome in check.confirm:
            reading = Reading(givens=(given,), run=walk.dialog.run)
            return Question(about=About.CHECK, readings=(reading,), check=number, outcome=outcome, shown=shown)
    return None


def _keep(walk: Walk, given: Given) -> None:
    old = walk.dialog.value(given.slot, given.row)
    if old == given.value:
        _say_unchanged(walk, given)
        return
    _record(walk, given, old)
    if old is None:
        walk.lines.append(kept(walk.script, walk.wording, given))
        return
    slot = walk.script.slots[given.slot]
    walk.say(
        Key.CORRECTED,
        place=place(walk.script, walk.wording, given.slot, given.row),
        old=walk.wording.value(old, slot),
        value=walk.wording.value(given.value, slot),
    )


def _say_unchanged(walk: Walk, given: Given) -> None:
    where = place(walk.script, walk.wording, given.slot, given.row)
    walk.say(Key.UNCHANGED, place=where, value=walk.wording.value(given.value, walk.script.slots[given.slot]))


def _record(walk: Walk, given: Given, old: Value | None) -> None:
    walk.add(
        Kept(
            slot=given.slot,
            row=given.row,
            run=walk.dialog.run,
            value=given.value,
            said=given.said,
            replaces=old,
        )
    )
    walk.return_to(given.slot)


def keep_reading(walk: Walk, reading: Reading, answered: frozenset[About]) -> None:
    """Keep every value of a reading that the operator chose, in the run it belongs to."""
    if reading.run < walk.dialog.run:
        for given in reading.givens:
            _correct_last_run(walk, given)
        return
    for given in reading.givens:
        give(walk, given, answered)


def _correct_last_run(walk: Walk, given: Given) -> None:
    """Go back to the end of the run before, with its last value kept again, and correct one value there."""
    if walk.dialog.runs[-1].get(given.slot, {}).get(given.row or 0) == given.value:
        _say_unchanged(walk, given)
        return
    last = back_to_last_run(walk)
    if last is None or (last.slot, last.row) != (given.slot, given.row):
        old = walk.dialog.value(given.slot, given.row)
    else:
        old = last.value
    _record(walk, given, old)
    slot = walk.script.slots[given.slot]
    walk.say(
        Key.CORRECTED_RUN,
        run=str(walk.dialog.run),
        place=place(walk.script, walk.wording, given.slot, given.row),
        old=walk.wording.value(old, slot) if old is not None else "?",
        value=walk.wording.value(given.value, slot),
    )


def back_to_last_run(walk: Walk) -> Kept | None:
    """Undo the beginning of this run; what was done last in the run before is done again, and returned if kept.

    What this run has already been told is set aside, for when the walk comes to it again in this turn.
    """
    run = walk.dialog.run
    undone: list[Kept | Skipped] = []
    while walk.dialog.run == run and walk.dialog.undo:
        undone.insert(0, walk.withdraw().did)
    last, *later = undone
    walk.set_aside = tuple(later)
    walk.add(last)
    return last if isinstance(last, Kept) else None


def reopen(walk: Walk, slot: str, row: int | None) -> bool:
    """Open a value again so that it is asked; False where there is none."""
    value = walk.dialog.value(slot, row)
    if value is None:
        return False
    walk.add(Reopened(slot=slot, row=row, run=walk.dialog.run, value=value))
    walk.say(
        Key.REOPENED,
        place=place(walk.script, walk.wording, slot, row),
        value=walk.wording.value(value, walk.script.slots[slot]),
    )
    walk.return_to(slot)
    return True
