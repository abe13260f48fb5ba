"""The application record of a restricted-use product in the United States: one for each field, product and day.

Source: 7 CFR 110.3, see ``engine.dialog.turns.elements``. What stands beside the nine elements is no part of that rule:
times, active ingredient and re-entry interval are what the Worker Protection Standard wants displayed (40 CFR 170.311),
rate, lot, calibration and what was put back are good practice.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, timedelta, tzinfo

from engine.calculations.advisor.verdict import PASSED, Verdict
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.register import is_restricted, same_name
from engine.dialog.facts.role_values import as_measure, as_word
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.elements import RecordTime, given, keep_until
from engine.errors import OutOfDomain
from engine.history.put_away import StorageRecord
from engine.history.records import Calibration, calibrations
from engine.history.registry import Registry, ToldLater, registry
from engine.history.shifts import ShiftRecord, shifts
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending
from engine.messages import System
from engine.quantities import Dimension, Measure
from engine.shift.record.parts import parts
from engine.shift.record.shift_facts import OverLabel
from engine.values import Value

SPOT_BELOW = Measure(value=0.1, unit="acre")


@dataclass(frozen=True)
class ApplicationRecord:
    """The nine elements; None is one that is not known yet.

    ``total_applied`` is a mass or a volume of product, ``area`` the whole area covered also where only a band or the
    row was treated. Raises OutOfDomain for a quantity of another kind.
    """

    product_name: str | None = None
    registration_number: str | None = None
    total_applied: Measure | None = None
    location: str | None = None
    area: Measure | None = None
    crop_or_site: str | None = None
    applied_on: date | None = None
    applicator_name: str | None = None
    certification_number: str | None = None

    def __post_init__(self) -> None:
        _of_kind("total_applied", self.total_applied, Dimension.MASS, Dimension.VOLUME)
        _of_kind("area", self.area, Dimension.AREA)

    @property
    def missing(self) -> tuple[str, ...]:
        """The elements that are not there, by name; blank text is not there."""
        return tuple(field.name for field in fields(self) if not given(getattr(self, field.name)))

    @property
    def keep_until(self) -> date | None:
        """The first day on which the record need not be kept any more; from 29 February on, 1 March."""
        return self.applied_on and keep_until(self.applied_on)

    @property
    def is_spot(self) -> bool:
        """Whether less than a tenth of an acre was treated, for which a shorter record is enough."""
        return self.area is not None and self.area.to("acre").value < SPOT_BELOW.value


@dataclass(frozen=True)
class CalibrationEvidence:
    """The calibration that an application rests on: when, its last run, the rows ``on_target`` of ``rows`` in it, what
    a row should catch, the rate that was wanted, and the label's range, as far as they were told."""

    at: datetime
    run: int
    on_target: int
    rows: int
    target: Measure | None
    rate: Measure | None
    label_low: Measure | None
    label_high: Measure | None
    scale: str | None = None
    scale_checked: str | None = None
    """When the scale was held against a known weight, as it was told."""


@dataclass(frozen=True)
class Application:
    """What was applied on one field with one product on one day: the ``elements``, and all that is good practice.

    ``ended`` is when it was over on that field, on this day or a later one. ``last_day`` is the last day to complete
    the elements; ``field`` is the name in use on the farm. ``restricted`` None: that was not told.
    """

    conversation: str
    system: System
    elements: ApplicationRecord
    applied: Applied
    ended: datetime
    last_day: date
    restricted: bool | None = None
    active: Measure | None = None
    formulation: str | None = None
    reentry: Measure | None = None
    calibration: CalibrationEvidence | None = None
    put_away: StorageRecord | None = None
    over_label: tuple[OverLabel, ...] = ()
    decided_by: tuple[str, ...] = ()
    planter: str | None = None

    @property
    def field(self) -> str | None:
        return self.applied.field

    @property
    def reentry_until(self) -> datetime | None:
        """When the re-entry interval ends; None where the label's was not told."""
        if self.reentry is None:
            return None
        return self.ended + timedelta(hours=self.reentry.to("h").value)


def applications(turns: Sequence[StoredTurn], zone: tzinfo, within: RecordTime) -> tuple[Application, ...]:
    """The records of one conversation, given from its first turn on, oldest first; the calendar is that of ``zone``."""
    known, tests = registry(turns), calibrations(turns)
    found: list[Application] = []
    for record in shifts(turns):
        for part in _told_later(_parts(record, zone), record, known.later):
            new = _one(record, part, known, tests, zone, within)
            same = next((place for place, one in enumerate(found) if _is_same(one, new)), None)
            if same is None:
                found.append(new)
            else:
                found[same] = _together(found[same], new)
    return tuple(found)


def _parts(record: ShiftRecord, zone: tzinfo) -> tuple[Applied, ...]:
    """The parts of a shift; what was put back and does not agree with the books leaves an amount an estimate."""
    away = record.put_away
    if away is None or away.put_back is None:
        return parts(record.state, zone)
    before = {one.since: one.amount for one in parts(record.state, zone)}
    made = parts(record.state, zone, away.put_back)
    rests = {one.since for one in made if one.amount is not None and before.get(one.since) is None}
    odd = frozenset() if away.agrees else frozenset(rests)
    return tuple(one.model_copy(update={"shared": True}) if one.since in odd else one for one in made)


def _told_later(made: Iterable[Applied], record: ShiftRecord, later: Sequence[ToldLater]) -> tuple[Applied, ...]:
    """The parts with names and amounts that were told later of what was applied, by days where it took several."""
    made = tuple(made)
    for whole in record.state.applied():
        values = {role: value for one in later if one.since == whole.since for role, value in one.values.items()}
        mine = [one for one in made if _belongs(one, whole)]
        acres = sum(one.area.to("acre").value for one in mine)
        done = {one.since: _with(one, values, one.area.to("acre").value / acres) for one in mine if values}
        made = tuple(done.get(one.since, one) if one in mine else one for one in made)
    return made


def _belongs(part: Applied, whole: Applied) -> bool:
    return (part.field, part.product) == (whole.field, whole.product) and whole.since <= part.since <= whole.until


def _with(part: Applied, values: dict[Role, Value], share: float) -> Applied:
    total = values.get(Role.TOTAL)
    if not isinstance(total, Measure) or part.amount is not None or share > 1 - 1e-9:
        return part.told(values)
    mine = total.model_copy(update={"value": total.value * share})
    return part.told({**values, Role.TOTAL: mine}).model_copy(update={"shared": True})


def _one(
    record: ShiftRecord,
    part: Applied,
    known: Registry,
    tests: Sequence[Calibration],
    zone: tzinfo,
    within: RecordTime,
) -> Application:
    at, ended = part.until, _ended(record, part)
    field = known.name(Role.FIELD, part.field) if part.field else None
    name = known.name(Role.PRODUCT, part.product) if part.product else None
    part = part.model_copy(update={"field": field, "product": name})
    product, place = known.values(Role.PRODUCT, name, at), known.values(Role.FIELD, field, at)
    person = known.applicator(at)
    over = tuple(one for one in record.over_label if part.since <= one.at <= part.until)
    return Application(
        conversation=record.conversation,
        system=record.system,
        elements=ApplicationRecord(
            product_name=name,
            registration_number=as_word(product.get(Role.REGISTRATION)),
            total_applied=part.amount,
            location=as_word(place.get(Role.LOCATION)),
            area=part.area,
            crop_or_site=as_word(place.get(Role.CROP)),
            applied_on=part.since.astimezone(zone).date(),
            applicator_name=person,
            certification_number=as_word(known.values(Role.APPLICATOR, person, at).get(Role.CERTIFICATION)),
        ),
        applied=part,
        ended=ended,
        last_day=within.last_day(part.since, at, zone),
        restricted=is_restricted(product),
        active=as_measure(product.get(Role.ACTIVE)),
        formulation=as_word(product.get(Role.FORMULATION)),
        reentry=as_measure(product.get(Role.REENTRY)),
        calibration=_evidence(record, tests, known),
        put_away=record.put_away,
        over_label=over,
        decided_by=record.decided_by,
        planter=known.name(Role.PLANTER, record.planter) if record.planter else None,
    )


def _ended(record: ShiftRecord, part: Applied) -> datetime:
    """When a part that goes on after midnight is over."""
    return max([part.until, *(one.until for one in record.state.applied() if _belongs(part, one))])


def _evidence(record: ShiftRecord, tests: Sequence[Calibration], known: Registry) -> CalibrationEvidence | None:
    """The last calibration that was finished before the shift."""
    before = [one for one in tests if one.last <= record.first and one.ending is Ending.FINISHED and one.runs]
    if not before:
        return None
    test = before[-1]
    judged = [run for run in test.runs if run.rows.get(Role.VERDICT)]
    last = judged[-1] if judged else test.runs[-1]
    passed = [row for row, word in last.rows.get(Role.VERDICT, {}).items() if Verdict(str(word)) in PASSED]
    values = {Role(name): value for name, value in test.values.items() if name in set(Role)}
    scale = as_word(values.get(Role.SCALE))
    return CalibrationEvidence(
        at=last.when,
        run=last.number,
        on_target=len(passed),
        rows=len(test.rows),
        target=as_measure(values.get(Role.TARGET)),
        rate=as_measure(values.get(Role.RATE)),
        label_low=as_measure(values.get(Role.LABEL_LOW)),
        label_high=as_measure(values.get(Role.LABEL_HIGH)),
        scale=known.name(Role.SCALE, scale) if scale else None,
        scale_checked=as_word(known.values(Role.SCALE, scale, last.when).get(Role.SCALE_CHECKED)),
    )


# ---------------------------------------------------------------- a field that was planted in several shifts of a day


def _is_same(one: Application, new: Application) -> bool:
    alikes = same_name(one.field, new.field) and same_name(one.elements.product_name, new.elements.product_name)
    return alikes and one.elements.applied_on == new.elements.applied_on


def _together(one: Application, new: Application) -> Application:
    area = _sum(one.applied.area, new.applied.area)
    amount = _sum(one.applied.amount, new.applied.amount)
    assert area is not None
    applied = new.applied.model_copy(
        update={
            "since": one.applied.since,
            "area": area,
            "by_clock": one.applied.by_clock or new.applied.by_clock,
            "amount": amount,
            "shared": one.applied.shared or new.applied.shared,
            "open": one.applied.open or new.applied.open if amount is None else None,
            "lots": tuple(dict.fromkeys((*one.applied.lots, *new.applied.lots))),
        }
    )
    return replace(
        new,
        applied=applied,
        elements=replace(new.elements, area=area, total_applied=amount),
        put_away=new.put_away or one.put_away,
        over_label=(*one.over_label, *new.over_label),
        decided_by=tuple(dict.fromkeys((*one.decided_by, *new.decided_by))),
    )


def _sum(one: Measure | None, other: Measure | None) -> Measure | None:
    if one is None or other is None:
        return None
    return one.model_copy(update={"value": one.value + other.to(one.unit).value})


def _of_kind(name: str, given: Measure | None, *kinds: Dimension) -> None:
    if given is not None and (given.dimension not in kinds or given.value < 0):
        raise OutOfDomain(name, given, f"this is {' or '.join(kinds)}, nothing or more")
