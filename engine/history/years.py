"""The years of a planter from its record: every finished calibration and every repair, none left out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import tzinfo

from engine.dialog.facts.book_facts import RepairDropped, RowsRepaired
from engine.dialog.facts.yearbook import PastCalibration, Repair, Yearbook, looked_back, without
from engine.history.records import Calibration, calibrations
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending
from engine.history.store.turn_facts import facts_of


def yearbook_of(turns: Sequence[StoredTurn], zone: tzinfo) -> Yearbook:
    """The years in the turns of one conversation, given from its first turn on."""
    return Yearbook(tuple(map(_past, finished(calibrations(turns)))), repairs_in(turns), zone)


def finished(records: Iterable[Calibration]) -> list[Calibration]:
    """The calibrations that came to their end, in the order in which they did."""
    return [one for one in records if one.ending is Ending.FINISHED and any(run.rows for run in one.runs)]


def repairs_in(turns: Iterable[StoredTurn]) -> tuple[Repair, ...]:
    """The repairs that still count, oldest first."""
    found: tuple[Repair, ...] = ()
    for turn in turns:
        for fact in facts_of(turn):
            match fact:
                case RowsRepaired(rows=rows, said=said, at=at):
                    found = (*found, Repair(rows=rows, said=said, at=at))
                case RepairDropped(rows=rows):
                    found = without(found, rows)
    return found


def _past(record: Calibration) -> PastCalibration:
    return looked_back(record.values, [run.rows for run in record.runs], record.ended_at, record.left_out)
