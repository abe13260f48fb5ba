"""The application record of a restricted-use product in the United States, and what it still lacks.

Source: 7 CFR 110.3 (federal recordkeeping for certified private applicators): nine elements, recorded within 14 days
and kept for two years. States can ask for more, and the label and local law decide. Calibration data is no element of
it: good practice, kept in the calibration record.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date, timedelta, tzinfo

from engine.errors import OutOfDomain
from engine.history.shifts import ShiftRecord
from engine.quantities import Dimension, Measure

RECORD_WITHIN = timedelta(days=14)
KEEP_YEARS = 2
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
        return tuple(field.name for field in fields(self) if not _given(getattr(self, field.name)))

    @property
    def record_by(self) -> date | None:
        """The last day to complete the record."""
        return self.applied_on and self.applied_on + RECORD_WITHIN

    @property
    def keep_until(self) -> date | None:
        """The first day on which the record need not be kept any more; from 29 February on, 1 March."""
        if self.applied_on is None:
            return None
        next_day = self.applied_on + timedelta(days=1)
        later = self.applied_on.year + KEEP_YEARS
        leap = (self.applied_on.month, self.applied_on.day) == (2, 29)
        return next_day.replace(year=later) if leap else self.applied_on.replace(year=later)

    @property
    def is_spot(self) -> bool:
        """Whether less than a tenth of an acre was treated, for which a shorter record is enough."""
        return self.area is not None and self.area.to("acre").value < SPOT_BELOW.value

    def cells(self) -> dict[str, object]:
        """The record as one line of a table, empty where an element is missing."""
        return {field.name: _text(getattr(self, field.name)) for field in fields(self)}


def application(shift: ShiftRecord, zone: tzinfo) -> ApplicationRecord:
    """What a shift gives of the record; the rest is for a person to add.

    A shift with several products leaves product and amount open, as each product needs its own record. The date is the
    day on which it began, in ``zone``. Who is the certified applicator is not taken from who was at the wheel.
    """
    single = shift.products[0] if len(shift.products) == 1 else None
    return ApplicationRecord(
        product_name=single,
        total_applied=shift.balance.used if shift.balance.is_weighed and len(shift.products) <= 1 else None,
        location="; ".join(shift.fields) or None,
        area=shift.planted,
        applied_on=shift.started_at.astimezone(zone).date(),
    )


def _of_kind(name: str, given: Measure | None, *kinds: Dimension) -> None:
    if given is not None and (given.dimension not in kinds or given.value < 0):
        raise OutOfDomain(name, given, f"this is {' or '.join(kinds)}, nothing or more")


def _given(value: object) -> bool:
    return bool(value.strip()) if isinstance(value, str) else value is not None


def _text(value: object) -> str:
    return "" if value is None else str(value)
