"""The balance of a shift: what left the hoppers in all, over what area, and the true rates that follow from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from engine.dialog.shift.fact import Noted, RateFound
from engine.quantities import Measure

AT_END, WITHOUT_GAP = 0.995, 0.9
"""Shares of the planted area: from the first on a weighing is one of the end, and below the second one of a hopper is
missing; in between the clock may have been wrong (own decision)."""
LEAST = 0.01


@dataclass(frozen=True)
class Weighing:
    """A rate that was found, and how much was planted by then."""

    found: RateFound
    planted: Measure

    @property
    def start(self) -> float:
        """The acre from which on it counts."""
        return self.planted.value - self.found.area.to("acre").value

    @property
    def wanted(self) -> float:
        """Pounds that should have been used."""
        return self.found.used.to("lb").value / max(1 + self.found.off.to("1").value, LEAST)

    def of(self, row: int) -> float:
        """Pounds that one row would have used, had all fed like it."""
        return self.found.rows[row].to("lb/acre").value * self.found.area.to("acre").value


@dataclass(frozen=True)
class Balance:
    """``counted`` are the rates found that lie side by side: weighed again without a refill, the use since the filling
    is told anew, and the earlier weighing no longer counts."""

    planted: Measure
    counted: tuple[Weighing, ...]

    @property
    def is_weighed(self) -> bool:
        """Whether the hoppers were weighed for all that was planted, from the first acre to the last."""
        total = self.planted.to("acre").value
        ends = self.counted and self.counted[-1].planted.value >= AT_END * total
        return bool(ends) and self._counted_area >= WITHOUT_GAP * total > 0

    @property
    def _counted_area(self) -> float:
        return sum(one.found.area.to("acre").value for one in self.counted)

    @property
    def used(self) -> Measure:
        """What left the hoppers, as far as that is known."""
        return Measure(value=sum((one.found.used.to("lb").value for one in self.counted), 0.0), unit="lb")

    @property
    def known_area(self) -> Measure:
        """The area over which it is known: all of it where that is weighed, whatever the clock had for its parts."""
        return self.planted.to("acre") if self.is_weighed else Measure(value=self._counted_area, unit="acre")

    @property
    def true_rate(self) -> Measure | None:
        """What was really put out, over all that is known; None where nothing is."""
        area = self.known_area.value
        return Measure(value=self.used.value / area, unit="lb/acre") if area > 0 else None

    @property
    def off(self) -> Measure | None:
        """How far the true rate is from the wanted one; None where it is not known."""
        wanted = sum(one.wanted for one in self.counted)
        if self.true_rate is None or wanted <= 0:
            return None
        return Measure(value=(self.true_rate.value * self._counted_area / wanted - 1) * 100, unit="%")

    @property
    def row_rates(self) -> dict[int, Measure]:
        """The true rate of each row, over all that is known of it."""
        parts = [(row, one.of(row)) for one in self.counted for row in one.found.rows]
        used = {row: sum(part for other, part in parts if other == row) for row, _ in parts}
        area = self.known_area.value
        return {row: Measure(value=part / area, unit="lb/acre") for row, part in sorted(used.items())} if area else {}


def balance(rates: Iterable[RateFound], noted: Sequence[Noted], planted: Measure) -> Balance:
    """The balance of a shift that planted so much, of the rates found in it and its reports."""
    return Balance(planted, _counted(rates, noted))


def _counted(rates: Iterable[RateFound], noted: Sequence[Noted]) -> tuple[Weighing, ...]:
    """The rates without those whose area the next one counts once more."""
    found: list[Weighing] = []
    for rate in rates:
        planted = [fact.mark.planted.to("acre") for fact in noted if fact.mark.at <= rate.at][-1]
        new = Weighing(rate, planted)
        while found and (found[-1].start + found[-1].planted.value) / 2 > new.start:
            found.pop()
        found.append(new)
    return tuple(found)
