"""What stands at the end of every reply during a shift: the next look and its reason, or what is waited for."""

from __future__ import annotations

from datetime import datetime

from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.quantities import Measure
from engine.reminders.rules import Decider, Strain
from engine.shift.record.shift_facts import LookSet
from engine.shift.record.shift_state import ShiftState


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
