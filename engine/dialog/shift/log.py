"""The log of a shift in one turn: what is noted, and what is answered to it."""

from __future__ import annotations

from collections.abc import Mapping

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
    """Notes reports of the shift that a walk stands in. ``named`` are the rows that this utterance found wrong."""

    def __init__(self, walk: Walk, plan: Plan) -> None:
        self.walk = walk
        self.plan = plan
        self.named: set[int] = set()

    @property
    def shift(self) -> Shift:
        shift = self.walk.dialog.shift
        if shift is None:
            raise ValueError("no shift is under way")
        return shift

    @property
    def mark(self) -> Proof:
        """The present moment of the shift."""
        return reckoned(self.shift, self.plan, self.walk.now)

    @property
    def rate(self) -> Measure:
        return self.plan.rate(self.shift)

    def say(self, key: Key, **values: str) -> None:
        self.walk.say(key, **values)

    def rough(self, measure: Measure) -> str:
        return self.walk.wording.rough(measure)

    def clock(self, proof: Proof) -> str:
        return self.walk.wording.clock(proof.at, self.mark.at)

    def place(self, rows: tuple[int, ...]) -> str:
        """ "Row 5" or "Rows 1-4 and 6", at the beginning of a sentence."""
        return self.walk.wording.row_place(rows)

    def rows(self, told: Reported) -> tuple[int, ...]:
        """The rows a report is about: those said that are in use, or all; says which are not."""
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
                proofs=dict(proofs or {}),
                hoppers=dict(hoppers or {}),
                uses=dict(uses or {}),
                efficiency=efficiency,
            )
        )
