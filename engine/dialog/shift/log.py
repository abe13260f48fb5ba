"""The log of a shift in one turn: what is noted, and what is answered to it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from engine.dialog.house import Key
from engine.dialog.shift.fact import Noted, Proof, Use
from engine.dialog.shift.plan import Plan
from engine.dialog.shift.progress import reckoned
from engine.dialog.shift.state import Shift
from engine.dialog.walk import Walk
from engine.messages import Reported
from engine.quantities import Measure
from engine.values import Value


class Log:
    """Notes reports of the shift that a walk stands in. ``named`` are the rows that this utterance found wrong.

    ``spoken_of`` are all that it names. ``past`` is the moment that was said with the report that is being taken.
    """

    def __init__(self, walk: Walk, plan: Plan) -> None:
        self.walk = walk
        self.plan = plan
        self.named: set[int] = set()
        self.spoken_of: set[int] = set()
        self.past: Proof | None = None
        self._reckoned: tuple[Shift, Proof] | None = None

    @property
    def shift(self) -> Shift:
        shift = self.walk.dialog.shift
        if shift is None:
            raise ValueError("no shift is under way")
        return shift

    @property
    def mark(self) -> Proof:
        """The present moment of the shift, reckoned once for each of its states."""
        shift = self.shift
        if self._reckoned is None or self._reckoned[0] is not shift:
            self._reckoned = shift, reckoned(shift, self.plan, self.walk.now)
        return self._reckoned[1]

    @property
    def moment(self) -> Proof:
        """When that happened which is told: now, or as it was said."""
        return self.past or self.mark

    @property
    def rate(self) -> Measure:
        return self.plan.rate(self.shift)

    def say(self, key: Key, **values: str) -> None:
        self.walk.say(key, **values)

    def rough(self, measure: Measure) -> str:
        return self.walk.wording.rough(measure)

    def clock(self, proof: Proof) -> str:
        return self.walk.wording.clock(proof.at, self.mark.at)

    def refuse(self, moment: datetime, since: datetime) -> None:
        """Say between which moments it must have been."""
        time, start = (self.walk.wording.clock(one, self.mark.at) for one in (moment, since))
        self.say(Key.SHIFT_TIME_OUTSIDE, time=time, since=start)

    def refuses(self, since: datetime) -> bool:
        """Whether the moment said lies before one at which the opposite was so; says it."""
        if self.past is None or self.past.at >= since:
            return False
        self.refuse(self.past.at, since)
        return True

    def place(self, rows: tuple[int, ...]) -> str:
        """ "Row 5" or "Rows 1-4 and 6", at the beginning of a sentence."""
        return self.walk.wording.row_place(rows)

    def rows(self, told: Reported) -> tuple[int, ...]:
        """The rows a report is about: those said that are in use, or all, or the rest; says which are not in use."""
        if told.rest and not told.rows:
            others = self.spoken_of or self.shift.troubled.keys()
            return tuple(row for row in self.shift.rows if row not in others)
        idle = tuple(row for row in told.rows if row not in self.shift.proofs)
        if idle:
            self.say(Key.SHIFT_NOT_IN_USE, place=self.place(idle))
        return tuple(row for row in told.rows if row not in idle) if told.rows else self.shift.rows

    def note(
        self,
        told: Reported,
        rows: tuple[int, ...] = (),
        *,
        value: Value | None = None,
        mark: Proof | None = None,
        proofs: Mapping[int, Proof] | None = None,
        hoppers: Mapping[int, Measure] | None = None,
        uses: Mapping[int, Use] | None = None,
        efficiency: float | None = None,
        reckoned: Measure | None = None,
        until: Proof | None = None,
        bends: tuple[tuple[float, float], ...] = (),
    ) -> None:
        """Keep a report with what was worked out from it."""
        self.walk.add(
            Noted(
                report=told.report,
                rows=rows,
                value=told.value if value is None else value,
                lot=told.lot,
                said=told.said,
                mark=mark or self.mark,
                moment=self.past,
                proofs=dict(proofs or {}),
                hoppers=dict(hoppers or {}),
                uses=dict(uses or {}),
                efficiency=efficiency,
                reckoned=reckoned,
                size=told.area,
                until=until,
                bends=bends,
            )
        )
