"""Questions about the job: what is open, what comes next, and what only a shift knows."""

from __future__ import annotations

from engine.calculations.advisor.verdict import Verdict
from engine.dialog.checks.control_flow import successors
from engine.dialog.facts.state import DialogState
from engine.dialog.facts.waiting import is_waiting, open_rows, row_count
from engine.dialog.questions.knowledge import known
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import fill, title
from engine.dialog.reply.step_text import listing
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Branch, Collect, Finish, Script, asks
from engine.dialog.schema.slot_roles import Phase, Role
from engine.dialog.taking.commands import job
from engine.dialog.taking.verdicts import last_judged
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.expectation import SlotKind
from engine.quantities import Measure

MOST_NAMED = 5


# ---------------------------------------------------------------- what is open


def say_left_to_do(builder: TurnBuilder) -> None:
    """The rows and questions that are open in this part, or the parts of the job that are still to come."""
    if builder.state.dialog is None:
        say_what_next(builder)
        return
    waiting = builder.waits_for()
    for name in waiting:
        if builder.script.slots[name].per_row:
            rows = builder.wording.row_names(open_rows(builder.script, builder.dialog, name))
            builder.say(AnswerKey.LEFT_ROWS, name=_name(builder, name), rows=rows)
        else:
            builder.say(AnswerKey.LEFT_NAMES, names=_name(builder, name))
    later = [name for name in _sure_to_be_asked(builder.script, builder.dialog) if name not in waiting]
    if later and not any(builder.script.slots[name].per_row for name in waiting):
        more = [_name(builder, name) for name in later[:MOST_NAMED]]
        builder.say(AnswerKey.LEFT_LATER, count=str(len(later)), names=", ".join(more))
    elif not waiting:
        builder.say(AnswerKey.LEFT_NOTHING)


def _name(builder: TurnBuilder, slot: str) -> str:
    """What is asked, by its name; a closed question that nobody calls by one, by its answers."""
    found = builder.script.slots[slot]
    if found.kind is SlotKind.CHOICE and found.called is None and not found.per_row:
        return builder.wording.join([button.says for button in builder.wording.options(found)])
    return builder.wording.name(found).lower()


def _sure_to_be_asked(script: Script, dialog: DialogState) -> tuple[str, ...]:
    """The slots that every way from here to the end asks for and that have no answer yet."""
    start = script.places[dialog.step]
    steps = range(start, len(script.steps))
    ends = [number for number in steps if isinstance(script.steps[number], Finish)]
    found = [
        name
        for number in steps
        for name in asks(script.steps[number])
        if not ({*ends} & _without(script, dialog, start, number))
    ]
    untold = {name for name in found if script.slots[name].per_row and not dialog.rows.get(name)}
    return tuple(dict.fromkeys(name for name in found if name in untold or is_waiting(script, dialog, name)))


def _without(script: Script, dialog: DialogState, start: int, left_out: int) -> frozenset[int]:
    """The steps that can be reached without one of them; a branch goes the way that was chosen."""
    found = {start} - {left_out}
    for number in range(start, len(script.steps)):
        if number in found:
            found |= {*_ahead(script, dialog, number)} - {left_out}
    return frozenset(found)


def _ahead(script: Script, dialog: DialogState, number: int) -> tuple[int, ...]:
    step = script.steps[number]
    if isinstance(step, Branch) and step.branch in dialog.values:
        return (script.places.get(step.cases[str(dialog.values[step.branch])], number + 1),)
    return successors(script, number)


# ---------------------------------------------------------------- what comes next


def say_what_next(builder: TurnBuilder) -> None:
    """What to do now in one sentence: the open question, what comes before it, or the next part of the job."""
    dialog = builder.state.dialog
    if dialog is None:
        _say_next_part(builder)
        return
    waiting = builder.waits_for()
    slot = builder.script.slots[waiting[0]] if waiting else None
    if builder.questions or slot is None or not slot.per_row:
        builder.say(AnswerKey.ANSWER_THIS)
        return
    moved = _moves(builder)
    builder.lines += moved
    if not moved and any(
        not dialog.is_open(waiting[0], row) for row in range(1, row_count(builder.script, dialog) + 1)
    ):
        builder.lines.append(fill(slot.ask, builder.script, builder.wording, dialog.values, run=str(dialog.run)))
    elif not moved:
        builder.say(AnswerKey.ANSWER_THIS)


def _moves(builder: TurnBuilder) -> list[str]:
    """The dials that the last run said to move, as long as nothing was caught since."""
    found, dialog = last_judged(builder), builder.dialog
    step = builder.script.step(dialog.step)
    if found is None or found.step is None or found.script is not builder.script or found.dialog.run >= dialog.run:
        return []
    caught = isinstance(step, Collect) and bool(dialog.rows.get(step.collect))
    text = found.step.each.get(Verdict.ADJUST)
    if caught or text is None:
        return []
    only = found.step.model_copy(update={"title": None, "each": {str(Verdict.ADJUST): text}})
    return listing(only, found.script, builder.wording, found.dialog)


def _say_next_part(builder: TurnBuilder) -> None:
    """The part of the job that comes after what was finished last."""
    book, scripts = builder.state.book, builder.library.in_order
    times = book.times
    due = [one for one in scripts if one.after and times.get(one.after, 0) > times.get(one.dialog, 0)]
    again = [one for one in scripts if one.phase is Phase.SHIFT and one.after in book.finished]
    if due and due[-1].dialog in book.left:
        builder.say(SystemKey.GO_BACK, word=due[-1].opening(builder.state.language))
    elif due or again:
        builder.say(AnswerKey.NEXT_PART, word=[*again, *due][-1].opening(builder.state.language))
    else:
        words = [f"“{one.opening(builder.state.language)}”" for one in job(builder.library) if not one.after]
        builder.say(AnswerKey.START_WITH, words=builder.wording.join(words))


def say_test_done(builder: TurnBuilder) -> None:
    """Whether a test run was finished, and for what it holds."""
    book = builder.state.book
    script = builder.library.of_phase(Phase.CALIBRATION)
    if script is None or not book.times.get(script.dialog):
        builder.say(AnswerKey.NO_TEST_DONE)
        return
    ended = next((one for one in reversed(book.ended) if one.dialog == script.dialog), None)
    rate, speed = known(builder, Role.RATE), known(builder, Role.SPEED)
    if ended is None or not isinstance(rate, Measure) or not isinstance(speed, Measure):
        builder.say(AnswerKey.TEST_DONE, dialog=title(script, builder.wording))
        return
    builder.say(
        AnswerKey.TEST_DONE_FOR,
        dialog=title(script, builder.wording),
        runs=str(len(ended.runs)),
        rate=builder.wording.amount(rate),
        speed=builder.wording.rough(speed),
    )


# ---------------------------------------------------------------- what only a shift knows


def say_acres(builder: TurnBuilder) -> None:
    """Acres are counted while planting."""
    _say_no_shift(builder, AnswerKey.NO_ACRES, AnswerKey.NO_ACRES_YET)


def say_look(builder: TurnBuilder) -> None:
    """Looks are planned while planting."""
    _say_no_shift(builder, AnswerKey.NO_LOOK, AnswerKey.NO_LOOK_YET)


def _say_no_shift(builder: TurnBuilder, key: AnswerKey, begun: AnswerKey) -> None:
    shift = builder.library.of_phase(Phase.SHIFT)
    if builder.state.dialog is not None and builder.dialog.phase is Phase.SHIFT:
        builder.say(begun)
    elif shift is not None:
        builder.say(key, word=shift.opening(builder.state.language))
