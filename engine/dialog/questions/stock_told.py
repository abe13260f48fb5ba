"""What is on hand of each lot, and whether it is enough for what is still to plant."""

from __future__ import annotations

from engine.calculations.catalogue import Argument
from engine.calculations.formulas import formulas
from engine.dialog.facts.stock_facts import POUNDS, StockLot
from engine.dialog.questions.knowledge import MASS, known, measure_of, opening, shown
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Phase, Role
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure

LOCKED = {
    (True, True): AnswerKey.STOCK_LOCKED,
    (True, False): AnswerKey.STOCK_LOCKED_IN,
    (False, True): AnswerKey.STOCK_LOCKED_BY,
}
LEAST = 0.05
"""Pounds below which a lot is told as used up (own decision): a tenth is the smallest weight that is shown."""


def say_stock(walk: TurnBuilder) -> None:
    """Lot by lot, those that are used up left out; then the need for the rest of the field where that is known."""
    lots = walk.state.book.stock.lots
    if not lots:
        script = next(one for one in walk.library.in_order if one.phase is Phase.DELIVERY)
        walk.say(SystemKey.STOCK_NONE, word=opening(walk, script))
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
    arguments: dict[str, Argument] = {"rate": rate, "spacing": spacing, "area": area, "rows": rows}
    total = formulas()["product-needed"].evaluate(arguments).results["total"]
    if not isinstance(total, Measure):
        return
    held = sum(one.on_hand.value for one in walk.state.book.stock.lots if product in (one.product, None))
    need, told = total.to(POUNDS).value, walk.wording.amount(area)
    if held >= need:
        walk.say(SystemKey.STOCK_NEED, area=told, need=_mass(walk, need), over=_mass(walk, held - need))
    else:
        walk.say(SystemKey.STOCK_NEED_SHORT, area=told, need=_mass(walk, need), lacking=_mass(walk, need - held))


def _mass(walk: TurnBuilder, pounds: float) -> str:
    return shown(walk.wording, Measure(value=pounds, unit=POUNDS), MASS, 1)
