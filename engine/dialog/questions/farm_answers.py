"""What is known beside the planter: what is on hand, what was done last, and when a treated field may be entered.

A field may be entered at the moments at which the bell rings for it.
"""

from __future__ import annotations

from engine.dialog.facts.applied import Applied
from engine.dialog.facts.stock_facts import POUNDS, StockLot
from engine.dialog.questions.knowledge import known, measure_of, product_needed
from engine.dialog.questions.outlook import say_test_done
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Phase, Role
from engine.dialog.taking.application_taking import newest, where_told
from engine.dialog.taking.reentry_interval import keeping_out, kept_out_until
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure
from engine.reminders.local_time import zone_called

LOCKED = {
    (True, True): AnswerKey.STOCK_LOCKED,
    (True, False): AnswerKey.STOCK_LOCKED_IN,
    (False, True): AnswerKey.STOCK_LOCKED_BY,
}
LEAST = 0.05
"""Pounds below which a lot is told as used up (own decision): a tenth is the smallest weight that is shown."""
MOST = 5
"""So many fields are told at once."""


# ---------------------------------------------------------------- what is on hand


def say_stock(builder: TurnBuilder) -> None:
    """Lot by lot, those that are used up left out; then the need for the rest of the field where that is known."""
    lots = builder.state.book.stock.lots
    if not lots:
        script = next(one for one in builder.library.in_order if one.phase is Phase.DELIVERY)
        builder.say(SystemKey.STOCK_NONE, word=script.opening(builder.state.language))
        return
    for one in lots:
        if abs(one.on_hand.value) > LEAST or one.open or one is lots[-1]:
            _say_lot(builder, one)
    _say_lockup(builder)
    _say_need(builder)


def _say_lot(builder: TurnBuilder, one: StockLot) -> None:
    lot = one.lot or builder.wording.say(SystemKey.STOCK_NO_LOT)
    name = builder.wording.say(SystemKey.STOCK_LOT, product=one.product, lot=lot) if one.product else lot
    mass = one.on_hand
    if mass.value < -LEAST:
        builder.say(SystemKey.STOCK_SHORT, lot=name, lacking=_mass(builder, -mass.value))
    else:
        builder.say(
            SystemKey.STOCK_OPEN if one.open else SystemKey.STOCK,
            lot=name,
            on_hand=_mass(builder, max(mass.value, 0.0)),
        )


def _say_lockup(builder: TurnBuilder) -> None:
    """Where the rest is under lock and who locked it, as far as that was told."""
    found = builder.state.book.stock.lockup
    if found is None or (found.store is None and found.locked_by is None):
        return
    key, at = LOCKED[found.store is not None, found.locked_by is not None], builder.wording.clock(found.at, builder.now)
    builder.say(key, **key.only(where=found.store or "", who=found.locked_by or "", at=at))


def _say_need(builder: TurnBuilder) -> None:
    """What the field that was named last takes, against all that is on hand of its product."""
    rate, spacing, area = (measure_of(builder, role) for role in (Role.RATE, Role.SPACING, Role.FIELD_AREA))
    rows, product = known(builder, Role.ROWS), known(builder, Role.PRODUCT)
    if rate is None or spacing is None or area is None or not isinstance(rows, int):
        return
    total, _ = product_needed(rate, spacing, area, rows)
    held = sum(one.on_hand.value for one in builder.state.book.stock.lots if product in (one.product, None))
    need, told = total.to(POUNDS).value, builder.wording.amount(area)
    if held >= need:
        builder.say(SystemKey.STOCK_NEED, area=told, need=_mass(builder, need), over=_mass(builder, held - need))
    else:
        builder.say(
            SystemKey.STOCK_NEED_SHORT, area=told, need=_mass(builder, need), lacking=_mass(builder, need - held)
        )


def _mass(builder: TurnBuilder, pounds: float) -> str:
    return builder.wording.amount(builder.wording.usual(Measure(value=pounds, unit=POUNDS)), 1)


# ---------------------------------------------------------------- what was done


def say_summary(builder: TurnBuilder) -> None:
    """While an activity watches, how it stands; else what it applied last and for what the calibration holds."""
    if builder.activity is not None and builder.state.dialog is not None and builder.dialog.activity is not None:
        builder.activity.status(builder)
        return
    last = newest(builder.state.book)
    for one in last:
        _say_applied(builder, one)
    if not last:
        builder.say(AnswerKey.SUMMARY_NONE)
    say_test_done(builder)


def _say_applied(builder: TurnBuilder, one: Applied) -> None:
    told = {
        "where": where_told(builder, one),
        "area": builder.wording.rough(one.area),
        "since": builder.wording.clock(one.since, builder.now),
        "until": builder.wording.clock(one.until, builder.now),
    }
    if one.amount is None:
        builder.say(AnswerKey.SUMMARY_OPEN, **told)
    else:
        builder.say(AnswerKey.SUMMARY, amount=builder.wording.rough(one.amount), **told)


# ---------------------------------------------------------------- when it may be entered


def say_entry(builder: TurnBuilder) -> None:
    """Until when to keep out of each field of the farm, what is treated now, and what nobody told of the label."""
    before = len(builder.lines)
    running = [one for one in keeping_out(builder.state, farm=True).values() if one.until > builder.now]
    for one in sorted(running, key=lambda one: one.until)[:MOST]:
        where = one.field or builder.wording.day(one.since.astimezone(zone_called(builder.zone)).date())
        builder.say(AnswerKey.STILL_KEPT_OUT, where=where, until=builder.wording.clock(one.until, builder.now))
    dialog = builder.state.dialog
    if dialog and dialog.activity and dialog.activity.treating:
        builder.say(AnswerKey.ENTRY_IN_HAND, where=dialog.activity.treating)
    for treated in newest(builder.state.book):
        if kept_out_until(builder.state.book, treated) is None:
            builder.say(AnswerKey.ENTRY_UNTOLD, where=where_told(builder, treated))
    if len(builder.lines) == before:
        builder.say(AnswerKey.ENTRY_NONE)
