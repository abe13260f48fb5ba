"""One simulated night with somebody who reminds: looks, refills, what they show, and what was in doubt by then."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from engine.calculations.hoppers.use import POUR
from engine.simulation.night import Night
from engine.simulation.reminding import Reminding, ReportOutcome


@dataclass(frozen=True)
class Event:
    """What happened at an hour of the shift; ``acres`` planted by then, or in doubt where a row was noticed; what was
    ``said`` about it, and the ``reply``."""

    hour: float
    what: str
    row: int | None = None
    acres: float | None = None
    probability: float | None = None
    said: str = ""
    reply: str = ""


@dataclass
class Played:
    """A night as it went. ``in_doubt``: acres of the machine from the last proof that the row fed, as it was told or
    else from the last look less what that cannot see, to its notice; from where it really stopped if that was before.
    ``held``: the stretch that was told holds the moment the row stopped; None where none was told.

    ``bare``: acres of the machine planted from where the row stopped to its notice. ``refills``: looks that were made
    as the hoppers were filled.
    ``named_after``: refills from the beginning of the trouble until the row was named by its use, 1 for the first.
    """

    events: list[Event] = field(default_factory=list)
    checks: int = 0
    false_alarms: int = 0
    named_wrong: int = 0
    refills: int = 0
    in_doubt: float = 0.0
    bare: float = 0.0
    noticed: float | None = None
    named_after: int | None = None
    refills_since: int = 0
    held: bool | None = None


@dataclass
class _Hoppers:
    """Levels of all hoppers, and what is known of them."""

    night: Night
    full: NDArray[np.float64]
    filled_at: float = 0.0
    known_high: dict[int, float] = field(default_factory=dict)

    def left(self, planted: float, *, mended_at: float | None) -> NDArray[np.float64]:
        """True mass in each [lb]."""
        out: NDArray[np.float64] = self.full - _used(self.night, self.filled_at, planted, mended_at)
        return out


def _used(night: Night, begin: float, end: float, mended_at: float | None) -> NDArray[np.float64]:
    """What each hopper lost, the troubled row feeding as it should again from ``mended_at`` on."""
    if mended_at is None or mended_at >= end:
        return night.used(begin, end, mended=False)
    middle = max(mended_at, begin)
    first: NDArray[np.float64] = night.used(begin, middle, mended=False) + night.used(middle, end, mended=True)
    return first


class Watching:
    """Plays one night. ``mend``: a row that is noticed is mended."""

    def __init__(self, night: Night, reminding: Reminding, stream: int, *, mend: bool = True) -> None:
        self.night, self.reminding, self.mend = night, reminding, mend
        self.chance: Generator = np.random.default_rng([*night.seed, stream])
        self.played = Played()
        self.hoppers = _Hoppers(night, self._filled())
        self.proved = 0.0
        self.mended_at: float | None = None
        self.named: set[int] = set()

    def play(self) -> Played:
        """The whole night."""
        night = self.night
        now = 0.0
        while True:
            due, refill = self.reminding.due(), night.hour(night.refill(self.hoppers.filled_at))
            look = float("inf") if due is None else max(due + self._delay(), now)
            if min(look, refill) >= night.shift.hours:
                return self._morning()
            now = min(look, refill)
            self._note_rings(now)
            self._look(now)
            if refill <= look:
                self._refill(now)

    def _note_rings(self, until: float) -> None:
        for asked in self.reminding.ring(until):
            hour = (asked.at - self.night.shift.start).total_seconds() / 3600
            what = "foreman told" if asked.audience.value == "foreman" else "asked"
            self.played.events.append(Event(hour, what))

    def _delay(self) -> float:
        """Hours until a reminder is answered."""
        shift = self.night.shift
        late = self.chance.random() < shift.late
        low, high = (shift.answer, 4 * shift.answer) if late else (0.0, shift.answer)
        return float(self.chance.uniform(low, high)) / 60

    def _look(self, hour: float) -> None:
        """Compare levels by eye. High by more than the eye needs beyond what is known already is told, once a second
        glance says so too."""
        night, planted = self.night, self.night.acres(hour)
        self.played.checks += 1
        left = self.hoppers.left(planted, mended_at=self.mended_at)
        above = np.minimum(self._glance(left), self._glance(left))
        high = [
            row
            for row in range(1, night.shift.rows + 1)
            if above[row - 1] > night.shift.eye + self.hoppers.known_high.get(row, 0.0)
        ]
        if night.shift.outlets and self._stands_still(hour) and night.trouble.row not in high:
            high.append(night.trouble.row)
        answer = self.reminding.seen(hour, high)
        self.played.events.append(Event(hour, "looked", acres=planted, said=answer.said))
        for row in high:
            self._told_high(hour, row, float(above[row - 1]), answer)
        if night.trouble.row not in high:
            self.proved = max(self.proved, planted if night.shift.outlets else planted - night.unseen)

    def _glance(self, left: NDArray[np.float64]) -> NDArray[np.float64]:
        """By how much each hopper seems to stand above the others, as a share of a full one."""
        shift = self.night.shift
        seen = left / self.night.hopper + self.chance.normal(0, shift.eye_error, shift.rows)
        above: NDArray[np.float64] = seen - np.median(seen)
        return above

    def _told_high(self, hour: float, row: int, above: float, answer: ReportOutcome) -> None:
        self.hoppers.known_high[row] = above
        self.played.events.append(Event(hour, "high", row))
        if row == self.night.trouble.row and self._wrong(hour):
            self._notice(hour, answer)
        elif row != self.night.trouble.row or self.mended_at is None:
            self.played.false_alarms += 1
            self.played.events.append(Event(hour, "false alarm", row))
            self.reminding.mended(hour, row)

    def _stands_still(self, hour: float) -> bool:
        """Whether nothing drops at the outlet of the troubled row and nobody knows yet."""
        return self.night.trouble.feeds == 0 and self._wrong(hour) and self.played.noticed is None

    def _wrong(self, hour: float) -> bool:
        return hour > self.night.trouble.hour and self.mended_at is None

    def _notice(self, hour: float, answer: ReportOutcome) -> None:
        """The row is found: what is in doubt began at its last proof, or where it really stopped if that was before."""
        if self.played.noticed is not None:
            return
        night, trouble = self.night, self.night.trouble
        planted, stopped = night.acres(hour), night.acres(trouble.hour)
        told = None if answer.since is None else night.acres(answer.since)
        in_doubt = planted - min(self.proved if told is None else told, stopped)
        self.played.held = None if told is None else told <= stopped
        self.played.noticed, self.played.in_doubt = hour, in_doubt
        self.played.bare = max(planted - stopped, 0.0)
        self.played.events.append(Event(hour, "noticed", trouble.row, in_doubt, said=answer.said, reply=answer.reply))
        if self.mend:
            self.mended_at = planted
            self.reminding.mended(hour, trouble.row)

    def _refill(self, hour: float) -> None:
        night, planted = self.night, self.night.acres(hour)
        self.played.events.append(Event(hour, "refilled", acres=planted))
        self.played.refills += 1
        left = self.hoppers.left(planted, mended_at=self.mended_at)
        filled = self._filled()
        if hour > night.trouble.hour and self.played.named_after is None:
            self.played.refills_since += 1
        reading = self.chance.normal(0, night.shift.reading * night.hopper, night.shift.rows)
        told = planted * (1 + self.chance.normal(0, night.shift.acres_error))
        poured = np.maximum(filled - left + reading, 0.0)
        answer = self.reminding.refilled(hour, told, [float(pounds) for pounds in poured])
        for row, chance in answer.named.items():
            self._named(hour, row, chance)
        self.hoppers = _Hoppers(night, filled, planted)

    def _named(self, hour: float, row: int, chance: float) -> None:
        """A row is said to use less than the others: he looks at it, unless he did before."""
        trouble = self.night.trouble
        if row in self.named or (self.mend and self.played.noticed is not None and row == trouble.row):
            return
        self.named.add(row)
        self.played.events.append(Event(hour, "named", row, probability=chance))
        if row == trouble.row and hour > trouble.hour:
            self.played.named_after = self.played.refills_since
            if self.mend:
                self._notice(hour, self.reminding.stopped(hour, row))
        else:
            self.played.named_wrong += 1

    def _morning(self) -> Played:
        """The end of the shift: every hopper is opened, and what nobody noticed is noticed."""
        hours, row = self.night.shift.hours, self.night.trouble.row
        self._note_rings(hours)
        self.played.events.append(Event(hours, "ended", acres=self.night.acres(hours)))
        if self.mend and self.played.noticed is None:
            self._notice(hours, self.reminding.stopped(hours, row))
        return self.played

    def _filled(self) -> NDArray[np.float64]:
        night = self.night
        out: NDArray[np.float64] = night.hopper * (1 + self.chance.normal(0, POUR, night.shift.rows))
        return out
