"""The balance of a shift: loaded + added - left = used, over what area, and the true rates that follow from it."""

from __future__ import annotations

from dataclasses import dataclass

from engine.calculations.rate import area_rate
from engine.quantities import Measure, measure
from engine.shift.record.shift_ledger import Basis, Round, in_pounds
from engine.shift.record.shift_state import ShiftState


@dataclass(frozen=True)
class Balance:
    """Of all that is known of the hoppers: the rounds in which nothing was added that nobody weighed."""

    known_area: Measure
    loaded: Measure
    added: Measure
    left: Measure | None
    used: Measure
    wanted: Measure
    row_used: dict[int, Measure]
    row_areas: dict[int, Measure]
    basis: Basis

    @property
    def true_rate(self) -> Measure | None:
        """What was really put out, over all that is known; None where nothing is."""
        area = self.known_area.to("acre").value
        return Measure(value=in_pounds(self.used) / area, unit="lb/acre") if area > 0 else None

    @property
    def off(self) -> Measure | None:
        """How far the true rate is from the wanted one; None where it is not known."""
        rate = self.true_rate
        return rate and Measure(value=(rate.value / self.wanted.to("lb/acre").value - 1) * 100, unit="%")

    @property
    def row_rates(self) -> dict[int, Measure]:
        """The true rate of each row that was told by itself every time."""
        return {
            row: Measure(value=in_pounds(used) * self._rows / self.row_areas[row].value, unit="lb/acre")
            for row, used in sorted(self.row_used.items())
            if self.row_areas[row].value > 0
        }

    @property
    def _rows(self) -> int:
        return len(self.row_areas)


def balance(shift: ShiftState) -> Balance:
    """The balance of a shift as it is known now."""
    rounds = [one for one in shift.ledger.rounds if one.used is not None]
    between = shift.timeline.between
    areas = [one.over(between).to("acre").value for one in rounds]
    own = [set(one.own) for one in rounds]
    rows = set.intersection(*own) if own else set()
    return Balance(
        known_area=Measure(value=sum(areas), unit="acre"),
        loaded=_sum(_starts(shift)),
        added=_sum([one.added for one in rounds]),
        left=_sum([one.end.mass for one in rounds[-1].intervals.values()]) if rounds else None,
        used=_sum([one.used for one in rounds if one.used]),
        wanted=measure(area_rate(shift.wanted.quantity, shift.spacing.quantity), "lb/acre"),
        row_used={row: _sum([one.own[row] for one in rounds]) for row in sorted(rows)},
        row_areas={row: _row_area(shift, rounds, row) for row in shift.rows},
        basis=_basis(rounds),
    )


def _starts(shift: ShiftState) -> list[Measure]:
    first = shift.ledger.rounds[0].intervals if shift.ledger.rounds else {}
    starts = {row: one.level for row, one in shift.ledger.accounts.items()} | {
        row: one.start for row, one in (first or shift.ledger.read).items()
    }
    return [one.mass for one in starts.values()]


def _row_area(shift: ShiftState, rounds: list[Round], row: int) -> Measure:
    spans = [shift.timeline.between(one.intervals[row].start.at, one.intervals[row].end.at) for one in rounds]
    return Measure(value=sum(one.to("acre").value for one in spans), unit="acre")


def _basis(rounds: list[Round]) -> Basis:
    found = {level.basis for one in rounds for each in one.intervals.values() for level in (each.start, each.end)}
    return next((one for one in (Basis.ASSUMED, Basis.RECKONED, Basis.TOLD) if one in found), Basis.MEASURED)


def _sum(masses: list[Measure]) -> Measure:
    return Measure(value=sum((in_pounds(one) for one in masses), 0.0), unit="lb")
