"""When the hoppers are to be looked at next: from the last look on, by the plan that the grower chose."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from engine.dialog.facts.role_values import as_measure
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot_roles import Role
from engine.messages import Reported
from engine.quantities import Dimension, Measure, measure, quantity
from engine.reminders.inspection import (
    DEFAULT,
    Filling,
    Limits,
    LookPlan,
    NextLook,
    Passes,
    RefillsOnly,
    Tightening,
    WithinArea,
    next_look,
)
from engine.reminders.local_time import LocalTime
from engine.reminders.price import Outfit, Price, price
from engine.reminders.rules import Decider, Strain, first_run_out
from engine.shift.record.plan import Plan
from engine.shift.record.shift_facts import Emptied, LookSet
from engine.shift.record.shift_ledger import in_pounds
from engine.shift.record.shift_state import REFILLS, ShiftState
from engine.shift.turn import ShiftTurn

ANSWER = timedelta(minutes=2.5)
"""After so long a reminder is answered on the average, where it is within five minutes (own decision)."""
NIGHT = timedelta(hours=12)
"""A night's shift, for what a plan of looks costs (own decision)."""


@dataclass(frozen=True)
class WatchSettings:
    """How a shift is watched, as the settings say. ``zone`` is where the clock on the wall hangs. From ``late_from`` to
    ``late_until`` and after ``long_after`` on shift looks come closer together; None, as usual, where they do not.
    ``efficiency`` is the field efficiency that is believed until acres are reported [1]: 50 to 75 %, typically 65 %
    (ASAE-D497).
    """

    zone: str = "UTC"
    late_from: time | None = None
    late_until: time = time(6)
    long_after: timedelta | None = None
    efficiency: float = 0.65


def wanted(turn: ShiftTurn, settings: WatchSettings) -> LookSet:
    """The look that is wanted now; none in a pause and once planting is over."""
    shift, now = turn.shift, turn.now
    look = _from_last(turn, settings) if shift.runs else None
    if look is None:
        return LookSet(at=now)
    gone = turn.timeline.worked(now) - turn.timeline.worked(shift.looked)
    due = max(max(now + look.interval - gone, now).replace(microsecond=0), now)
    told = max(due, shift.snoozed) if shift.snoozed else due
    ahead = measure(turn.timeline.pace(now).area(told - now), "acre").value
    area = turn.timeline.between(shift.looked, now).value + ahead
    willing = _willing(turn)
    return LookSet(
        at=now,
        due=due,
        area=Measure(value=area, unit="acre"),
        passes=_passes_ahead(turn, ahead) if look.passes and not shift.snoozed else None,
        decided_by=look.decided_by,
        tightened=look.tightened,
        accepted=willing if shift.snoozed and willing and area > willing.to("acre").value else None,
        empty=_empty_before(told, turn) if shift.snoozed else None,
    )


def _willing(turn: ShiftTurn) -> Measure | None:
    """The area of the machine that may be lost, where the grower said one."""
    chosen = turn.shift.looks
    return turn.plan.measure(Role.WILLING) if chosen is None else as_measure(chosen)


def look_plan(turn: ShiftTurn) -> LookPlan:
    """How the hoppers are looked at, as the grower said it last."""
    willing = _willing(turn)
    if willing is not None:
        return WithinArea(willing.quantity)
    return RefillsOnly() if turn.shift.looks == REFILLS else DEFAULT


def _from_last(turn: ShiftTurn, settings: WatchSettings) -> NextLook | None:
    """The look as if reckoned at the last one, so that nothing said meanwhile shortens it twice."""
    shift, timeline = turn.shift, turn.timeline
    return next_look(
        timeline.pace(turn.now),
        look_plan(turn),
        _limits(turn, settings),
        _filling(turn),
        _passes(turn),
        local=LocalTime.of(shift.wall(shift.looked), settings.zone).local,
        on_shift=timeline.worked(shift.looked),
    )


def longest_apart(turn: ShiftTurn) -> Measure | None:
    """The longest time between looks that the grower wants: what he said last."""
    return turn.shift.longest or turn.plan.measure(Role.LONGEST)


def _limits(turn: ShiftTurn, settings: WatchSettings) -> Limits:
    longest, shift = longest_apart(turn), turn.shift
    least = min((shift.filled[row].mass for row in shift.rows), key=in_pounds)
    tightening = None
    if settings.late_from is not None or settings.long_after is not None:
        tightening = Tightening(settings.late_from, settings.late_until, settings.long_after)
    return Limits(
        own=timedelta(seconds=longest.to("s").value) if longest else None,
        unseen=turn.plan.unseen(shift, least),
        answer=ANSWER,
        tightening=tightening,
    )


def _filling(turn: ShiftTurn) -> Filling | None:
    """What was planted from the last filling to the last look, and what was left then until a hopper is empty."""
    shift, timeline = turn.shift, turn.timeline
    found = soonest(shift, turn.plan, shift.looked)
    if found is None:
        return None
    filled = max(one.at for one in shift.filled.values())
    left = timeline.pace(turn.now).area(max(found[1], timedelta()))
    return Filling(timeline.between(filled, shift.looked).quantity, left)


def _passes(turn: ShiftTurn) -> Passes | None:
    """The area of one pass, and what of one was planted at the last look, where the length of a pass is known."""
    length = turn.plan.measure(Role.PASS_LENGTH)
    if length is None:
        return None
    one = measure(length.quantity * turn.timeline.width, "acre").value
    done = turn.timeline.between(turn.shift.entered, turn.shift.looked).value
    return Passes(quantity(one, "acre"), quantity(done % one, "acre"))


def _passes_ahead(turn: ShiftTurn, acres: float) -> int | None:
    """How many passes end from now on until so much more is planted, one at least."""
    passes = _passes(turn)
    return None if passes is None else max(round(acres / measure(passes.area, "acre").value), 1)


def _empty_before(told: datetime, turn: ShiftTurn) -> Emptied | None:
    """The hopper that is empty first, where that is before a look that was put off."""
    found = soonest(turn.shift, turn.plan, turn.now)
    if found is None or turn.now + found[1] >= told:
        return None
    return Emptied(row=found[0], at=turn.now + max(found[1], timedelta()))


def soonest(shift: ShiftState, plan: Plan, at: datetime) -> tuple[int, timedelta] | None:
    """The hopper that is empty first, and the time from a moment until then."""
    left = {row: mass.quantity for row, mass in plan.contents(shift, at).items()}
    return first_run_out(left, plan.area_rate(shift), shift.timeline.pace(shift.last), plan.spacing)


def say_why(turn: ShiftTurn) -> None:
    """Why the next look is when it is, with its figures."""
    look, shift = turn.shift.look, turn.shift
    if look is None or look.due is None or look.area is None:
        turn.say(SystemKey.NO_WHY)
        return
    least = min((shift.filled[row].mass for row in shift.rows), key=in_pounds)
    unseen = turn.rough(measure(turn.plan.unseen(shift, least), "acre"))
    found = soonest(shift, turn.plan, turn.now)
    left = turn.rough(measure(turn.timeline.pace(turn.now).area(max(found[1], timedelta())), "acre")) if found else ""
    match look.decided_by:
        case Decider.FILLING:
            turn.say(SystemKey.WHY_FILLING, area=turn.rough(look.area), left=left)
        case Decider.ACRES:
            willing = _willing(turn)
            turn.say(SystemKey.WHY_ACRES, accepted=turn.rough(willing) if willing else "", unseen=unseen)
        case Decider.RUN_OUT:
            turn.say(SystemKey.WHY_RUN_OUT, row=str(found[0]) if found else "", left=left)
        case Decider.OWN:
            longest = longest_apart(turn)
            turn.say(SystemKey.WHY_OWN, limit=turn.builder.wording.amount(longest) if longest else "")
        case _:
            turn.say(SystemKey.WHY_FLOOR)


# ---------------------------------------------------------------- the plan, its price


def chosen(turn: ShiftTurn, told: Reported) -> None:
    """Take the plan that was said, and say its price."""
    if told.value is None or (isinstance(told.value, Measure) and told.value.value <= 0):
        return
    turn.note(told)
    found, looks, echo = _price(turn), turn.shift.looks, turn.builder.wording.echo
    within, row = (turn.rough(measure(one, "acre")) for one in (found.within, found.within_row))
    figures = {"looks": str(found.looks), "within": within, "row": row}
    if isinstance(told.value, Measure) and told.value.dimension is Dimension.TIME:
        turn.say(SystemKey.LOOKS_TIMED, time=echo(told.value), **figures)
    elif isinstance(looks, Measure):
        turn.say(SystemKey.LOOKS_EVERY, area=echo(looks), **figures)
    else:
        turn.say(SystemKey.LOOKS_REFILLS if looks == REFILLS else SystemKey.LOOKS_ONCE, **figures)


def _price(turn: ShiftTurn) -> Price:
    """What the plan of now comes to in a night, from this planter's own figures."""
    shift, longest = turn.shift, longest_apart(turn)
    hopper = min((turn.plan.full(shift, row) for row in shift.rows), key=in_pounds)
    own = timedelta(seconds=longest.to("s").value) if longest else None
    pace = turn.timeline.pace(turn.now)
    rate = shift.wanted.quantity
    outfit = Outfit(len(shift.rows), turn.plan.spacing, hopper.quantity, rate, pace, own=own)
    return price(look_plan(turn), outfit, NIGHT)


# ---------------------------------------------------------------- at the end of every reply


def look_prompt(shift: ShiftState, wording: Wording, now: datetime) -> str:
    """The next look in one short sentence; nothing once the shift is over."""
    if shift.closing:
        return "" if shift.ended else _closing(shift, wording)
    if shift.over is not None:
        return wording.say(SystemKey.LOOK_OVER_LABEL)
    if shift.paused or shift.look is None or shift.look.due is None:
        return wording.say(SystemKey.LOOK_PAUSED)
    due = shift.snoozed or shift.look.due
    if shift.wall(due) < now and shift.wall(shift.look.at) < now:
        return wording.say(SystemKey.LOOK_OVERDUE, time=wording.clock(shift.wall(due), now))
    return _snoozed(shift, shift.look, wording) if shift.snoozed else _next(shift, shift.look, wording)


def _closing(shift: ShiftState, wording: Wording) -> str:
    """At the end both the area and what is left are asked for, until they were told."""
    stood = shift.stood or shift.last
    acres = bool(shift.told) and shift.told[-1].at >= stood
    match acres, all(one.level.at >= stood for one in shift.ledger.accounts.values()):
        case True, True:
            return wording.say(SystemKey.LOOK_CLOSING_DONE)
        case True, False:
            return wording.say(SystemKey.LOOK_CLOSING_LEFT)
        case False, True:
            return wording.say(SystemKey.LOOK_CLOSING_ACRES)
        case _:
            return wording.say(SystemKey.LOOK_CLOSING)


def _snoozed(shift: ShiftState, look: LookSet, wording: Wording) -> str:
    assert shift.snoozed is not None
    time, area = wording.clock(shift.wall(shift.snoozed), shift.wall(shift.last)), _area(look, wording)
    text = wording.say(SystemKey.SHIFT_SNOOZED, time=time, area=area)
    if look.accepted is not None:
        text = wording.say(SystemKey.SHIFT_SNOOZED_OVER, time=time, area=area, accepted=wording.rough(look.accepted))
    if look.empty is None:
        return text
    at = wording.clock(shift.wall(look.empty.at), shift.wall(look.at))
    empty = wording.say(SystemKey.SHIFT_EMPTY_BEFORE, row=str(look.empty.row), time=at)
    return f"{text} {empty}"


def _next(shift: ShiftState, look: LookSet, wording: Wording) -> str:
    assert look.due is not None
    area, time = _area(look, wording), wording.clock(shift.wall(look.due), shift.wall(look.at))
    if look.due <= look.at:
        return wording.say(SystemKey.LOOK_NOW, area=area)
    match look.decided_by:
        case Decider.FILLING if look.passes:
            text = wording.say(SystemKey.LOOK_PASSES, passes=str(look.passes), time=time, area=area)
        case Decider.FILLING:
            text = wording.say(SystemKey.LOOK_FILLING, time=time, area=area)
        case Decider.RUN_OUT:
            text = wording.say(SystemKey.LOOK_RUN_OUT, time=time, area=area)
        case Decider.OWN:
            text = wording.say(SystemKey.LOOK_OWN, time=time, area=area)
        case _:
            text = wording.say(SystemKey.LOOK_BY, time=time, area=area)
    return " ".join([text, *_reasons(look, wording)])


def _reasons(look: LookSet, wording: Wording) -> list[str]:
    late = [wording.say(SystemKey.LOOK_LATE)] if Strain.LATE in look.tightened else []
    return late + ([wording.say(SystemKey.LOOK_LONG)] if Strain.LONG in look.tightened else [])


def _area(look: LookSet, wording: Wording) -> str:
    return wording.rough(look.area or Measure(value=0, unit="acre"))
