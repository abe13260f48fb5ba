"""The application record in a conversation: what it lacks, what is asked for it, and when it is reminded of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from engine.dialog.facts.applied import Applied
from engine.dialog.facts.book import Book
from engine.dialog.facts.events import Finished, Taken
from engine.dialog.facts.register import is_restricted, same_name
from engine.dialog.facts.role_values import as_measure
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot_roles import Phase, Role, name_in
from engine.dialog.taking.reentry_interval import kept_out_until
from engine.dialog.taking.season_total import season_total
from engine.dialog.turns.elements import ROLES, Element, RecordTime, keep_until, lacking
from engine.dialog.turns.opening import offers
from engine.quantities import Measure
from engine.reminders.local_time import LocalTime, zone_called
from engine.reminders.reminder import CallOff, Change, Remind

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder

RECORD = "record"
"""The name of the reminder of a record begins with it."""
AHEAD, HOUR = 2, time(8)
"""Days before the last one, and the hour, at which is reminded (own decision); of hours, when a quarter is left."""


def lacks(book: Book, one: Applied) -> tuple[Element, ...]:
    """What the record of something applied lacks."""
    return lacking(one, book.things, _applicator(book))


def _applicator(book: Book) -> str | None:
    """Who was named last in this conversation to be the certified applicator."""
    return next(reversed(book.things.named_here(Role.APPLICATOR)), None)


def newest(book: Book) -> tuple[Applied, ...]:
    """What was applied in the activity that ended last."""
    return book.applied[-book.last_applied :] if book.last_applied else ()


# ---------------------------------------------------------------- the dialog that asks for what is missing


def about(builder: TurnBuilder, script: Script) -> Taken | None:
    """What the dialog begins with: all that is known of the newest record that lacks something, else of the newest;
    None where nothing was applied yet. Says what is missing."""
    book = builder.state.book
    if not book.applied:
        builder.say(AnswerKey.RECORD_NONE)
        return None
    open_ones = [one for one in reversed(book.applied) if lacks(book, one)]
    if not open_ones:
        say_standing(builder, book.applied[-1])
        return None
    one = open_ones[0]
    known = {
        Role.FIELD: one.field,
        Role.PRODUCT: one.product,
        Role.TOTAL: one.amount,
        Role.APPLICATOR: _applicator(book),
    }
    names = {role: name_in(script.records, role) for role in known}
    values = {str(names[role]): value for role, value in known.items() if isinstance(value, str | Measure)}
    builder.say(AnswerKey.RECORD_ABOUT, where=where_told(builder, one), names=_named(builder, lacks(book, one)))
    return Taken(values=values, offers=offers(script, book), applied=one.since)


def say_standing(builder: TurnBuilder, one: Applied) -> None:
    """Whether a record is complete and until when it is to be kept, or what it lacks and by when that is wanted."""
    missing, zone = lacks(builder.state.book, one), zone_called(builder.zone)
    if missing:
        last = builder.within.last_day(one.since, one.until, zone)
        date = builder.wording.day(last)
        builder.say(AnswerKey.RECORD_LACKS, where=where_told(builder, one), names=_named(builder, missing), date=date)
    else:
        kept = keep_until(one.since.astimezone(zone).date())
        builder.say(AnswerKey.RECORD_COMPLETE, where=where_told(builder, one), date=builder.wording.day(kept))


def say_records(builder: TurnBuilder) -> None:
    """The same of all that lack something, the newest first; of the newest one where none does."""
    book = builder.state.book
    found = [one for one in reversed(book.applied) if lacks(book, one)] or [*book.applied[-1:]]
    if not found:
        builder.say(AnswerKey.RECORD_NONE)
    for one in found[:MOST]:
        say_standing(builder, one)
    if any(lacks(book, one) for one in found):
        _say_word(builder)


MOST = 3
"""So many records are told at once."""


def _say_word(builder: TurnBuilder) -> None:
    script = builder.library.of_phase(Phase.RECORD)
    if script is not None:
        builder.say(AnswerKey.RECORD_WORD, word=script.opening(builder.state.language))


def where_told(builder: TurnBuilder, one: Applied) -> str:
    """Field and day of an application."""
    day = builder.wording.day(one.since.astimezone(zone_called(builder.zone)).date())
    return f"{one.field}, {day}" if one.field else day


def _named(builder: TurnBuilder, missing: tuple[Element, ...]) -> str:
    """Elements as the dialog calls what it asks for them."""
    script = builder.library.of_phase(Phase.RECORD)
    if script is None:
        return ", ".join(missing)
    names = [name_in(script.records, ROLES[one]) for one in missing if one in ROLES]
    return ", ".join(builder.wording.name(script.slots[name]).lower() for name in names if name)


# ---------------------------------------------------------------- after a turn


def say_ended(builder: TurnBuilder, before: Book) -> None:
    """After an activity: how long to keep out, what the field has got this year, and what a record that is asked for
    lacks. After the dialog that asks for a record, how that stands."""
    book = builder.state.book
    if book.watched is not before.watched:
        standing = [one for one in newest(book) if _say_applied(builder, one)]
        if standing:
            _say_word(builder)
    recorded = [fact for fact in builder.facts if isinstance(fact, Finished) and fact.phase is Phase.RECORD]
    if recorded:
        was = {one.since: one for one in before.applied if lacks(before, one)}
        told = [one for one in book.applied if one.since in was]
        for one in told[-1:]:
            say_standing(builder, one)
        if len(told) > 1 and lacks(book, told[-2]):
            _say_word(builder)


def _say_applied(builder: TurnBuilder, one: Applied) -> bool:
    """Whether its record lacks something that is wanted."""
    say_treated(builder, one)
    product = builder.state.book.things.known(Role.PRODUCT, one.product)
    if not builder.within.asked_of(is_restricted(product)) or not lacks(builder.state.book, one):
        return False
    say_standing(builder, one)
    return True


def say_treated(builder: TurnBuilder, one: Applied, here: Sequence[Applied] = ()) -> None:
    """How long to keep out of what was treated, and what it has got this year where the label has a limit. ``here`` is
    what was applied in an activity that has not ended."""
    values = builder.state.book.things.known(Role.PRODUCT, one.product)
    interval, until = values.get(Role.REENTRY), kept_out_until(builder.state.book, one)
    latest = _kept_out(builder.state.book, one.field, here)
    if latest is not None and latest > (until or one.until):
        builder.say(AnswerKey.STILL_KEPT_OUT, where=one.field or "", until=builder.wording.clock(latest, one.until))
    elif isinstance(interval, Measure) and until is not None:
        shown = builder.wording.clock(until, one.until)
        length = builder.wording.amount(interval)
        if one.field:
            builder.say(AnswerKey.KEEP_OUT, where=one.field, until=shown, length=length)
        else:
            builder.say(AnswerKey.KEEP_OUT_HERE, until=shown, length=length)
    limit = values.get(Role.SEASON_HIGH)
    if one.field and one.product and isinstance(limit, Measure):
        say_season(builder, one.field, one.product, limit, one.since, here)


def say_kept_out(builder: TurnBuilder, field: str | None, here: Sequence[Applied] = ()) -> None:
    """Warn who enters a field whose re-entry interval still runs, whatever it got; ``here`` is what was applied in an
    activity that has not ended."""
    until = _kept_out(builder.state.book, field, here)
    if field is not None and until is not None and until > builder.now:
        builder.say(AnswerKey.STILL_KEPT_OUT, where=field, until=builder.wording.clock(until, builder.now))


def _kept_out(book: Book, field: str | None, here: Sequence[Applied]) -> datetime | None:
    """Until when to keep out of a field by all that it got on the farm; ``here`` as above."""
    treated = [one for one in (*book.on_farm, *here) if same_name(one.field, field)]
    return max((until for one in treated if (until := kept_out_until(book, one)) is not None), default=None)


def say_season(
    builder: TurnBuilder, field: str, product: str, limit: Measure, at: datetime, here: Sequence[Applied] = ()
) -> None:
    """What a field has got of a product this year, beside the label's season limit. ``here`` is what was applied in an
    activity that has not ended; then the figures alone, what they rest on is said at its end."""
    size = field_size(builder.state.book, field)
    applied = (*builder.state.book.on_farm, *here)
    found = season_total(applied, field, product, at, zone_called(builder.zone), size)
    if found.area.value <= 0:
        return
    key = AnswerKey.SEASON_ABOUT if found.estimate else AnswerKey.SEASON
    amount, area, rate = map(builder.wording.rough, (found.amount, found.area, found.rate))
    builder.say(key, where=field, amount=amount, area=area, rate=rate, limit=builder.wording.amount(limit))
    if size is None and not here:
        builder.say(AnswerKey.SEASON_NO_SIZE, where=field)


def field_size(book: Book, field: str) -> Measure | None:
    """The size of a field, where it was told."""
    return as_measure(book.things.known(Role.FIELD, field).get(Role.FIELD_AREA))


# ---------------------------------------------------------------- reminders


def changes(before: Book, after: Book, builder: TurnBuilder) -> tuple[Change, ...]:
    """What a turn does to the reminders of records: one for each that is asked for and lacks something, called off
    when it is complete."""
    if before.applied is after.applied and before.things is after.things:
        return ()
    old, new = dict(_due(before, builder)), dict(_due(after, builder))
    off = tuple(CallOff(name) for name in old if name not in new)
    return off + tuple(one for name, one in new.items() if name not in old)


def _due(book: Book, builder: TurnBuilder) -> Iterator[tuple[str, Remind]]:
    zone = zone_called(builder.zone)
    for one in book.applied:
        product = book.things.known(Role.PRODUCT, one.product)
        last = builder.within.last(one.since, one.until, zone)
        if builder.within.asked_of(is_restricted(product)) and last > builder.now and lacks(book, one):
            name = f"{RECORD} {one.since.isoformat()}"
            at = max(remind_at(one, builder.within, builder.zone), one.until)
            yield name, Remind(name, LocalTime.of(at, builder.zone), body={RECORD: one.since.isoformat()})


def remind_at(one: Applied, within: RecordTime, zone: str) -> datetime:
    """When the record of something applied is reminded of."""
    place = zone_called(zone)
    if within.hours is not None:
        return within.last(one.since, one.until, place) - timedelta(hours=within.hours / 4)
    day = within.last_day(one.since, one.until, place) - timedelta(days=min(AHEAD, within.days // 2))
    return datetime.combine(day, HOUR, place)
