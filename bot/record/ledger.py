"""A whole record: told in words, or line by line as its tables have it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from pathlib import Path
from typing import assert_never

from bot.record.application import in_words, lacking_of, on_paper
from bot.record.record_part import RecordPart
from bot.record.row_years import RowAccount
from bot.record.shift_words import INDENT, RecordReport, account
from bot.record.texts import RecordKey
from bot.sheet.form import FormPages
from bot.sheet.sheet import RunSheet, SheetHeader, judged, sheet
from bot.sheet.words import SEPARATOR, sheet_words
from bot.sheet.years_chart import YearSheet, year_sheet
from engine.crew.farm import PlanterRecord, called, every_planter
from engine.database import Database
from engine.dialog.turns.elements import FEDERAL, RecordTime
from engine.history.alarms import alarm_lines
from engine.history.application import Application
from engine.history.conversion import held_in
from engine.history.export import Cells, calibration_lines
from engine.history.records import Calibration
from engine.history.shift_export import application_lines, doubt_lines, rate_lines, shift_lines
from engine.history.shifts import ShiftRecord
from engine.history.stock import stock_lines
from engine.history.store.journal import Journal
from engine.history.store.segments import Ending
from engine.history.store.turn_facts import readable
from engine.history.years import yearbook_of
from engine.messages import Language, System

NONE = {
    RecordPart.CALIBRATIONS: RecordKey.NO_CALIBRATION,
    RecordPart.ROWS: RecordKey.NO_CALIBRATION,
    RecordPart.SHIFTS: RecordKey.NO_SHIFT,
    RecordPart.SCOUTING: RecordKey.NO_DOUBT,
    RecordPart.RATES: RecordKey.NO_RATE,
    RecordPart.APPLICATIONS: RecordKey.NO_APPLICATION,
    RecordPart.STOCK: RecordKey.NO_STOCK,
    RecordPart.EMERGENCIES: RecordKey.NO_EMERGENCY,
}


class RecordListing:
    """Everything in a record, planter by planter, in one language and by the clock of one zone.

    Each conversation is told in the units in which it is held, ``began_in`` where it never changed them; in those of
    ``system`` where that is given. Application records may take as long as ``within`` says.
    """

    def __init__(
        self,
        database: Database,
        language: Language,
        zone: tzinfo,
        system: System | None = None,
        began_in: System = System.US,
        *,
        within: RecordTime = FEDERAL,
    ) -> None:
        self._language, self._zone, self._within = language, zone, within
        planters = called(every_planter(database), self._told(System.US).planter)
        read = {name: readable(Journal(database).turns(talk)) for talk, name in planters.items()}
        self._planters = [
            PlanterRecord(name, turns, system or held_in(turns, began_in)) for name, (turns, _) in read.items()
        ]
        self.unreadable = tuple(error for _, error in read.values() if error)
        """What cannot be read, one for each conversation; of that, all before it is here."""

    # ---- as a table

    def lines(self, what: RecordPart) -> list[Cells]:
        """One object a line, the same columns as the tables of the chat."""
        match what:
            case RecordPart.CALIBRATIONS:
                return calibration_lines(self._runs())
            case RecordPart.ROWS:
                return sorted(calibration_lines(self._runs()), key=lambda line: (line["planter"], line["row"]))
            case RecordPart.SHIFTS:
                return shift_lines(self._shifts())
            case RecordPart.SCOUTING:
                return doubt_lines(self._shifts())
            case RecordPart.RATES:
                return rate_lines(self._shifts())
            case RecordPart.APPLICATIONS:
                return application_lines(self._applications())
            case RecordPart.STOCK:
                return stock_lines(one for planter in self._planters for one in planter.stock)
            case RecordPart.EMERGENCIES:
                return alarm_lines(one for planter in self._planters for one in planter.alarms)
            case _:
                assert_never(what)

    def _runs(self) -> list[Calibration]:
        return [one for planter in self._planters for one in planter.calibrations]

    def _shifts(self) -> list[ShiftRecord]:
        return [one for planter in self._planters for one in planter.shifts]

    def _applications(self) -> list[Application]:
        return [one for planter in self._planters for one in planter.applications(self._zone, self._within)]

    # ---- on paper

    def forms(self) -> FormPages | None:
        """The application records as forms; None where nothing was applied."""
        found = self._applications()
        return on_paper(found, self._told) if found else None

    def wrote(self, count: int, place: Path) -> str:
        """What was written where."""
        return self._told(System.US).say(RecordKey.WROTE_PDF, count=str(count), file=str(place))

    # ---- in words

    def words(self, what: RecordPart, row: int | None = None) -> list[str]:
        """The same for people, of one row where it is of rows; a line that says so where there is nothing."""
        told = list(self._scouting() if what is RecordPart.SCOUTING else self._by_planter(what, row))
        return told or [self._told(System.US).say(NONE[what])]

    def _told(self, system: System) -> RecordReport:
        return account(self._language, self._zone, system)

    def _scouting(self) -> list[str]:
        records = self._shifts()
        several = len({one.conversation for one in records}) > 1
        return self._told(records[-1].system).scouting(records, planters=several) if records else []

    def _by_planter(self, what: RecordPart, row: int | None) -> Iterator[str]:
        for planter in self._planters:
            lines = list(self._of(planter, what, row))
            if lines and len(self._planters) > 1:
                yield f"{planter.name}:"
            yield from lines

    def _of(self, planter: PlanterRecord, what: RecordPart, only: int | None) -> Iterator[str]:
        match what:
            case RecordPart.CALIBRATIONS:
                for run in planter.calibrations:
                    yield from self._run(run, planter)
            case RecordPart.ROWS:
                rows = self._rows(planter)
                for row in rows.rows() if only is None else {only} & {*rows.rows()}:
                    yield from rows.row(row)
            case RecordPart.STOCK:
                told = self._told(planter.system)
                yield from (told.stock_change(one) for one in planter.stock)
            case RecordPart.EMERGENCIES:
                for alarm in planter.alarms:
                    yield self._told(System.US).alarm(alarm)
            case RecordPart.APPLICATIONS:
                for one in planter.applications(self._zone, self._within):
                    yield from in_words(one, self._told(one.system))
            case RecordPart.SHIFTS | RecordPart.SCOUTING | RecordPart.RATES:
                applied = planter.applications(self._zone, self._within) if what is not RecordPart.RATES else ()
                for shift in planter.shifts:
                    yield from self._shift(shift, what, applied, planter)
            case _:
                assert_never(what)

    def _rows(self, planter: PlanterRecord) -> RowAccount:
        return RowAccount(self._told(planter.system), planter.calibrations, yearbook_of(planter.turns, self._zone))

    def years(self, row: int | None) -> list[YearSheet]:
        """The years of a row as a sheet, or of all rows, of each planter that has any."""
        several = len(self._planters) > 1
        books = [(one.name, self._rows(one)) for one in self._planters]
        return [
            year_sheet(one.book, one.told, row, [name] if several else [])
            for name, one in books
            if one.book.past and (row is None or row in one.book.rows())
        ]

    def _shift(
        self, shift: ShiftRecord, what: RecordPart, applied: Sequence[Application], planter: PlanterRecord
    ) -> list[str]:
        told = self._told(shift.system)
        if what is RecordPart.RATES:
            return [line for rate in shift.rates for line in told.rate(rate)]
        head, *rest = told.shift(shift)
        if shift.ending is Ending.FINISHED:
            rest += lacking_of(applied, told, shift.started_at, shift.ended_at)
        head = f"{named}: {head}" if (named := planter.other(shift.planter)) else head
        return [head, *(f"{INDENT}{line}" for line in rest)]

    def _run(self, found: Calibration, planter: PlanterRecord) -> Iterator[str]:
        if not judged(found).rows:
            return
        about = SheetHeader(planter=planter.other(found.planter))
        drawn: RunSheet = sheet(found, sheet_words(self._language, self._zone), about)
        yield f"{drawn.title}, {self._told(found.system).moment(drawn.when)}. {drawn.summary}."
        yield f"{INDENT}{SEPARATOR.join(drawn.lines[:-1])}."
        for row in drawn.rows:
            yield INDENT + ", ".join(filter(None, [f"{row.row}: {row.catch}", row.setting, row.verdict]))
