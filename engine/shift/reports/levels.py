"""Reports of what is in the hoppers: weights left, levels, refills."""

from __future__ import annotations

from datetime import datetime

from engine.calculations.hoppers.use import READING, fed_area, unmoved_rows, use_doubt
from engine.dialog.reply.system_texts import SystemKey
from engine.messages import Report, Reported
from engine.quantities import Measure, measure, quantity
from engine.shift.record.shift_ledger import Basis, HopperLevel, in_pounds, pounds
from engine.shift.reports.feeding import empty
from engine.shift.reports.mass_balance import far_off
from engine.shift.turn import ShiftTurn
from engine.values import Value

SLACK = 1.05
"""A hopper may be told to hold so much more than it can [1] (own decision): scales and marks are not exact."""
EXAMPLE = Measure(value=40.0, unit="lb")
LOW, HIGH = 0.5, 1.5
"""What went in fits what was used where it is no less and no more than so many times as much (own decision)."""
NEARLY = 0.85
"""From so much of the room in a hopper on, what went in filled it [1] (own decision)."""
FULL, TOP, EACH, TOGETHER = "full", "top", "each", "together"
REFILLED, STILL = "refilled", "still"


def left(turn: ShiftTurn, told: Reported) -> None:
    """A mass left in each of these hoppers, or a share of what it holds when full."""
    rows = turn.rows(told)
    if not rows or not isinstance(told.value, Measure):
        return
    own = bool(told.rows) and not told.rest
    levels = {row: _level(turn, row, told.value, own) for row in rows}
    if _cannot_hold(turn, levels) or (not told.confirmed and _asks_of_levels(turn, told, levels)):
        return
    fact = turn.noted(told, rows).model_copy(update={"levels": levels, "proofs": _proofs(turn, levels)})
    if not told.confirmed and far_off(turn, told, fact):
        return
    turn.keep(fact)
    _say_left(turn, told, rows, levels[rows[0]].mass)


def _say_left(turn: ShiftTurn, told: Reported, rows: tuple[int, ...], mass: Measure) -> None:
    assert isinstance(told.value, Measure)
    shown = turn.rough(mass) if told.value.unit == "%" else turn.builder.wording.echo(told.value)
    if told.rows:
        turn.say(SystemKey.SHIFT_LEFT, place=turn.place(rows), value=shown)
    else:
        turn.say(SystemKey.SHIFT_ALL_LEFT, value=shown)
    if told.rows and told.value.value <= 0 and turn.shift.runs:
        empty(turn, told, rows)


def _level(turn: ShiftTurn, row: int, value: Measure, own: bool) -> HopperLevel:
    if value.unit != "%":
        return HopperLevel(mass=value, at=turn.when, own=own)
    full = turn.plan.full(turn.shift, row)
    share = full.model_copy(update={"value": full.value * min(value.value, 100.0) / 100})
    return HopperLevel(mass=share, at=turn.when, basis=Basis.TOLD, own=own)


def _cannot_hold(turn: ShiftTurn, levels: dict[int, HopperLevel]) -> bool:
    """Whether a hopper is told to hold more than was ever put in; says it."""
    accounts, capacity = turn.shift.ledger.accounts, turn.plan.capacity
    most = {row: turn.shift.ledger.held(row) for row in levels if not accounts[row].gap}
    most |= {row: capacity for row in levels if row not in most and capacity}
    over = [row for row, mass in most.items() if in_pounds(levels[row].mass) > in_pounds(mass) * SLACK]
    if over:
        place, full = turn.place(tuple(over)), turn.rough(most[over[0]])
        turn.say(SystemKey.SHIFT_MORE_THAN, place=place, value=turn.rough(levels[over[0]].mass), full=full)
    return bool(over)


def _asks_of_levels(turn: ShiftTurn, told: Reported, levels: dict[int, HopperLevel]) -> bool:
    """Whether hoppers did not go down that must have; asks what to make of it."""
    still = _still(turn, levels)
    if not still:
        return False
    down = turn.rough(turn.plan.use(turn.shift, still[0], turn.when).to("lb"))
    whole = told.model_copy(update={"rows": tuple(levels), "rest": False})
    if isinstance(told.value, Measure) and told.value.unit == "%" and told.value.value >= 100:
        filled = whole.model_copy(update={"report": Report.REFILLED, "value": None, "full": True})
        high = whole.model_copy(update={"report": Report.HIGH, "rows": still, "value": None})
        turn.choose(SystemKey.SHIFT_STILL_FULL, {REFILLED: filled, STILL: high}, still, down=down)
        return True
    moved = tuple(row for row in levels if row not in still)
    rest = (told.model_copy(update={"rows": moved, "rest": False, "confirmed": True}),) if moved else ()
    high = whole.model_copy(update={"report": Report.HIGH, "rows": still, "value": None})
    turn.ask(SystemKey.SHIFT_UNMOVED, whole, (*rest, high), still, down=down)
    return True


def _still(turn: ShiftTurn, levels: dict[int, HopperLevel]) -> tuple[int, ...]:
    """Rows whose hoppers must be lower by now than they are told to be."""
    shift = turn.shift
    rows = [row for row in levels if not shift.ledger.accounts[row].gap and row not in shift.troubled]
    if not rows:
        return ()
    used = {row: pounds(in_pounds(shift.ledger.held(row)) - in_pounds(levels[row].mass)).quantity for row in rows}
    expected = {row: turn.plan.use(shift, row, turn.when).quantity for row in rows}
    full = max(in_pounds(turn.plan.full(shift, row)) for row in rows)
    return unmoved_rows(used, expected, use_doubt(quantity(full, "lb")))


def _proofs(turn: ShiftTurn, levels: dict[int, HopperLevel]) -> dict[int, datetime]:
    """Until when what a hopper used proves that its row fed: what was told of all together proves nothing of one row,
    and nothing stands against the operator's word for when it stopped."""
    shift, found = turn.shift, {}
    for row, level in levels.items():
        interval = shift.ledger.accounts[row].read(level)
        dated = row in shift.dated and row in shift.troubled
        area = turn.timeline.between(interval.start.at, level.at)
        if not interval.is_own or dated or level.mass.value <= 0 or area.value <= 0 or in_pounds(interval.used) <= 0:
            continue
        reading = quantity(in_pounds(turn.plan.full(shift, row)) * READING, "lb")
        rate, rows = turn.plan.area_rate(shift), len(shift.rows)
        used = {row: interval.used.quantity}
        fed = measure(fed_area(used, area.quantity, reading, rate, turn.plan.spacing, rows)[row], "acre")
        start = turn.timeline.planted(interval.start.at).value
        found[row] = turn.timeline.reached(fed.model_copy(update={"value": start + fed.value}), level.at)
    return found


# ---------------------------------------------------------------- what went in


def refilled(turn: ShiftTurn, told: Reported) -> None:
    """What was put in: each or together, up to the mark or on top, as it was said, as it can only be, or as asked."""
    rows = turn.rows(told)
    if not rows:
        return
    if turn.refuses(max(turn.shift.ledger.accounts[row].level.at for row in rows)):
        return
    amount = turn.plan.poured(told.value) if isinstance(told.value, Measure) else None
    if amount is None:
        _filled_unweighed(turn, told, rows)
        return
    each = told.each or len(rows) == 1
    if not each and not told.together and isinstance(told.value, Measure) and told.value.unit != "1":
        each_fits, together_fits = (_fits(turn, told, rows, one) for one in (amount, _share(amount, len(rows))))
        if each_fits == together_fits:
            _ask_each(turn, told, rows, amount)
            return
        each = each_fits
    one = amount if each else _share(amount, len(rows))
    full = _is_full(turn, told, rows, one)
    if full is None:
        _ask_full(turn, told.model_copy(update={"rows": rows, "rest": False, "each": each, "together": not each}))
        return
    _keep_refill(turn, told, rows, one, each=each, full=full)


def _keep_refill(
    turn: ShiftTurn, told: Reported, rows: tuple[int, ...], one: Measure, *, each: bool, full: bool
) -> None:
    levels = {row: HopperLevel(mass=turn.plan.full(turn.shift, row), at=turn.when, basis=Basis.TOLD) for row in rows}
    into = {"added": dict.fromkeys(rows, one)} if each else {"poured": pounds(in_pounds(one) * len(rows))}
    proved = {"levels": levels, "proofs": _fed_by(turn, rows, one) if each else {}} if full else {}
    fact = turn.noted(told, rows).model_copy(update={**into, **proved, "full": full})
    if not told.confirmed and far_off(turn, told.model_copy(update={"rows": rows, "each": each, "full": full}), fact):
        return
    lot = turn.shift.now.get("lot")
    turn.keep(fact)
    shown = turn.builder.wording.echo(one) if one == told.value else turn.rough(one)
    mark = turn.rough(turn.plan.full(turn.shift, rows[0]))
    if len(rows) == 1 and full:
        turn.say(SystemKey.SHIFT_REFILLED_ROW, place=turn.place(rows), value=shown, full=mark)
    elif not full:
        turn.say(
            SystemKey.SHIFT_ON_TOP_ROW if len(rows) == 1 else SystemKey.SHIFT_ON_TOP,
            place=turn.place(rows),
            value=shown,
        )
    elif told.rows:
        turn.say(SystemKey.SHIFT_REFILLED, place=turn.place(rows), value=shown, full=mark)
    else:
        turn.say(SystemKey.SHIFT_ALL_REFILLED, value=shown, full=mark)
    _say_with(turn, told, lot)


def _filled_unweighed(turn: ShiftTurn, told: Reported, rows: tuple[int, ...]) -> None:
    """Hoppers that were filled up without a weight: what they hold now is known, what they used is not."""
    levels = {
        row: HopperLevel(mass=turn.plan.full(turn.shift, row), at=turn.when, basis=Basis.ASSUMED, own=False)
        for row in rows
    }
    lot = turn.shift.now.get("lot")
    turn.keep(turn.noted(told, rows).model_copy(update={"levels": levels, "full": True}))
    turn.say(SystemKey.SHIFT_FULL, place=turn.place(rows)) if told.rows else turn.say(SystemKey.SHIFT_ALL_FULL)
    if told.value is not None:
        turn.say(SystemKey.SHIFT_BAG, example=turn.rough(EXAMPLE))
    _say_with(turn, told, lot)


def _say_with(turn: ShiftTurn, told: Reported, lot_before: Value | None) -> None:
    """The lot that came in with it, and whether that is another one; the moment it counts from."""
    if told.lot is not None:
        turn.say(SystemKey.SHIFT_LOT, value=told.lot)
        if told.lot != lot_before:
            turn.say(SystemKey.SHIFT_RECALIBRATE)
    if turn.past is not None:
        turn.say(SystemKey.SHIFT_AS_OF, time=turn.clock(turn.past))


def _fed_by(turn: ShiftTurn, rows: tuple[int, ...], one: Measure) -> dict[int, datetime]:
    """What was used up to a mark that was filled again proves feeding as a level does."""
    shift = turn.shift
    before = {
        row: HopperLevel(mass=pounds(max(in_pounds(turn.plan.full(shift, row)) - in_pounds(one), 0.0)), at=turn.when)
        for row in rows
    }
    return _proofs(turn, before)


def _share(amount: Measure, rows: int) -> Measure:
    return amount.model_copy(update={"value": amount.value / rows})


def _fits(turn: ShiftTurn, told: Reported, rows: tuple[int, ...], one: Measure) -> bool:
    """Whether so much in each hopper fits what was used, or what still goes in."""
    full = _is_full_said(turn, told)
    ways = [full] if full is not None else [True, False]
    return all(any(_fits_row(turn, row, in_pounds(one), way) for way in ways) for row in rows)


def _fits_row(turn: ShiftTurn, row: int, one: float, full: bool) -> bool:
    shift, holds = turn.shift, in_pounds(turn.plan.full(turn.shift, row))
    used = in_pounds(turn.plan.use(shift, row, turn.when))
    if full:
        doubt = 2 * READING * holds
        return LOW * used - doubt <= one <= HIGH * used + doubt
    return in_pounds(turn.plan.content(shift, row, turn.when)) + one <= holds * SLACK


def _is_full_said(turn: ShiftTurn, told: Reported) -> bool | None:
    return turn.shift.fills if told.full is None else told.full


def _is_full(turn: ShiftTurn, told: Reported, rows: tuple[int, ...], one: Measure) -> bool | None:
    """Whether hoppers were filled up to the mark: as said, as settled before, or as capacity leaves no other way."""
    said, capacity = _is_full_said(turn, told), turn.plan.capacity
    if said is not None or capacity is None:
        return said
    rooms = [in_pounds(capacity) - in_pounds(turn.plan.content(turn.shift, row, turn.when)) for row in rows]
    return True if all(in_pounds(one) >= NEARLY * room for room in rooms) else None


def _ask_each(turn: ShiftTurn, told: Reported, rows: tuple[int, ...], amount: Measure) -> None:
    plain = told.model_copy(update={"rows": rows if told.rows or told.rest else (), "rest": False})
    each, together = plain.model_copy(update={"each": True}), plain.model_copy(update={"together": True})
    turn.choose(
        SystemKey.SHIFT_EACH_OR_TOGETHER, {EACH: each, TOGETHER: together}, value=turn.builder.wording.echo(amount)
    )


def _ask_full(turn: ShiftTurn, told: Reported) -> None:
    full, top = (told.model_copy(update={"full": one}) for one in (True, False))
    mark = turn.rough(turn.plan.full(turn.shift, told.rows[0]))
    turn.choose(SystemKey.SHIFT_FULL_OR_TOP, {FULL: full, TOP: top}, mark=mark)
