"""Application records in words: the same lines on paper, at the command line and in the chat."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from bot.record.shift_words import DATE, INDENT, RecordReport
from bot.record.texts import RecordKey
from bot.sheet.form import Form, FormLine, FormPages
from bot.sheet.wall import on_wall
from engine.dialog.turns.elements import Element
from engine.history.application import Application, CalibrationEvidence
from engine.messages import System
from engine.quantities import Measure

ELEMENTS = {
    Element.PRODUCT: RecordKey.PRODUCT_NAME,
    Element.REGISTRATION: RecordKey.REGISTRATION_NUMBER,
    Element.TOTAL: RecordKey.TOTAL_APPLIED,
    Element.LOCATION: RecordKey.LOCATION,
    Element.AREA: RecordKey.AREA,
    Element.CROP: RecordKey.CROP_OR_SITE,
    Element.DATE: RecordKey.APPLIED_ON,
    Element.APPLICATOR: RecordKey.APPLICATOR_NAME,
    Element.CERTIFICATION: RecordKey.CERTIFICATION_NUMBER,
}
"""The elements of an application record, and what they are called."""


def on_paper(records: Sequence[Application], told_in: Callable[[System], RecordReport]) -> FormPages:
    """Records as forms, each told in its own units; by whom and when the last of it was applied goes with the file."""
    zone = told_in(System.US).zone
    return FormPages(
        forms=tuple(form(one, told_in(one.system)) for one in records),
        when=max((one.applied.until.astimezone(zone) for one in records), default=None),
        author=", ".join(dict.fromkeys(one.elements.applicator_name or "" for one in records)).strip(", "),
    )


def form(record: Application, told: RecordReport) -> Form:
    """One record as a form."""
    day = f"{record.elements.applied_on:{DATE}}"
    title = told.say(RecordKey.APPLICATION_TITLE)
    about = [text for text in (record.field, day, record.conversation) if text]
    return Form(
        title=title,
        lines=(" · ".join(about),),
        standing=standing(record, told),
        elements_name=told.say(RecordKey.ELEMENTS_NAME),
        elements=tuple(_elements(record, told)),
        others_name=told.say(RecordKey.GOOD_PRACTICE),
        others=tuple(_others(record, told)),
        missing=told.say(RecordKey.MISSING_HERE),
        footer=tuple(_footer(record, told)),
        keywords=told.say(RecordKey.APPLICATION_KEYWORDS),
    )


def in_words(record: Application, told: RecordReport) -> list[str]:
    """One record in lines."""
    made = form(record, told)
    lines = [_shown(line, told) for line in (*made.elements, *made.others) if line.value is not None]
    return [f"{made.title}, {made.lines[0]}:", *(f"{INDENT}{line}" for line in (*lines, made.standing))]


def _shown(line: FormLine, told: RecordReport) -> str:
    value = f"{line.value} {line.note}".strip()
    return told.say(RecordKey.ELEMENT, name=line.name, value=value)


def standing(record: Application, told: RecordReport) -> str:
    """Whether a record is complete or what it lacks, and until when, and until when it is to be kept."""
    kept = record.elements.keep_until
    keep = told.say(RecordKey.KEEP_UNTIL, date=f"{kept:{DATE}}") if kept else ""
    names = names_of(record, told)
    if not names:
        return f"{told.say(RecordKey.COMPLETE)} {keep}"
    return f"{lacking(record, told)} {keep}"


def lacking(record: Application, told: RecordReport) -> str:
    """What a record lacks and until when, in one line; nothing where it lacks nothing."""
    names = names_of(record, told)
    if not names:
        return ""
    key = RecordKey.LACKING_RESTRICTED if record.restricted else RecordKey.LACKING
    return told.say(key, date=f"{record.last_day:{DATE}}", names=names)


def lacking_of(records: Sequence[Application], told: RecordReport, since: datetime, until: datetime) -> list[str]:
    """The same of what was applied in a span, with its field where there are several; nothing of general use."""
    mine = [one for one in records if since <= one.applied.since <= until and one.restricted is not False]
    lines = [(one, line) for one in mine if (line := lacking(one, told))]
    several = len({one.field for one in mine}) > 1
    return [f"{one.field}: {line}" if several and one.field else line for one, line in lines]


def names_of(record: Application, told: RecordReport) -> str:
    """What a record lacks, by name."""
    return ", ".join(told.say(ELEMENTS[Element(name)]) for name in record.elements.missing)


def _elements(record: Application, told: RecordReport) -> Iterator[FormLine]:
    estimate = told.say(RecordKey.ESTIMATE)
    notes = {
        Element.TOTAL: estimate if record.applied.shared else "",
        Element.AREA: estimate if record.applied.by_clock else "",
    }
    for one in Element:
        value = getattr(record.elements, one.value)
        shown = told.rough(value) if isinstance(value, Measure) else None if value is None else str(value)
        yield FormLine(name=told.say(ELEMENTS[one]), value=shown, note=notes.get(one, ""))


def _others(record: Application, told: RecordReport) -> Iterator[FormLine]:
    """What is known beside the elements."""
    until = record.reentry_until
    restricted = {True: told.say(RecordKey.YES), False: told.say(RecordKey.NO), None: None}[record.restricted]
    applied = record.applied
    away = " ".join(told.put_away(record.put_away)) if record.put_away else None
    interval = told.wording.amount(record.reentry) if record.reentry else None
    yield FormLine(name=told.say(RecordKey.RESTRICTED_USE), value=restricted)
    yield FormLine(name=told.say(RecordKey.FIELD_NAME), value=record.field)
    yield FormLine(name=told.say(RecordKey.BEGAN), value=_moment(applied.since, told))
    yield FormLine(name=told.say(RecordKey.FINISHED_AT), value=_moment(applied.until, told))
    yield FormLine(name=told.say(RecordKey.RATE_WANTED), value=told.rough(applied.rate))
    yield FormLine(name=told.say(RecordKey.LOT), value=", ".join(applied.lots) or None)
    yield FormLine(name=told.say(RecordKey.ACTIVE_INGREDIENT), value=_active(record, told))
    yield FormLine(name=told.say(RecordKey.REENTRY), value=interval)
    yield FormLine(name=told.say(RecordKey.REENTRY_UNTIL), value=_moment(until, told) if until else None)
    yield from _calibrated(record.calibration, told)
    yield FormLine(name=told.say(RecordKey.PUT_AWAY), value=away)
    for text in told.over_label(record.over_label, record.decided_by):
        yield FormLine(name=told.say(RecordKey.LABEL), value=text)


def _active(record: Application, told: RecordReport) -> str | None:
    share = told.wording.amount(record.active) if record.active else None
    return ", ".join(filter(None, (share, record.formulation))) or None


def _calibrated(found: CalibrationEvidence | None, told: RecordReport) -> Iterator[FormLine]:
    if found is None:
        yield FormLine(name=told.say(RecordKey.CALIBRATED), value=None)
        return
    target = told.wording.amount(found.target, 1) if found.target else "?"
    at, good, rows = _moment(found.at, told), str(found.on_target), str(found.rows)
    shown = told.say(RecordKey.CALIBRATED_AS, at=at, run=str(found.run), target=target, good=good, rows=rows)
    low, high = found.label_low, found.label_high
    yield FormLine(name=told.say(RecordKey.CALIBRATED), value=shown)
    yield FormLine(name=told.say(RecordKey.CALIBRATED_RATE), value=told.rough(found.rate) if found.rate else None)
    if found.scale and found.scale_checked:
        checked = told.say(RecordKey.SCALE_CHECKED, name=found.scale, checked=found.scale_checked)
        yield FormLine(name=told.say(RecordKey.SCALE), value=checked)
    elif found.scale:
        yield FormLine(name=told.say(RecordKey.SCALE), value=found.scale)
    limits = f"{told.rough(low)} - {told.rough(high)}" if low and high else None
    yield FormLine(name=told.say(RecordKey.LABEL_RANGE), value=limits)


def _footer(record: Application, told: RecordReport) -> Iterator[str]:
    if record.applied.open is not None and record.elements.total_applied is None:
        yield told.say(RecordKey(f"open_{record.applied.open}"))
    if record.applied.by_clock:
        yield told.say(RecordKey.AREA_BY_CLOCK)
    if record.applied.shared:
        yield told.say(RecordKey.AMOUNT_SHARED)
    if record.elements.is_spot:
        yield told.say(RecordKey.SPOT)
    yield told.say(RecordKey.APPLICATION_RULE)


def _moment(when: datetime, told: RecordReport) -> str:
    """Date and hour on the wall, the hour as the operator's clock counts."""
    return f"{when.astimezone(told.zone):{DATE}} {on_wall(told).hour(when)}"
