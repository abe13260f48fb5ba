"""The night: what the operator says in his shift, until it is over.

When he looks is when the assistant asks for it, the second time only when it asks again; what he finds there is what
the simulated planter shows. What a report puts into the record is what the assistant made of it, typed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from statistics import median

from demo.author import Author
from demo.calibration_script import settings
from demo.hoppers import FILLED, STOPPED_ROW, DemoNight, PlanterWork
from demo.planter import DemoField
from demo.script_lines import DemoLine, DemoPart, place
from engine.dialog.schema.slot_roles import Role
from engine.entries.matching.numerals import spell
from engine.reminders.schedule import ReminderPolicy
from engine.shift.record.shift_state import ShiftState

ROWS = DemoField().planter.rows
SHIFT = DemoLine("shift", "turno")
PASS = DemoLine("pass", "salta", brief=True)
PLANNED: dict[str | None, DemoLine] = {
    Role.LOT: DemoLine("lot 447", "lote 447", {Role.LOT: "447"}, typed=True, brief=True),
    Role.FIELD: DemoLine(
        "La Loma, 80 acres",
        "La Loma, 80 acres",
        {Role.FIELD: "La Loma", Role.FIELD_AREA: "80 acre"},
        typed=True,
        brief=True,
    ),
    Role.IN_USE: DemoLine(
        "all rows planting",
        "todos los surcos siembran",
        {place(Role.IN_USE, row): "on" for row in ROWS},
        brief=True,
    ),
    Role.LOADED: DemoLine(
        f"all {spell(FILLED, 'en')} pounds",
        f"todos con {spell(FILLED, 'es')} libras",
        {place(Role.LOADED, row): f"{FILLED} lb" for row in ROWS},
        brief=True,
    ),
    Role.CAPACITY: DemoLine("pass", "salta"),
    Role.WILLING: DemoLine("ten acres", "diez acres", {Role.WILLING: "10 acre"}),
    Role.LONGEST: DemoLine("pass", "salta"),
}
"""What the operator answers before he plants; what is not here he passes."""

DROPPING = DemoLine("all dropping", "todos cayendo")
STOPPED = DemoLine(
    f"row {spell(STOPPED_ROW, 'en')} stopped, the rest is good",
    f"surco {spell(STOPPED_ROW, 'es')} parado, lo demás bien",
)
RUNS = DemoLine(f"row {spell(STOPPED_ROW, 'en')} runs again", f"surco {spell(STOPPED_ROW, 'es')} ya tira otra vez")
END, DONE = DemoLine("end of shift", "fin del turno"), DemoLine("done", "listo")
MOST_LOOKS = 6
BREAK, AFTER, MENDING, ON = 300, 60, 180, 900
"""Seconds from the calibration to the shift, from a call to the look, from finding the row to its feeding again, and at
least on from there."""
AGAIN = round(ReminderPolicy().again.total_seconds())


@dataclass(frozen=True)
class NightScript:
    """The operator in the cab and at the outlets."""

    author: Author
    field: DemoField

    def lines(self) -> Iterator[DemoLine]:
        """The shift is opened, looked after and ended."""
        yield from self.author.said(SHIFT, part=DemoPart.NIGHT, at=self.author.at + BREAK)
        while self.author.is_asked:
            yield from self.author.said(PLANNED.get(self.author.asked, PASS), part=DemoPart.NIGHT)
        night = self._night()
        for _ in range(MOST_LOOKS):
            called = self.author.due
            if night.dropping(STOPPED_ROW, called + AFTER):
                yield from self._reported(DROPPING, at=called + AFTER)
                continue
            found = called + AGAIN + AFTER
            yield from self._reported(STOPPED, at=found)
            yield from self._reported(RUNS, at=found + MENDING)
            yield from self._ended(night, found + MENDING)
            return

    def _night(self) -> DemoNight:
        dialog = self.author.open_dialog
        shift = dialog.activity
        if not isinstance(shift, ShiftState):
            raise RuntimeError("nothing is planted yet")
        work = PlanterWork(shift.rate, shift.speeds[0].speed, shift.spacing)
        return DemoNight.of(self.field.planter, settings(dialog), work, self.author.seconds(shift.started))

    def _ended(self, night: DemoNight, mended: int) -> Iterator[DemoLine]:
        """He stops where the acres are whole, before the next call, and tells what is left in the hoppers."""
        acres = math.ceil(night.acres(mended + ON))
        at = night.moment(acres)
        left = night.left(at, mended)
        stopped, before, behind = _groups(left)
        yield from self._reported(END, at=at)
        yield from self._reported(
            DemoLine(f"{spell(acres, 'en')} acres done", f"{spell(acres, 'es')} acres hechos"),
            *(_left(rows, left) for rows in (stopped, before, behind)),
            DONE,
        )

    def _reported(self, *lines: DemoLine, at: int | None = None) -> Iterator[DemoLine]:
        yield from self.author.reported(*lines, part=DemoPart.NIGHT, at=at)


def _groups(left: Mapping[int, float]) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
    """The row that stopped, and those to either side of it."""
    rows = tuple(sorted(left))
    return (
        (STOPPED_ROW,),
        tuple(row for row in rows if row < STOPPED_ROW),
        tuple(row for row in rows if row > STOPPED_ROW),
    )


def _left(rows: tuple[int, ...], left: Mapping[int, float]) -> DemoLine:
    """The mark at which these hoppers stand, in whole pounds."""
    pounds = round(median(left[row] for row in rows))
    first, last = rows[0], rows[-1]
    if first == last:
        en, es = f"row {spell(first, 'en')}", f"surco {spell(first, 'es')}"
    else:
        en = f"rows {spell(first, 'en')} to {spell(last, 'en')}"
        es = f"surcos {spell(first, 'es')} a {spell(last, 'es')}"
    return DemoLine(f"{en} {spell(pounds, 'en')} pounds left", f"{es} quedan {spell(pounds, 'es')} libras")
