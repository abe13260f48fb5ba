"""A pause that is told once it is over: what was planted, what is in doubt and the pace are reckoned as with it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise

from engine.dialog.house import Key
from engine.dialog.shift.books import correct
from engine.dialog.shift.course import latest, paused, went_on
from engine.dialog.shift.doubt import OF_ROWS, scaled
from engine.dialog.shift.fact import NOTHING, Doubted, Proof
from engine.dialog.shift.learning import learned
from engine.dialog.shift.log import Log
from engine.dialog.shift.moment import instant
from engine.dialog.shift.progress import back_at
from engine.dialog.shift.recast import bent, outside, without
from engine.dialog.shift.state import Shift
from engine.messages import Report, Reported
from engine.quantities import Measure

Bends = tuple[tuple[float, float], ...]


def interlude(log: Log, told: Reported) -> None:
    """Note a pause from when to when; one that cannot have been is not kept."""
    ends = _ends(log, told)
    if ends is None:
        return
    since, until = ends
    efficiency = _efficiency(log, since, until)
    bends = _bends(log, since, until, efficiency / log.shift.efficiency)
    if bends is None:
        log.say(Key.SHIFT_PAUSE_PLANTED, since=log.clock(since), until=log.clock(until))
        return
    before, old = log.shift, log.mark
    log.past = since
    mark = _without(old, since, until, bends)
    log.note(told, mark=mark, until=until, bends=bends, efficiency=efficiency)
    log.past = None
    log.say(Key.SHIFT_PAUSE_KEPT, since=log.clock(since), until=log.clock(until), area=log.rough(log.mark.planted))
    if _doubt_anew(log, before, (since, until), bends):
        log.say(Key.SHIFT_DOUBT_ANEW)
    correct(log, by_clock=True)


def _ends(log: Log, told: Reported) -> tuple[Proof, Proof] | None:
    """The moments it began and ended, as reckoned without it."""
    if told.when is None or told.until is None:
        return None
    until = instant(told.until, log.walk.now, log.walk.zone)
    since = instant(told.when, until, log.walk.zone) if until else None
    if until is None or since is None:
        log.say(Key.SHIFT_TIME_SKIPPED)
        return None
    if since < log.shift.started or since >= until:
        log.refuse(since, log.shift.started)
        return None
    stood = log.shift.stood
    if stood and until > stood:
        _ends_now(log, told, since, until, stood)
        return None
    return back_at(log.shift, log.plan, since), back_at(log.shift, log.plan, until)


def _ends_now(log: Log, told: Reported, since: datetime, until: datetime, stood: datetime) -> None:
    """The pause that is still noted is the one that is meant, or a part of it."""
    if log.shift.closing:
        log.say(Key.SHIFT_STANDS, time=log.walk.wording.clock(stood, log.mark.at))
        return
    if since < stood:
        log.past = back_at(log.shift, log.plan, since)
        paused(log, told)
    log.past = back_at(log.shift, log.plan, until)
    went_on(log, told.model_copy(update={"report": Report.WENT_ON}))
    log.past = None


def _bends(log: Log, since: Proof, until: Proof, faster: float) -> Bends | None:
    """Areas as they were reckoned and as they are with the pause; an area that was told stays. ``faster`` is the pace
    since the last of those. None where so much cannot have been planted beside the pause."""
    first, last, now = since.planted.value, until.planted.value, log.mark.planted.value
    told = [0.0, *(one.mark.planted.value for one in log.shift.told)]
    points = [(told[0], told[0])]
    for start, end in (*pairwise(told), (told[-1], None)):
        begin, stop = without(start, first, last), without(now if end is None else end, first, last)
        if end is not None and end > start and stop <= begin:
            return None
        scale = faster if end is None else (end - start) / (stop - begin) if end > start else 1.0
        inside = sorted(one for one in {first, last, now if end is None else end} if start <= one <= (end or now))
        points += [(one, start + (without(one, first, last) - begin) * scale) for one in inside]
    return tuple(points)


def _without(mark: Proof, since: Proof, until: Proof, bends: Bends) -> Proof:
    area = Measure(value=bent(mark.planted.value, bends), unit="acre")
    worked = without(mark.worked, since.worked, until.worked)
    return mark.model_copy(update={"planted": area, "worked": worked})


def _efficiency(log: Log, since: Proof, until: Proof) -> float:
    """Field efficiency as the same areas teach it over less time."""
    told = [one for one in log.shift.told if one.mark.at > since.at]
    if not told:
        return log.shift.efficiency
    believed = told[0].believed
    for before, one in _reports(log.shift):
        if one.at > since.at:
            gone = max(min(one.worked, until.worked) - max(before.worked, since.worked), 0.0)
            length = timedelta(seconds=one.worked - before.worked - gone)
            found = learned(log, believed, one.planted.value - before.planted.value, length)
            believed = believed if found is None else found
    return believed


def _reports(shift: Shift) -> Iterator[tuple[Proof, Proof]]:
    """Each moment whose area was told, with the one before it."""
    return pairwise((Proof(at=shift.started, planted=NOTHING), *(one.mark for one in shift.told)))


def _doubt_anew(log: Log, before: Shift, pause: tuple[Proof, Proof], bends: Bends) -> bool:
    """Put the doubtful stretches that reach into the pause or beyond it into the record as they are with it."""
    found = [one for one in latest(before.doubts) if one.until > pause[0].at]
    for one in found:
        log.walk.add(_with_pause(log, before, one, pause, bends))
    return bool(found)


def _with_pause(log: Log, before: Shift, one: Doubted, pause: tuple[Proof, Proof], bends: Bends) -> Doubted:
    first, last = (back_at(before, log.plan, moment).planted.value for moment in (one.since, one.until))
    area = bent(last, bends) - bent(first, bends)
    factor = area / (last - first) if last > first else 1.0
    times = {name: outside(getattr(one, name), *pause) for name in ("since", "until")}
    instead = one.since if times["since"] != one.since else one.instead
    return scaled(one, factor, "planted", *OF_ROWS).model_copy(update={**times, "instead": instead})
