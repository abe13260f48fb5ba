"""A shift in parts: one field with one product each, on one day of the calendar; the area and the amount of each.

Areas are those of the timeline. An amount is what the ledger has between two weighings; where these lie in two parts it
is divided by area, and said to be an estimate. Of two products nothing is divided: each may go out at another rate.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from itertools import pairwise
from typing import TYPE_CHECKING

from engine.calculations.rate import area_rate
from engine.dialog.facts.applied import Applied, Open
from engine.dialog.facts.register import folded_name
from engine.quantities import Measure, measure
from engine.shift.record.shift_ledger import Basis, Round, in_pounds
from engine.shift.record.shift_names import FIELD, LOT, PRODUCT, name_at

if TYPE_CHECKING:
    from engine.shift.record.shift_state import ShiftState

LEAST = 0.01
"""Acres: less is no application (own decision), but the moment in which a name was told."""
NEAR = 0.02
"""Share of an area: what lies so near to a told area or a weighing was meant by it (own decision)."""
WHOLE = 1 - NEAR
"""Share of a part over which amounts are to be known, for the amount to be known (own decision)."""


@dataclass(frozen=True)
class _Span:
    since: datetime
    until: datetime


@dataclass(frozen=True)
class _Weighed:
    """What left the hoppers, over which spans of the hoppers; ``used`` [lb] None where something went in unweighed."""

    spans: tuple[_Span, ...]
    used: float | None
    assumed: bool = False


def parts(shift: ShiftState, zone: tzinfo | None = None, put_back: Measure | None = None) -> tuple[Applied, ...]:
    """The parts in order of their first moment; by days where ``zone`` says where the calendar hangs. ``put_back`` is
    what was weighed as left after it."""
    found = _grouped(shift, zone)
    shares = _shares(shift, [*found.values()], _weighed(shift, put_back))
    made = [_part(shift, *one) for one in zip(found.values(), shares, strict=True)]
    return tuple(one for one in made if one.area.value >= LEAST)


def left_parts(shift: ShiftState) -> tuple[Applied, ...]:
    """The parts of the fields in which nothing is planted any more, without amounts: all of them once planting is
    over."""
    moved = any(one.name == FIELD and one.at > shift.started for one in shift.names)
    if not moved and not shift.closing:
        return ()
    here = None if shift.closing else folded_name(name_at(shift.names, FIELD, shift.last))
    found = _grouped(shift, None).items()
    gone = [_part(shift, spans, []) for (field, *_), spans in found if shift.closing or field != here]
    return tuple(one for one in gone if one.area.value >= LEAST)


def _grouped(shift: ShiftState, zone: tzinfo | None) -> dict[tuple[object, ...], list[_Span]]:
    """The spans by field, product and day."""
    found: dict[tuple[object, ...], list[_Span]] = {}
    for span in _spans(shift, zone):
        day = span.since.astimezone(zone).date() if zone else None
        named = (folded_name(name_at(shift.names, name, span.since)) for name in (FIELD, PRODUCT))
        found.setdefault((*named, day), []).append(span)
    return found


def _spans(shift: ShiftState, zone: tzinfo | None) -> Iterator[_Span]:
    """From one change of field, product or day to the next."""
    end = max(shift.last, shift.started)
    changed = {one.at for one in shift.names if one.name in (FIELD, PRODUCT)}
    inside = {at for at in (*changed, *_midnights(shift.started, end, zone)) if shift.started < at < end}
    for since, until in pairwise([shift.started, *sorted(inside), end]):
        yield _Span(since, until)


def _midnights(since: datetime, until: datetime, zone: tzinfo | None) -> Iterator[datetime]:
    if zone is None:
        return
    day = since.astimezone(zone).date() + timedelta(days=1)
    while (at := datetime.combine(day, time(), zone)) < until:
        yield at
        day += timedelta(days=1)


def _part(shift: ShiftState, spans: list[_Span], shares: list[_Share]) -> Applied:
    acres = _acres(shift, spans)
    lots = [name for one in spans for name in _called_in(shift, LOT, one)]
    amount, shared, why = _amount(shares, acres)
    first = spans[0].since
    return Applied(
        since=_begins(shift, first),
        until=max(shift.timeline.settled(spans[-1].until), first),
        area=Measure(value=acres, unit="acre"),
        rate=measure(area_rate(shift.wanted.quantity, shift.spacing.quantity), "lb/acre"),
        field=name_at(shift.names, FIELD, first),
        product=name_at(shift.names, PRODUCT, first),
        lots=tuple(dict.fromkeys(lots)),
        by_clock=not all(_is_told(shift, at, acres) for one in spans for at in (one.since, one.until)),
        amount=None if amount is None else Measure(value=amount, unit="lb"),
        shared=shared,
        open=why,
    )


def _begins(shift: ShiftState, at: datetime) -> datetime:
    """An instant, or the end of the pause that it lies in."""
    return next((one.until for one in shift.pauses if one.until and one.since <= at < one.until), at)


def _called_in(shift: ShiftState, name: str, span: _Span) -> list[str]:
    """All that something was called in a span."""
    before = name_at(shift.names, name, span.since)
    during = [one.value for one in shift.names if one.name == name and span.since < one.at < span.until]
    return [one for one in (before, *during) if one]


def _is_told(shift: ShiftState, at: datetime, acres: float) -> bool:
    """Whether the area by an instant is one that the operator said, or nothing."""
    timeline = shift.timeline
    here = timeline.planted(at).to("acre").value
    known = [0.0, *(one.area.to("acre").value for one in shift.told)]
    return any(abs(here - one) <= NEAR * acres for one in known)


# ---------------------------------------------------------------- amounts


def _weighed(shift: ShiftState, put_back: Measure | None) -> list[_Weighed]:
    """The rounds of the ledger, and what was weighed as left after the last of them."""
    ledger = shift.ledger
    rounds = [*ledger.rounds, *([ledger.round] if ledger.round else [])]
    found = [_of_round(one) for one in rounds]
    return [*found, _rest(shift, put_back)] if put_back is not None and ledger.round is None else found


def _of_round(one: Round) -> _Weighed:
    spans = tuple(_Span(each.start.at, each.end.at) for each in one.intervals.values())
    levels = [level for each in one.intervals.values() for level in (each.start, each.end)]
    used = None if one.used is None else in_pounds(one.used)
    return _Weighed(spans, used, any(level.basis in (Basis.ASSUMED, Basis.RECKONED) for level in levels))


def _rest(shift: ShiftState, put_back: Measure) -> _Weighed:
    """From the last level of all hoppers to the end, by what was put back."""
    ledger = shift.ledger
    read = ledger.read.values()
    since = {row: ledger.read[row].start.at if row in ledger.read else one.level.at for row, one in
             ledger.accounts.items()}  # fmt: skip
    spans = tuple(_Span(at, max(shift.last, at)) for at in since.values())
    if any(one.gap for one in ledger.accounts.values()) or any(one.gap for one in read):
        return _Weighed(spans, None)
    held = sum(in_pounds(one.level.mass) + in_pounds(one.added) for one in ledger.accounts.values())
    held += sum(in_pounds(one.used) for one in read) + in_pounds(ledger.poured)
    return _Weighed(spans, held - in_pounds(put_back))


@dataclass(frozen=True)
class _Share:
    """What a part has of what was weighed: acres, and the share of it, nothing for a stray moment of another part."""

    weighed: _Weighed
    acres: float
    share: float
    mixed: bool


def _shares(shift: ShiftState, every: list[list[_Span]], weighed: list[_Weighed]) -> list[list[_Share]]:
    """What each part has of each weighing. Where a name was told a moment before or after the hoppers were read, that
    moment counts for the part that the weighing is of."""
    found: list[list[_Share]] = [[] for _ in every]
    for one in weighed:
        acres = [_under(shift, one.spans, spans) for spans in every]
        whole = sum(acres)
        stray = [mine <= NEAR * min(whole, _acres(shift, spans)) for mine, spans in zip(acres, every, strict=True)]
        counted = sum(mine for mine, is_stray in zip(acres, stray, strict=True) if not is_stray)
        for mine, is_stray, shares in zip(acres, stray, found, strict=True):
            if mine > 0 and whole >= LEAST:
                share = 0.0 if is_stray or counted <= 0 else mine / counted
                shares.append(_Share(one, mine, share, share < 1 and _mixed(shift, one.spans)))
    return found


def _acres(shift: ShiftState, spans: list[_Span]) -> float:
    return sum(shift.timeline.between(one.since, one.until).to("acre").value for one in spans)


def _amount(shares: list[_Share], acres: float) -> tuple[float | None, bool, Open | None]:
    """What a part got [lb], whether that is an estimate, or why it is not known."""
    counted = [one for one in shares if one.share > 0]
    if any(one.weighed.used is None for one in counted):
        return None, False, Open.UNWEIGHED
    if any(one.weighed.used is not None and one.weighed.used < 0 for one in counted):
        return None, False, Open.UNFIT
    if any(one.mixed for one in counted):
        return None, False, Open.MIXED
    if acres <= 0 or sum(one.acres for one in shares) < WHOLE * acres:
        return None, False, Open.NOT_LEFT
    total = sum((one.weighed.used or 0.0) * one.share for one in counted)
    return total, any(one.weighed.assumed or one.share < 1 for one in counted), None


def _under(shift: ShiftState, hoppers: tuple[_Span, ...], spans: list[_Span]) -> float:
    """Acres that were planted in the spans of the hoppers, the mean of all, within these ``spans`` alone."""
    between = shift.timeline.between
    cut = [(max(one.since, part.since), min(one.until, part.until)) for one in hoppers for part in spans]
    return sum(between(since, until).to("acre").value for since, until in cut if since < until) / len(hoppers)


def _mixed(shift: ShiftState, hoppers: tuple[_Span, ...]) -> bool:
    since, until = min(one.since for one in hoppers), max(one.until for one in hoppers)
    during = (one.value for one in shift.names if one.name == PRODUCT and since < one.at < until)
    return len({name_at(shift.names, PRODUCT, since), *during}) > 1
