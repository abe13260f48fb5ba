"""The years of a row in words: a line for each calibration and repair, newest first, and how it wears."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bot.record.shift_words import DATE, INDENT, RecordReport
from bot.record.texts import RecordKey
from bot.sheet.words import SEPARATOR, sheet_words
from engine.calculations.hoppers.wear import Drift
from engine.dialog.facts.yearbook import Repair, Yearbook
from engine.dialog.questions.year_answers import wear_told
from engine.dialog.schema.slot_roles import Role
from engine.history.records import Calibration, row_history
from engine.history.store.segments import Ending


@dataclass(frozen=True)
class RowAccount:
    """Tells the rows of one planter; ``records`` are all its calibrations, also those that came to no end."""

    told: RecordReport
    records: Sequence[Calibration]
    book: Yearbook

    def rows(self) -> list[int]:
        return sorted({*self.book.rows(), *(row for one in self.records for row in one.rows)})

    def row(self, row: int) -> list[str]:
        """How the row wears where that is known, else its number; below it the years."""
        head = self.wear(row) or [self.told.say(RecordKey.ROW_HEAD, row=str(row))]
        lines = [(one.ended_at, line) for one in self.records if (line := self._calibration(one, row))]
        lines += [(one.at, self._repair(one)) for one in self.book.repairs_of(row)]
        newest = sorted(lines, key=lambda line: line[0], reverse=True)
        return [*head, *(f"{INDENT}{line}" for _, line in newest)]

    def wear(self, row: int) -> list[str]:
        """How the row wears, in one sentence; nothing where the years do not tell."""
        found = self.book.wear()
        known = found is not None and found.drifts.get(row, Drift.TOO_LITTLE_DATA) is not Drift.TOO_LITTLE_DATA
        return [*map(str, wear_told(self.told.wording, self.book, found, row))] if found and known else []

    def drift(self, row: int) -> list[str]:
        """The same where it is worth a walk: a row that needs more or less each season."""
        found = self.book.wear()
        drifting = found is not None and found.drifts.get(row) in (Drift.RISING, Drift.FALLING)
        return self.wear(row) if drifting else []

    def _calibration(self, one: Calibration, row: int) -> str:
        runs = row_history([one], row)
        if not runs and row not in one.left_out:
            return ""
        words = sheet_words(self.told.language, self.told.zone)
        product, *figures = (one.values.get(role) for role in (Role.PRODUCT, Role.RATE, Role.SPEED))
        around = [str(product) if product else None, *(words.figure(value) for value in figures)]
        day = f"{one.ended_at.astimezone(self.told.zone):{DATE}}"
        out = [self.told.say(RecordKey.ROW_LEFT_OUT)] if row in one.left_out else []
        ended = [] if one.ending is Ending.FINISHED else [self.told.ended(one.ending)]
        gave = [text] if (text := words.runs(runs)) else []
        told = ", ".join([*gave, *out, *ended])
        return f"{SEPARATOR.join(filter(None, [day, *around]))}: {told}" if told else ""

    def _repair(self, one: Repair) -> str:
        return self.told.say(RecordKey.ROW_REPAIRED, date=f"{one.at.astimezone(self.told.zone):{DATE}}", said=one.said)
