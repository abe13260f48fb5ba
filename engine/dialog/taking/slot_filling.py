"""Keeping values: each is checked, asked about where it is doubtful, kept, and read back."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from engine.dialog.facts.events import Kept
from engine.dialog.facts.question import Question, QuestionKind, ValueReading
from engine.dialog.facts.waiting import offered, offered_name, rows_of
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import corrected_rows, fill, kept, kept_rows, place, row_kept, row_places
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import asks
from engine.dialog.turns.registering import fill_in_given
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.dialog.turns.value_checks import look, refusal
from engine.messages import DoubtReason, Given
from engine.values import Value

MANY = 2


def give(builder: TurnBuilder, given: Given, answered: frozenset[QuestionKind] = frozenset()) -> None:
    """Keep a value, or ask about it first. ``answered`` are the doubts that the operator has already settled."""
    give_rows(builder, (given,), answered)


def give_rows(builder: TurnBuilder, givens: Sequence[Given], answered: frozenset[QuestionKind] = frozenset()) -> None:
    """The same value for each of these rows: refused, asked about and read back once for all of them."""
    counted = rows_of(builder.script, builder.dialog)
    out = [one.row for one in givens if one.row in builder.dialog.left_out and one.row not in counted]
    if out and len(out) == len(givens):
        builder.say(SystemKey.ROW_IS_OUT, rows=builder.wording.row_names([row for row in out if row]))
        return
    givens = [one for one in givens if one.row not in out]
    refused = refusal(builder, givens[0].slot, givens[0].value)
    if refused is not None:
        builder.lines.append(refused)
        return
    at = next((place for place, one in enumerate(builder.questions) if _is_about(one, givens)), len(builder.questions))
    later = [_without(one, givens, one in builder.dialog.questions) for one in builder.questions[at:]]
    builder.questions[at:] = [one for one in later if one is not None]
    questions = [(given, _question(builder, given, answered)) for given in givens]
    doubtful = [given for given, question in questions if question is not None]
    if doubtful and at and builder.questions[0] in builder.asked:
        _say_next(builder, doubtful)
    builder.questions[at:at] = _together([question for _, question in questions if question is not None])
    _keep_rows(builder, [given for given, question in questions if question is None])


def _say_next(builder: TurnBuilder, givens: Sequence[Given]) -> None:
    """Say what was taken to be asked about behind the question that is open."""
    first, rows = givens[0], sorted(one.row for one in givens if one.row is not None)
    slot = builder.script.slots[first.slot]
    where = row_places(builder.script, builder.wording, first.slot, rows) if rows else builder.wording.name(slot)
    builder.say(AnswerKey.ASKED_NEXT, place=where, value=builder.wording.value(first.value, slot))


def _together(questions: Sequence[Question]) -> list[Question]:
    """Questions that differ only in the row they are about as one."""
    alike: dict[tuple[object, ...], list[Question]] = {}
    for one in questions:
        alike.setdefault((one.about, one.reason, one.outcome, len(one.readings)), []).append(one)
    return [_for_all_rows(same) for same in alike.values()]


def _for_all_rows(questions: Sequence[Question]) -> Question:
    first = questions[0]
    readings = tuple(
        ValueReading(givens=tuple(given for reading in same for given in reading.givens), run=same[0].run)
        for same in zip(*(one.readings for one in questions), strict=True)
    )
    old = first.old if all(one.old == first.old for one in questions) else None
    return first.model_copy(update={"readings": readings, "old": old})


def _places(givens: Sequence[Given]) -> frozenset[tuple[str, int | None]]:
    return frozenset((one.slot, one.row) for one in givens)


def _is_about(question: Question, givens: Sequence[Given]) -> bool:
    """Whether a question waits for a value that was just said again."""
    return any(_places(reading.givens) & _places(givens) for reading in question.readings)


def _without(question: Question, givens: Sequence[Given], was_asked: bool) -> Question | None:
    """The question for the rows that were not said again.

    One whose readings are for different rows is answered by any of them, unless it comes from the same utterance.
    """
    if not _is_about(question, givens):
        return question
    if len({_places(reading.givens) for reading in question.readings}) > 1:
        return None if was_asked else question
    rest = _places(question.readings[0].givens) - _places(givens)
    if not rest:
        return None
    readings = tuple(
        reading.model_copy(update={"givens": tuple(one for one in reading.givens if (one.slot, one.row) in rest)})
        for reading in question.readings
    )
    return question.model_copy(update={"readings": readings})


def _question(builder: TurnBuilder, given: Given, answered: frozenset[QuestionKind]) -> Question | None:
    run = builder.dialog.run
    reading = ValueReading(givens=(given,), run=run)
    warning = _warning(builder, given) if QuestionKind.CHECK not in answered else None
    if warning is not None and given.doubt is DoubtReason.UNUSUAL and QuestionKind.DOUBT not in answered:
        return warning
    if given.doubt is not None and QuestionKind.DOUBT not in answered:
        rivals = tuple(
            ValueReading(givens=(given.model_copy(update={"value": rival}),), run=run) for rival in given.rivals
        )
        about = QuestionKind.CHOICE if rivals and not builder.spoken else QuestionKind.DOUBT
        return Question(about=about, readings=(reading, *rivals), reason=given.doubt)
    earlier = _in_earlier_run(builder, given)
    if earlier is not None and QuestionKind.CHOICE not in answered:
        before = ValueReading(givens=(given,), run=run - 1)
        return Question(about=QuestionKind.CHOICE, readings=(before, reading), old=earlier)
    old = builder.dialog.value(given.slot, given.row)
    if old not in (None, given.value) and not given.correcting and QuestionKind.REPLACE not in answered:
        return Question(about=QuestionKind.REPLACE, readings=(reading,), old=old)
    return warning


def _in_earlier_run(builder: TurnBuilder, given: Given) -> Value | None:
    """The value that "row two was fifty two" may mean to correct when a new run has just begun."""
    rows = builder.dialog.rows.get(given.slot, {})
    if not given.correcting or given.row is None or rows or not builder.dialog.runs:
        return None
    return builder.dialog.runs[-1].get(given.slot, {}).get(given.row)


def _warning(builder: TurnBuilder, given: Given) -> Question | None:
    """The first check whose outcome wants a confirmation."""
    for number, check in enumerate(builder.script.slots[given.slot].checks):
        outcome, shown = look(builder, check, given.value)
        if outcome in check.confirm:
            reading = ValueReading(givens=(given,), run=builder.dialog.run)
            return Question(about=QuestionKind.CHECK, readings=(reading,), check=number, outcome=outcome, shown=shown)
    return None


def _keep_rows(builder: TurnBuilder, givens: Sequence[Given]) -> None:
    """Keep sure values; those of several rows are read back in one line, and what they replace in another."""
    if len(givens) < MANY:
        for given in givens:
            _keep(builder, given)
        return
    olds = [builder.dialog.value(given.slot, given.row) for given in givens]
    new = [(given, old) for given, old in zip(givens, olds, strict=True) if old != given.value]
    rows = tuple(given.row for given, _ in new if given.row is not None)
    for given, old in new:
        record(builder, given, old, rows if len(rows) > 1 else ())
    as_said = [given for given, old in zip(givens, olds, strict=True) if old in (None, given.value)]
    changed = [given for given in givens if given not in as_said]
    if as_said:
        builder.lines.append(kept_rows(builder.script, builder.wording, as_said))
    if changed:
        builder.lines.append(corrected_rows(builder.script, builder.wording, changed))


def _keep(builder: TurnBuilder, given: Given) -> None:
    old = builder.dialog.value(given.slot, given.row)
    if old == given.value:
        say_unchanged(builder, given)
        return
    record(builder, given, old)
    if old is None:
        builder.lines.append(row_kept(kept(builder.script, builder.wording, given), given.row, given.value))
        fill_in_given(builder, given)
        return
    slot = builder.script.slots[given.slot]
    builder.say(
        SystemKey.CORRECTED,
        place=place(builder.script, builder.wording, given.slot, given.row),
        old=builder.wording.value(old, slot),
        value=builder.wording.value(given.value, slot),
    )
    fill_in_given(builder, given)


def say_unchanged(builder: TurnBuilder, given: Given) -> None:
    """Say that a value stands already."""
    where = place(builder.script, builder.wording, given.slot, given.row)
    builder.say(
        SystemKey.UNCHANGED, place=where, value=builder.wording.value(given.value, builder.script.slots[given.slot])
    )


def record(builder: TurnBuilder, given: Given, old: Value | None, together: tuple[int, ...] = ()) -> None:
    """Note that a value is kept, which replaces an old one; ``together`` are the rows that were given it at once."""
    builder.add(
        Kept(
            slot=given.slot,
            row=given.row,
            run=builder.dialog.run,
            value=given.value,
            said=given.said,
            replaces=old,
            together=together,
        )
    )
    return_to(builder, given.slot)


def alike(givens: Sequence[Given]) -> list[tuple[Given, ...]]:
    """Values in the order they were said, those together that give the same to several rows."""
    found: list[tuple[Given, ...]] = []
    for _, group in groupby(givens, key=lambda one: (one.slot, one.value, one.doubt, one.rivals, one.correcting)):
        same = tuple(group)
        at_once = all(one.row is not None for one in same) and (
            len(same) > MANY or len({one.said for one in same}) == 1
        )
        found += [same] if at_once and len(_places(same)) == len(same) else [(one,) for one in same]
    return found


def answer_offer(builder: TurnBuilder, yes: bool) -> None:
    """Keep what was offered for the rows of the open step, by value; say what may be told where it is declined."""
    last = offered_name(builder.script, builder.dialog)
    if last is not None and yes:
        give(builder, Given(slot=builder.waits_for()[0], value=last, said="yes"))
        return
    slot, by_value = next(iter(builder.waits_for()), ""), dict[Value, list[int]]()
    for row, value in offered(builder.script, builder.dialog).items():
        by_value.setdefault(value, []).append(row)
    if not by_value:
        builder.say(SystemKey.NEEDS_NO_ANSWER)
    elif not yes:
        builder.lines.append(
            fill(builder.script.slots[slot].ask, builder.script, builder.wording, builder.dialog.values)
        )
    for value, rows in by_value.items() if yes else ():
        give_rows(builder, tuple(Given(slot=slot, row=row, value=value, said="yes") for row in rows))


def return_to(builder: TurnBuilder, slot: str) -> None:
    """Walk on from the step that asks a slot once this utterance is done, as a value before it has changed.

    A slot that several branches ask is come to again from the beginning, along the branch that was taken.
    """
    places = [number for number, step in enumerate(builder.script.steps) if slot in asks(step)]
    here = builder.script.places[builder.dialog.step]
    if here in places or here < places[0]:
        return
    at = places[0] if len(places) == 1 else 0
    builder.back_to = at if builder.back_to is None else min(at, builder.back_to)
