"""Questions that are always answered, in a dialog or outside one, from what is known by then."""

from __future__ import annotations

from collections.abc import Mapping

from engine.calculations.catalogue import Argument
from engine.calculations.formulas import formulas
from engine.dialog.facts.book_facts import Alarmed
from engine.dialog.questions.entry_told import say_entry
from engine.dialog.questions.knowledge import MASS, SMALL, known, measures, rate_shown, shown
from engine.dialog.questions.outlook import (
    say_acres,
    say_left_to_do,
    say_look,
    say_test_done,
    say_what_next,
)
from engine.dialog.questions.own_values import say_values
from engine.dialog.questions.row_answers import say_catches, say_history, say_settings, say_stopped
from engine.dialog.questions.stock_told import say_stock
from engine.dialog.questions.summary import say_summary
from engine.dialog.questions.targets import say_speed, say_tolerance
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import say_records
from engine.dialog.taking.verdicts import verdict_told, why_told
from engine.dialog.turns.cautions import say_cautions, say_ready, told
from engine.dialog.turns.registering import say_register
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.errors import InputError
from engine.messages import Asked, Topic
from engine.quantities import Measure


def answer(walk: TurnBuilder, asked: Asked, numbers: Mapping[str, str]) -> None:
    """Answer one question; ``numbers`` are the telephone numbers of the settings."""
    if walk.activity is not None and walk.activity.answer(walk, asked):
        return
    match asked.topic:
        case Topic.EMERGENCY:
            _emergency(walk, numbers)
        case Topic.TARGET:
            _target(walk)
        case Topic.TOLERANCE:
            say_tolerance(walk)
        case Topic.SPEED_TO_HOLD:
            say_speed(walk)
        case Topic.HOW_MUCH:
            _how_much(walk, asked.amount)
        case Topic.RUN_OUT:
            _run_out(walk)
        case Topic.ACRES_DONE | Topic.ACRES_LEFT:
            say_acres(walk)
        case Topic.REGISTER | Topic.STOCK | Topic.SUMMARY | Topic.REENTRY:
            _of_the_farm(walk, asked.topic)
        case Topic.NEXT_LOOK:
            say_look(walk)
        case _:
            _of_the_job(walk, asked)


def _of_the_farm(walk: TurnBuilder, topic: Topic) -> None:
    """What is known by name, what is on hand, when a field may be entered, or what was done last."""
    match topic:
        case Topic.REGISTER:
            say_register(walk)
        case Topic.STOCK:
            say_stock(walk)
        case Topic.REENTRY:
            say_entry(walk)
        case _:
            say_summary(walk)


def _of_the_job(walk: TurnBuilder, asked: Asked) -> None:
    """Answer a question about rows, about what was said, or about what is to be done or minded."""
    match asked.topic:
        case Topic.LAST_CATCH:
            say_catches(walk, asked.row)
        case Topic.SETTING:
            say_settings(walk, asked.row)
        case Topic.WHY:
            _why(walk, asked.row)
        case Topic.VERDICT:
            verdict_told(walk, asked.row)
        case Topic.HISTORY:
            say_history(walk, asked.row)
        case Topic.STOPPED_ROWS:
            say_stopped(walk)
        case Topic.TEST_DONE:
            say_test_done(walk)
        case Topic.MY_VALUES:
            say_values(walk, asked.slot)
        case Topic.LEFT_TO_DO:
            say_left_to_do(walk)
        case Topic.WHAT_NEXT:
            say_what_next(walk)
        case Topic.CAUTIONS | Topic.RECORD:
            say_cautions(walk) if asked.topic is Topic.CAUTIONS else say_records(walk)
        case _:
            raise ValueError(asked.topic)


def _emergency(walk: TurnBuilder, numbers: Mapping[str, str]) -> None:
    """Whom to call and what to have ready; noted with its time, once a turn."""
    walk.say(SystemKey.EMERGENCY, **numbers)
    say_ready(walk)
    if not any(isinstance(fact, Alarmed) for fact in walk.facts):
        product, number = told(walk, Role.PRODUCT), told(walk, Role.REGISTRATION)
        walk.add(Alarmed(at=walk.now, product=product, registration=number))


def _why(walk: TurnBuilder, row: int | None) -> None:
    """What a row gave run by run, and its verdict; outside of what watches nothing else has a reason."""
    if row is None:
        walk.say(SystemKey.NO_WHY)
        return
    why_told(walk, row)


def _target(walk: TurnBuilder) -> None:
    found = measures(walk, Role.TARGET, Role.RATE)
    if found is None:
        return
    target, rate = found
    grams = walk.wording.amount(target.to("g"), 1)
    ounces = walk.wording.amount(target.to("oz"), 2)
    walk.say(SystemKey.TARGET, target=f"{grams} ({ounces})", rate=rate_shown(walk.wording, rate))


def _how_much(walk: TurnBuilder, area: Measure | None) -> None:
    if area is None:
        walk.say(SystemKey.WHICH_AREA)
        return
    found = measures(walk, Role.RATE, Role.SPACING)
    rows = known(walk, Role.ROWS)
    if found is None or not isinstance(rows, int):
        return
    arguments: dict[str, Argument] = {"rate": found[0], "spacing": found[1], "area": area, "rows": rows}
    try:
        results = formulas()["product-needed"].evaluate(arguments).results
    except InputError:
        walk.say(SystemKey.CANNOT_USE)
        return
    total, each = (shown(walk.wording, amount, MASS, 1) for amount in results.values() if isinstance(amount, Measure))
    walk.say(SystemKey.HOW_MUCH, area=walk.wording.amount(area), total=total, each=each, rows=str(rows))


def _run_out(walk: TurnBuilder) -> None:
    found = measures(walk, Role.RATE, Role.SPACING)
    rows = known(walk, Role.ROWS)
    if found is None or not isinstance(rows, int):
        return
    acre = Measure(value=1, unit="acre")
    arguments: dict[str, Argument] = {"rate": found[0], "spacing": found[1], "area": acre, "rows": rows}
    each = formulas()["product-needed"].evaluate(arguments).results["per_hopper"]
    if isinstance(each, Measure):
        rate = rate_shown(walk.wording, found[0])
        walk.say(SystemKey.RUN_OUT, rate=rate, each=shown(walk.wording, each, SMALL, 1))
