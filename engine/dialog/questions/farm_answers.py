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
from engine.reminders.wall import zone_called

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


def say_stock(walk: TurnBuilder) -> None:
    """Lot by lot, those that are used up left out; then the need for the rest of the field where that is known."""
    lots = walk.state.book.stock.lots
    if not lots:
        script = next(one for one in walk.library.in_order if one.phase is Phase.DELIVERY)
        walk.say(SystemKey.STOCK_NONE, word=script.opening(walk.state.language))
        return
    for one in lots:
        if abs(one.on_hand.value) > LEAST or one.open or one is lots[-1]:
            _say_lot(walk, one)
    _say_lockup(walk)
    _say_need(walk)


def _say_lot(walk: TurnBuilder, one: StockLot) -> None:
    lot = one.lot or walk.wording.say(SystemKey.STOCK_NO_LOT)
    name = walk.wording.say(SystemKey.STOCK_LOT, product=one.product, lot=lot) if one.product else lot
    mass = one.on_hand
    if mass.value < -LEAST:
        walk.say(SystemKey.STOCK_SHORT, lot=name, lacking=_mass(walk, -mass.value))
    else:
        walk.say(
            SystemKey.STOCK_OPEN if one.open else SystemKey.STOCK, lot=name, on_hand=_mass(walk, max(mass.value, 0.0))
        )


def _say_lockup(walk: TurnBuilder) -> None:
    """Where the rest is under lock and who locked it, as far as that was told."""
    found = walk.state.book.stock.lockup
    if found is None or (found.store is None and found.locked_by is None):
        return
    key, at = LOCKED[found.store is not None, found.locked_by is not None], walk.wording.clock(found.at, walk.now)
    walk.say(key, **key.only(where=found.store or "", who=found.locked_by or "", at=at))


def _say_need(walk: TurnBuilder) -> None:
    """What the field that was named last takes, against all that is on hand of its product."""
    rate, spacing, area = (measure_of(walk, role) for role in (Role.RATE, Role.SPACING, Role.FIELD_AREA))
    rows, product = known(walk, Role.ROWS), known(walk, Role.PRODUCT)
    if rate is None or spacing is None or area is None or not isinstance(rows, int):
        return
    total, _ = product_needed(rate, spacing, area, rows)
    held = sum(one.on_hand.value for one in walk.state.book.stock.lots if product in (one.product, None))
    need, told = total.to(POUNDS).value, walk.wording.amount(area)
    if held >= need:
        walk.say(SystemKey.STOCK_NEED, area=told, need=_mass(walk, need), over=_mass(walk, held - need))
    else:
        walk.say(SystemKey.STOCK_NEED_SHORT, area=told, need=_mass(walk, need), lacking=_mass(walk, need - held))


def _mass(walk: TurnBuilder, pounds: float) -> str:
    return walk.wording.amount(walk.wording.usual(Measure(value=pounds, unit=POUNDS)), 1)


# ---------------------------------------------------------------- what was done


def say_summary(walk: TurnBuilder) -> None:
    """While an activity watches, how it stands; else what it applied last and for what the calibration holds."""
    if walk.activity is not None and walk.state.dialog is not None and walk.dialog.activity is not None:
        walk.activity.status(walk)
        return
    last = newest(walk.state.book)
    for one in last:
        _say_applied(walk, one)
    if not last:
        walk.say(AnswerKey.SUMMARY_NONE)
    say_test_done(walk)


def _say_applied(walk: TurnBuilder, one: Applied) -> None:
    told = {
        "where": where_told(walk, one),
        "area": walk.wording.rough(one.area),
        "since": walk.wording.clock(one.since, walk.now),
        "until": walk.wording.clock(one.until, walk.now),
    }
    if one.amount is None:
        walk.say(AnswerKey.SUMMARY_OPEN, **told)
    else:
        walk.say(AnswerKey.SUMMARY, amount=walk.wording.rough(one.amount), **told)


# ---------------------------------------------------------------- when it may be entered


def say_entry(walk: TurnBuilder) -> None:
    """Until when to keep out of each field of the farm, what is treated now, and what nobody told of the label."""
    before = len(walk.lines)
    running = [one for one in keeping_out(walk.state, farm=True).values() if one.until > walk.now]
    for one in sorted(running, key=lambda one: one.until)[:MOST]:
        where = one.field or walk.wording.day(one.since.astimezone(zone_called(walk.zone)).date())
        walk.say(AnswerKey.STILL_KEPT_OUT, where=where, until=walk.wording.clock(one.until, walk.now))
    dialog = walk.state.dialog
    if dialog and dialog.activity and dialog.activity.treating:
        walk.say(AnswerKey.ENTRY_IN_HAND, where=dialog.activity.treating)
    for treated in newest(walk.state.book):
        if kept_out_until(walk.state.book, treated) is None:
            walk.say(AnswerKey.ENTRY_UNTOLD, where=where_told(walk, treated))
    if len(walk.lines) == before:
        walk.say(AnswerKey.ENTRY_NONE)
