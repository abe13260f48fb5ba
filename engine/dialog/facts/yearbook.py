"""The calibrations of earlier years and the repairs between them: what each row was set to and gave, and how it wears.

Bounded, so that a conversation can answer from its own state; the record has all of them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from pydantic import AwareDatetime

from engine.calculations.advisor.verdict import PASSED
from engine.calculations.hoppers.wear import Wear, by_season, wear
from engine.dialog.facts.role_values import as_measure, as_word, by_role
from engine.dialog.schema.slot_roles import Records, Role
from engine.messages import Message
from engine.quantities import Measure, Quantity
from engine.values import Dial, Rows, Setting, Value

YEARS_KEPT = 40
"""So many calibrations, and so many repairs, a conversation looks back on."""
LIKE_RATE = 0.2
"""Calibrations are alike up to this difference of their rates (own decision): at another setting a row with an offset
of its own gives another share of the others without having changed."""
_KEPT_VALUES = (
    *(Role.PRODUCT, Role.METER, Role.DIAL, Role.RATE, Role.SPEED, Role.TARGET),
    *(Role.PLANTER, Role.METERS),
)
_KEPT_ROWS = (Role.NET, Role.SETTING, Role.VERDICT, Role.ERROR)


class PastCalibration(Message):
    """A finished calibration: values of the machine and per-row values run by run, by the text of their roles."""

    at: AwareDatetime | None
    values: dict[str, Value]
    runs: tuple[dict[str, Rows], ...]
    left_out: tuple[int, ...] = ()

    @property
    def rows(self) -> frozenset[int]:
        """The rows that were caught or left out."""
        caught = (row for run in self.runs for row in run.get(Role.NET, {}))
        return frozenset(caught) | frozenset(self.left_out)


class Repair(Message):
    """Rows that were rebuilt or got a new part, in the words that told it: their wear begins anew."""

    rows: tuple[int, ...]
    said: str
    at: AwareDatetime


@dataclass(frozen=True)
class RowYear:
    """One row in one calibration: where it ended, and how far off its rate was there, as a ratio."""

    at: datetime
    product: str | None
    rate: Measure | None
    speed: Measure | None
    setting: Setting | None
    off: Measure | None
    passed: bool
    left_out: bool


@dataclass(frozen=True)
class Yearbook:
    """The years of one planter, oldest first; by the clock of ``zone`` an instant is in a season."""

    past: Sequence[PastCalibration]
    repairs: Sequence[Repair]
    zone: tzinfo = UTC

    def season(self, at: datetime) -> int:
        return at.astimezone(self.zone).year

    def rows(self) -> tuple[int, ...]:
        known = frozenset[int]().union(*(one.rows for one in self.past))
        return tuple(sorted(known.union(*(one.rows for one in self.repairs))))

    def of(self, row: int) -> tuple[RowYear, ...]:
        """Every calibration in which a row was caught or left out, newest first."""
        found = (_of_row(one, row) for one in reversed(self.past))
        return tuple(one for one in found if one is not None)

    def repairs_of(self, row: int) -> tuple[Repair, ...]:
        """Newest first."""
        return tuple(one for one in reversed(self.repairs) if row in one.rows)

    def counting(self) -> tuple[PastCalibration, ...]:
        """The calibrations that can be held against the newest: same product, meter and dial, nearly the same rate.
        What was told by name of another planter, or of other meters, does not count."""
        caught = [one for one in self.past if one.at and any(run.get(Role.NET) for run in one.runs)]
        return tuple(one for one in caught if _is_alike(one, caught[-1]))

    def needs(self, one: PastCalibration) -> dict[int, float]:
        """The need of each row against the machine in one calibration: see ``engine.calculations.hoppers.wear``."""
        dial = one.values.get(Role.DIAL)
        if not isinstance(dial, Dial):
            return {}
        runs = [*_weighed(one)]
        seasons = [dict.fromkeys(caught, 0) for caught, _ in runs]
        found = by_season([caught for caught, _ in runs], [at for _, at in runs], dial, seasons)
        return {row: need for row, of in found.items() for need in of.values()}

    def counts_for(self, row: int, one: PastCalibration) -> bool:
        """Whether a calibration is part of what tells the wear of a row."""
        return one in self.counting() and one.at is not None and self._is_since_repair(row, one.at)

    def by_season(self) -> dict[int, dict[int, float]]:
        """The mean need of each row in each season that counts for it."""
        found = self._evidence()
        return by_season(*found) if found else {}

    def wear(self) -> Wear | None:
        """How the rows wear; None where no calibration counts."""
        found = self._evidence()
        return wear(*found) if found and by_season(*found) else None

    def _evidence(
        self,
    ) -> tuple[list[dict[int, Quantity]], list[dict[int, Setting]], Dial, list[dict[int, int]]] | None:
        counting = self.counting()
        dial = counting[-1].values.get(Role.DIAL) if counting else None
        if not isinstance(dial, Dial):
            return None
        caught, settings, seasons = [], [], []
        for one in counting:
            assert one.at is not None
            for nets, at in _weighed(one):
                caught.append(nets)
                settings.append(at)
                seasons.append({row: self.season(one.at) for row in nets if self._is_since_repair(row, one.at)})
        return caught, settings, dial, seasons

    def _is_since_repair(self, row: int, at: datetime) -> bool:
        return all(one.at < at for one in self.repairs_of(row))


def past_calibration(
    records: Records, values: Mapping[str, Value], runs: Iterable[Mapping[str, Rows]], at: datetime | None,
    left_out: Collection[int],
) -> PastCalibration:  # fmt: skip
    """What is kept of a calibration, from the names of its dialog."""
    return looked_back(by_role(records, values), [by_role(records, run) for run in runs], at, left_out)


def looked_back(
    values: Mapping[str, Value], runs: Iterable[Mapping[str, Rows]], at: datetime | None, left_out: Collection[int]
) -> PastCalibration:
    """The same from values by role."""
    return PastCalibration(
        at=at,
        values={role: values[role] for role in _KEPT_VALUES if role in values},
        runs=tuple({role: dict(run[role]) for role in _KEPT_ROWS if role in run} for run in runs),
        left_out=tuple(left_out),
    )


def without(repairs: Sequence[Repair], rows: Collection[int]) -> tuple[Repair, ...]:
    """The repairs without the newest of each of these rows."""
    left, found = set(rows), []
    for one in reversed(repairs):
        still = tuple(row for row in one.rows if row not in left)
        left -= set(one.rows)
        found += [one.model_copy(update={"rows": still})] if still else []
    return tuple(reversed(found))


def _weighed(one: PastCalibration) -> Iterator[tuple[dict[int, Quantity], dict[int, Setting]]]:
    """What was caught at which settings, run by run."""
    for run in one.runs:
        nets, at = run.get(Role.NET, {}), run.get(Role.SETTING, {})
        yield (
            {row: net.quantity for row, net in nets.items() if isinstance(net, Measure)},
            {row: place for row, place in at.items() if isinstance(place, Setting)},
        )


def _is_alike(one: PastCalibration, newest: PastCalibration) -> bool:
    if any(_told(one.values.get(role)) != _told(newest.values.get(role)) for role in (Role.PRODUCT, Role.METER)):
        return False
    for role in (Role.PLANTER, Role.METERS):
        if _told(one.values.get(role)) and _told(newest.values.get(role)) not in ("", _told(one.values.get(role))):
            return False
    rates = one.values.get(Role.RATE), newest.values.get(Role.RATE)
    if one.values.get(Role.DIAL) != newest.values.get(Role.DIAL):
        return False
    if not all(isinstance(rate, Measure) for rate in rates):
        return rates[0] == rates[1]
    then, now = (rate for rate in rates if isinstance(rate, Measure))
    return then.dimension is now.dimension and abs(then.to(now.unit).value / now.value - 1) <= LIKE_RATE


def _told(value: Value | None) -> str:
    return str(value or "").strip().casefold()


def _of_row(one: PastCalibration, row: int) -> RowYear | None:
    if one.at is None or row not in one.rows:
        return None
    caught = next((run for run in reversed(one.runs) if row in run.get(Role.NET, {})), {})
    judged = next((run for run in reversed(one.runs) if row in run.get(Role.VERDICT, {})), {})
    verdict, setting = judged.get(Role.VERDICT, {}).get(row), caught.get(Role.SETTING, {}).get(row)
    return RowYear(
        at=one.at,
        product=as_word(one.values.get(Role.PRODUCT)) or None,
        rate=as_measure(one.values.get(Role.RATE)),
        speed=as_measure(one.values.get(Role.SPEED)),
        setting=setting if isinstance(setting, Setting) else None,
        off=_off(caught.get(Role.NET, {}).get(row), judged.get(Role.ERROR, {}).get(row), one.values.get(Role.TARGET)),
        passed=verdict in PASSED,
        left_out=row in one.left_out,
    )


def _off(net: Value | None, error: Value | None, target: Value | None) -> Measure | None:
    """How far off the row was judged to be; of one without a judgement, its last catch."""
    if isinstance(error, Measure):
        return error
    if isinstance(net, Measure) and isinstance(target, Measure):
        return Measure(value=net.to(target.unit).value / target.value - 1, unit="1")
    return None
