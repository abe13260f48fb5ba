"""Shifts as tables: what was planted, what is in doubt for next season's scouting, and the true rates.

Instants are UTC (RFC 3339); hours worked have two decimals, and everything stands in the units in which its
conversation is held. A measure takes two columns, its number and its unit, as in the other tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields

from engine.dialog.schema.slot_roles import Role
from engine.history.application import Application
from engine.history.conversion import bulk, local
from engine.history.export import Cells, carried, cells, instant
from engine.history.shifts import ShiftRecord
from engine.quantities import Measure
from engine.shift.record.shift_facts import RateFound

AMOUNTS = ("total_applied", "area")
"""The elements of an application record that are amounts."""
Held = ShiftRecord | Application
BETWEEN = "; "
"""Between several names of one thing, such as the lots of a shift."""


def shift_lines(records: Iterable[ShiftRecord]) -> list[Cells]:
    """One line a shift: ``used`` and ``true_rate`` are over ``known_area``, empty where that is not known;
    ``over_label`` is a rate that was measured over the label, ``decided_by`` who let planting go on; ``put_away`` says
    whether ``put_back`` agrees with what was ``booked`` as left."""
    return [
        {
            "planter": record.conversation,
            "started_at": instant(record.started_at),
            "ended_at": instant(record.ended_at),
            "ending": str(record.ending),
            "rows": len(record.rows),
            "field": BETWEEN.join(record.fields),
            "product": BETWEEN.join(record.products),
            "lot": BETWEEN.join(record.lots),
            "operator": BETWEEN.join(record.operators),
            **_measures(record, {"planted": record.planted}),
            "worked": round(record.worked_hours.value, 2),
            "worked_unit": "h",
            "looks": len(record.looks),
            "refills": len(record.refills),
            "doubtful_stretches": len(record.stretches),
            **_measures(record, {"in_doubt": record.in_doubt}),
            **_measures(record, _weighed(record)),
            **_over_label(record),
            **_put_away(record),
        }
        for record in records
    ]


def doubt_lines(records: Iterable[ShiftRecord]) -> list[Cells]:
    """The scouting list, one line per row and doubtful stretch: area, length and product short are those of the one
    row."""
    return [
        {
            "planter": record.conversation,
            "field": BETWEEN.join(one.fields),
            "row": row,
            "report": str(one.found.report),
            "since": instant(one.found.since),
            "until": instant(one.found.until),
            **_measures(record, {"area": part.area, "row_length": part.row_length, "short": part.short}),
            "product": BETWEEN.join(one.products),
            "lot": BETWEEN.join(one.lots),
        }
        for record in records
        for one in record.stretches
        for part in [one.of_row]
        for row in one.found.rows
    ]


def rate_lines(records: Iterable[ShiftRecord]) -> list[Cells]:
    """One line per row of every known area: ``rate``, ``off`` and ``outcome`` of the whole planter, ``row_rate`` of the
    row; ``under_feeds`` is the chance that it feeds too little. Where the hoppers were told as one, one line without
    row."""
    return [
        {
            "planter": record.conversation,
            "at": instant(one.at),
            **_measures(record, {"area": one.area, "used": one.used, "rate": one.rate, "off": one.off}),
            "outcome": one.outcome,
            **row,
        }
        for record in records
        for one in record.rates
        for row in _rates_of_rows(record, one)
    ]


def _rates_of_rows(record: ShiftRecord, found: RateFound) -> list[Cells]:
    if not found.rows:
        return [{"row": "", "row_rate": "", "row_rate_unit": "", "under_feeds": "", "named": ""}]
    return [
        {
            "row": row,
            **_measures(record, {"row_rate": rate}),
            "under_feeds": carried(found.chances[row]) if row in found.chances else "",
            "named": "yes" if row in found.odd else "",
        }
        for row, rate in found.rows.items()
    ]


def application_lines(records: Iterable[Application]) -> list[Cells]:
    """One line an application: the nine elements of 7 CFR 110.3, as far as they are known, those that are
    ``missing`` by name, and what is good practice beside them. ``area_is`` and ``total_is`` say what is an estimate."""
    return [
        {
            "planter": record.conversation,
            **_elements(record),
            "field": record.field or "",
            "area_is": "estimate" if record.applied.by_clock else "told",
            "total_is": _basis(record),
            "started_at": instant(record.applied.since),
            "ended_at": instant(record.applied.until),
            "lot": BETWEEN.join(record.applied.lots),
            **_measures(record, {"rate": record.applied.rate}),
            **_of_label(record),
            **_calibrated(record),
            **_over_label(record),
            **_put_away(record),
            "missing": BETWEEN.join(record.elements.missing),
            "record_by": str(record.last_day),
            "keep_until": str(record.elements.keep_until or ""),
        }
        for record in records
    ]


def _elements(record: Application) -> Cells:
    """The elements by name: an amount as its number and its unit, also where it is not known."""
    columns: Cells = {}
    for name in (field.name for field in fields(record.elements)):
        value = getattr(record.elements, name)
        columns |= _measures(record, {name: value}) if isinstance(value, Measure) else {name: str(value or "")}
        if name in AMOUNTS:
            columns.setdefault(f"{name}_unit", "")
    return columns


def _basis(record: Application) -> str:
    if record.applied.amount is None:
        return f"not_known_{record.applied.open}"
    return "estimate" if record.applied.shared else "weighed_or_told"


def _of_label(record: Application) -> Cells:
    """What the label of the product says, as far as it was told."""
    given = {"active_ingredient": record.active, "reentry_interval": record.reentry}
    restricted = {True: "yes", False: "no", None: ""}[record.restricted]
    until = record.reentry_until
    return {
        "restricted_use": restricted,
        "formulation": record.formulation or "",
        **cells({name: value for name, value in given.items() if value is not None}, record.system, local),
        "reentry_until": instant(until) if until else "",
    }


def _calibrated(record: Application) -> Cells:
    found = record.calibration
    if found is None:
        return {}
    given = {"target": found.target, "rate_of_test": found.rate,
             str(Role.LABEL_LOW): found.label_low, str(Role.LABEL_HIGH): found.label_high}  # fmt: skip
    return {
        "calibrated_at": instant(found.at),
        "calibration_run": found.run,
        "rows_on_target": found.on_target,
        "rows_calibrated": found.rows,
        **cells({name: value for name, value in given.items() if value is not None}, record.system, local),
    }


def _weighed(record: ShiftRecord) -> dict[str, Measure]:
    if record.balance.true_rate is None:
        return {}
    return {"known_area": record.balance.known_area, "used": record.balance.used, "true_rate": record.balance.true_rate}


def _over_label(record: Held) -> Cells:
    """The highest rate that was measured over the label, and who decided to go on."""
    rates = [one.rate for one in record.over_label]
    if not rates:
        return {}
    highest = max(rates, key=lambda one: one.to("lb/acre").value)
    return {**_measures(record, {"over_label": highest}), "decided_by": BETWEEN.join(record.decided_by)}


def _put_away(record: Held) -> Cells:
    found = record.put_away
    if found is None:
        return {}
    weighed = {"put_back": found.put_back} if found.put_back else {}
    words = {"own_container": "yes" if found.own_container else "no", "locked": "yes" if found.locked else "no"}
    told = {
        "store": found.store,
        "locked_by": found.locked_by,
        "empty_containers": found.empties,
        "tubes": found.tubes and str(found.tubes),
    }
    known = {name: value for name, value in told.items() if value is not None}
    return {**_measures(record, {"booked": found.booked, **weighed}), "put_away": found.outcome, **words, **known}


def _measures(record: Held, given: Mapping[str, Measure]) -> Cells:
    return cells(given, record.system, bulk)
