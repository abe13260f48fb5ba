"""Questions that are always answered, in a dialog or outside one, from what is known by then."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.dialog.facts.book_facts import Alarmed
from engine.dialog.questions.farm_answers import say_entry, say_stock, say_summary
from engine.dialog.questions.knowledge import say_values
from engine.dialog.questions.outlook import say_acres, say_left_to_do, say_look, say_test_done, say_what_next
from engine.dialog.questions.row_answers import say_catches, say_history, say_settings, say_stopped
from engine.dialog.questions.targets import say_how_much, say_run_out, say_speed, say_target, say_tolerance
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import say_records
from engine.dialog.taking.verdicts import verdict_told, why_told
from engine.dialog.turns.cautions import say_cautions, say_ready, told
from engine.dialog.turns.registering import say_register
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Asked, Topic

_ANSWERS: Mapping[Topic, Callable[[TurnBuilder], None]] = {
    Topic.TARGET: say_target,
    Topic.TOLERANCE: say_tolerance,
    Topic.SPEED_TO_HOLD: say_speed,
    Topic.RUN_OUT: say_run_out,
    Topic.ACRES_DONE: say_acres,
    Topic.ACRES_LEFT: say_acres,
    Topic.NEXT_LOOK: say_look,
    Topic.REGISTER: say_register,
    Topic.STOCK: say_stock,
    Topic.SUMMARY: say_summary,
    Topic.REENTRY: say_entry,
    Topic.STOPPED_ROWS: say_stopped,
    Topic.TEST_DONE: say_test_done,
    Topic.LEFT_TO_DO: say_left_to_do,
    Topic.WHAT_NEXT: say_what_next,
    Topic.CAUTIONS: say_cautions,
    Topic.RECORD: say_records,
}
_OF_ROWS: Mapping[Topic, Callable[[TurnBuilder, int | None], None]] = {
    Topic.LAST_CATCH: say_catches,
    Topic.SETTING: say_settings,
    Topic.WHY: why_told,
    Topic.VERDICT: verdict_told,
    Topic.HISTORY: say_history,
}
"""Questions that may be about one row."""


def answer(builder: TurnBuilder, asked: Asked) -> None:
    """Answer one question."""
    if builder.activity is not None and builder.activity.answer(builder, asked):
        return
    match asked.topic:
        case Topic.EMERGENCY:
            _say_emergency(builder)
        case Topic.HOW_MUCH:
            say_how_much(builder, asked.amount)
        case Topic.MY_VALUES:
            say_values(builder, asked.slot)
        case topic if topic in _OF_ROWS:
            _OF_ROWS[topic](builder, asked.row)
        case topic:
            _ANSWERS[topic](builder)


def _say_emergency(builder: TurnBuilder) -> None:
    """Whom to call and what to have ready; noted with its time, once a turn."""
    builder.say(SystemKey.EMERGENCY, **builder.numbers)
    say_ready(builder)
    if not any(isinstance(fact, Alarmed) for fact in builder.facts):
        product, number = told(builder, Role.PRODUCT), told(builder, Role.REGISTRATION)
        builder.add(Alarmed(at=builder.now, product=product, registration=number))
