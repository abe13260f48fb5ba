"""The elements of the application record of a restricted-use product in the United States: what is lacking, until when.

Source: 7 CFR 110.3 (federal recordkeeping for certified private applicators): nine elements, recorded within 14 days
and kept for two years. States can ask for more, or for it sooner; the label and local law decide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from enum import StrEnum

from engine.dialog.facts.applied import Applied
from engine.dialog.facts.register import Register
from engine.dialog.schema.slot_roles import Role

FEDERAL_DAYS, KEEP_YEARS = 14, 2


class Element(StrEnum):
    """The nine elements, in the order of the rule."""

    PRODUCT = "product_name"
    REGISTRATION = "registration_number"
    TOTAL = "total_applied"
    LOCATION = "location"
    AREA = "area"
    CROP = "crop_or_site"
    DATE = "applied_on"
    APPLICATOR = "applicator_name"
    CERTIFICATION = "certification_number"


ROLES: Mapping[Element, Role] = {
    Element.PRODUCT: Role.PRODUCT,
    Element.REGISTRATION: Role.REGISTRATION,
    Element.TOTAL: Role.TOTAL,
    Element.LOCATION: Role.LOCATION,
    Element.CROP: Role.CROP,
    Element.APPLICATOR: Role.APPLICATOR,
    Element.CERTIFICATION: Role.CERTIFICATION,
}
"""What is asked for an element that is missing; area and date are never."""


@dataclass(frozen=True)
class RecordTime:
    """How long the record may take: so many days, the last one whole, or where a state asks for it, hours. Federal law
    asks for it of products of restricted use, some states of ``every`` one."""

    days: int = FEDERAL_DAYS
    hours: float | None = None
    every: bool = False

    def asked_of(self, restricted: bool | None) -> bool:
        """Whether it is asked for of a product that was told to be of restricted use, of general use, or neither."""
        return self.every or restricted is True

    def last(self, since: datetime, until: datetime, zone: tzinfo) -> datetime:
        """The last moment to record what was applied from ``since`` to ``until``: days count from the day on which it
        began, hours from its end."""
        if self.hours is not None:
            return until + timedelta(hours=self.hours)
        return datetime.combine(since.astimezone(zone).date() + timedelta(days=self.days + 1), time(), zone)

    def last_day(self, since: datetime, until: datetime, zone: tzinfo) -> date:
        """The day of that moment."""
        return (self.last(since, until, zone) - timedelta(seconds=1)).astimezone(zone).date()


FEDERAL = RecordTime()
"""What federal law asks for."""


def keep_until(applied_on: date) -> date:
    """The first day on which the record need not be kept any more; from 29 February on, 1 March."""
    later = applied_on.year + KEEP_YEARS
    if (applied_on.month, applied_on.day) == (2, 29):
        return date(later, 3, 1)
    return applied_on.replace(year=later)


def lacking(one: Applied, things: Register, applicator: str | None) -> tuple[Element, ...]:
    """The elements that are not known of what was applied; the name of a field is no location."""
    product, field = things.known(Role.PRODUCT, one.product), things.known(Role.FIELD, one.field)
    person = things.known(Role.APPLICATOR, applicator)
    found: dict[Element, object] = {
        Element.PRODUCT: one.product,
        Element.REGISTRATION: product.get(Role.REGISTRATION),
        Element.TOTAL: one.amount,
        Element.LOCATION: field.get(Role.LOCATION),
        Element.AREA: one.area,
        Element.CROP: field.get(Role.CROP),
        Element.DATE: one.since,
        Element.APPLICATOR: applicator,
        Element.CERTIFICATION: person.get(Role.CERTIFICATION),
    }
    return tuple(name for name, value in found.items() if not given(value))


def given(value: object) -> bool:
    """Whether an element is there: blank text is not."""
    return bool(value.strip()) if isinstance(value, str) else value is not None
