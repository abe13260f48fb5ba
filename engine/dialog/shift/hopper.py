"""Reports of what is in the hoppers: weights left, levels, refills."""

from __future__ import annotations

from engine.calculations.use import READING, fed_area
from engine.dialog.house import Key
from engine.dialog.roles import Role
from engine.dialog.shift.fact import Proof, Use
from engine.dialog.shift.feeding import empty
from engine.dialog.shift.log import Log
from engine.dialog.shift.progress import reached
from engine.dialog.shift.recast import LEAST_AREA
from engine.messages import Reported
from engine.quantities import Measure, measure, quantity

SLACK = 1.05
FAR = 3.0
"""A refill this many times what was to be used is no measure of use (own decision)."""
EXAMPLE = Measure(value=40.0, unit="lb")


def left(log: Log, told: Reported) -> None:
    """A mass left in each of these hoppers, or a share of what it was filled with."""
    rows = log.rows(told)
    value = told.value
    if not rows or not isinstance(value, Measure):
        return
    levels = {row: _level(log, row, value) for row in rows}
    over = [row for row in rows if levels[row].to("kg").value > log.shift.filled[row].mass.to("kg").value * SLACK]
    if over:
        full = log.rough(log.shift.filled[over[0]].mass)
        log.say(Key.SHIFT_MORE_THAN, place=log.place(tuple(over)), value=log.rough(levels[over[0]]), full=full)
        return
    uses = {row: use for row in rows if (use := _use(log, row, levels[row], _is_own(told))) is not None}
    told_of = {row: use for row, use in uses.items() if levels[row].value > 0}
    log.note(told, rows, hoppers=levels, uses=uses, proofs=_proofs(log, told_of))
    shown = log.rough(levels[rows[0]]) if value.unit == "%" else log.walk.wording.echo(value)
    if told.rows:
        log.say(Key.SHIFT_LEFT, place=log.place(rows), value=shown)
    else:
        log.say(Key.SHIFT_ALL_LEFT, value=shown)
    if told.rows and value.value <= 0 and log.shift.runs:
        empty(log, told, rows)


def _is_own(told: Reported) -> bool:
    """Whether it was told of these rows, not of all that were left over together."""
    return bool(told.rows) and not told.rest


def _level(log: Log, row: int, value: Measure) -> Measure:
    if value.unit != "%":
        return value
    full = log.shift.filled[row].mass
    return full.model_copy(update={"value": full.value * min(value.value, 100.0) / 100})


def refilled(log: Log, told: Reported) -> None:
    """What was put in. A hopper counts as filled up to where it was, unless what was left in it has just been told."""
    rows = log.rows(told)
    if not rows:
        return
    if log.refuses(max(log.shift.hoppers[row].at or log.shift.started for row in rows)):
        return
    each = _each(log, told, len(rows))
    mark = log.moment
    known = {row: log.shift.hoppers[row] for row in rows}
    hoppers: dict[int, Measure] = {}
    uses: dict[int, Use] = {}
    for row in rows:
        full = log.shift.filled[row].mass
        just = known[row].planted.value >= mark.planted.value and mark.planted.value > 0
        if each is not None and just:
            hoppers[row] = Measure(value=known[row].mass.to("lb").value + each.to("lb").value, unit="lb")
            continue
        if each is not None and _on_top(log, row, each):
            on_top = log.plan.content(log.shift, row, mark.planted)
            hoppers[row] = Measure(value=on_top.to("lb").value + each.to("lb").value, unit="lb")
            continue
        hoppers[row] = full
        before = None if each is None else full.to("lb").value - each.to("lb").value
        use = None if before is None else _use(log, row, Measure(value=before, unit="lb"), _is_own(told))
        if use is not None:
            uses[row] = use
    log.note(told, rows, hoppers=hoppers, uses=uses, proofs=_proofs(log, uses))
    _say_refilled(log, told, rows, each, bool(uses))


def _on_top(log: Log, row: int, each: Measure) -> bool:
    """Whether far more went in than can have been used: then it came on top of what was left."""
    expected = log.plan.use(log.shift, log.shift.filled[row], log.moment.planted).to("lb").value
    return each.to("lb").value > FAR * (expected + READING * log.shift.filled[row].mass.to("lb").value)


def _say_refilled(log: Log, told: Reported, rows: tuple[int, ...], each: Measure | None, used: bool) -> None:
    shown = _shown(log, told, each) if each is not None else ""
    if each is not None and not used:
        log.say(Key.SHIFT_ON_TOP, place=log.place(rows), value=shown)
    elif each is not None and told.rows:
        log.say(Key.SHIFT_REFILLED, place=log.place(rows), value=shown)
    elif each is not None:
        log.say(Key.SHIFT_ALL_REFILLED, value=shown)
    elif told.rows:
        log.say(Key.SHIFT_FULL, place=log.place(rows))
    else:
        log.say(Key.SHIFT_ALL_FULL)
    if told.value is not None and each is None:
        log.say(Key.SHIFT_BAG, example=log.rough(EXAMPLE))
    if told.lot is not None:
        log.say(Key.SHIFT_LOT, value=told.lot)
    if log.past is not None:
        log.say(Key.SHIFT_AS_OF, time=log.clock(log.past))


def _shown(log: Log, told: Reported, each: Measure) -> str:
    """The weight as it was said, where it was said of one hopper."""
    return log.walk.wording.echo(each) if each == told.value else log.rough(each)


def _each(log: Log, told: Reported, hoppers: int) -> Measure | None:
    """What went into each hopper: said of each, of one row, or as a total over all."""
    if not isinstance(told.value, Measure):
        return None
    amount = told.value
    if amount.unit == "1":
        bag = log.plan.measure(Role.BAG)
        if bag is None:
            return None
        amount = bag.model_copy(update={"value": bag.value * amount.value})
    share = 1 if told.each else hoppers
    return amount.model_copy(update={"value": amount.value / share})


def _use(log: Log, row: int, now: Measure, own: bool) -> Use | None:
    """What a hopper used since it was filled; None where nothing has been planted since."""
    filled = log.shift.filled[row]
    area = log.moment.planted.value - filled.planted.value
    gone = filled.mass.to("lb").value - now.to("lb").value
    if area < LEAST_AREA:
        return None
    mass, planted = Measure(value=max(gone, 0.0), unit="lb"), Measure(value=area, unit="acre")
    return Use(mass=mass, area=planted, since=filled.planted, own=own)


def _proofs(log: Log, uses: dict[int, Use]) -> dict[int, Proof]:
    """Until when what a hopper used proves that its row fed: what was told of all together proves nothing of one row,
    and nothing stands against the operator's word for when it stopped."""
    found: dict[int, Proof] = {}
    for row, use in uses.items():
        if not use.own or (row in log.shift.dated and row in log.shift.troubled):
            continue
        reading = quantity(log.shift.filled[row].mass.to("lb").value * READING, "lb")
        rate, rows = log.plan.area_rate(log.shift), len(log.shift.rows)
        fed = fed_area({row: use.mass.quantity}, use.area.quantity, reading, rate, log.plan.spacing, rows)[row]
        start = log.shift.filled[row].planted.value
        found[row] = reached(log.shift, log.moment, start + measure(fed, "acre").value)
    return found
