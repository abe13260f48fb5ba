"""What is shown of a farm's record in the chat: summaries, the history of rows, and the record as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from bot.record.row_years import RowAccount
from bot.record.shift_words import account
from bot.sheet.sheet import RunSheet, SheetHeader, judged, sheet
from bot.sheet.words import SheetWords, sheet_words
from bot.sheet.years_chart import year_sheet
from bot.telegram.services.report import report, row_told
from bot.telegram.services.shifts import Shifts
from bot.telegram.texts import ChatKey, ChatTexts
from engine.crew.farm import Farm, FarmPlanter
from engine.crew.people import Member
from engine.crew.roles import WHOLE_FARM
from engine.database import Database
from engine.dialog.schema.slot_roles import Phase, Role
from engine.dialog.turns.elements import FEDERAL, RecordTime
from engine.dialog.turns.opening import SOON
from engine.history.export import calibration_lines, written
from engine.history.records import Calibration, calibrations, row_history
from engine.history.shifts import ShiftRecord
from engine.history.store.segments import Ending
from engine.history.years import yearbook_of
from engine.messages import Language, System
from engine.queues.outbox_message import (
    FileMessage,
    PagesMessage,
    PictureMessage,
    ShownMessage,
    TableMessage,
    TextMessage,
)

RUNS_SHOWN = 4


@dataclass(frozen=True)
class Showing:
    """Makes messages out of what a member can reach; ``zone`` is that of the farm, ``units`` those it begins in."""

    database: Database
    texts: ChatTexts
    zone: tzinfo
    units: System = System.US
    within: RecordTime = FEDERAL

    @property
    def shifts(self) -> Shifts:
        return Shifts(self.database, self.texts, self.zone, self.within)

    def planter(self, member: Member) -> str:
        """The name of a member's planter in brackets, nothing where it has none."""
        return _named(Farm(self.database, member).planter())

    def last_run(self, member: Member, talk: str, language: Language, until: int | None = None) -> list[FileMessage]:
        """The test run that a member ended as a picture and as pages; nothing before the first."""
        record = self._record(member, talk, until)
        return [*self._drawn(record, member, talk, language, member.name)] if record else []

    def finished(self, member: Member, talk: str, language: Language, until: int) -> list[FileMessage]:
        """The same for who did not take part: with the rows in words."""
        record = self._record(member, talk, until)
        if record is None:
            return []
        picture, pages = self._drawn(record, member, talk, language, member.name)
        text = report(record, self._words(language), self._about(record, member, talk, member.name))
        return [picture.model_copy(update={"text": text, "can_wait": True}), pages.model_copy(update={"silent": True})]

    def shift(self, member: Member, talk: str, language: Language, ended: int) -> list[FileMessage]:
        """The shift that the turn ``ended`` closed as a picture and as pages; nothing where nothing was planted yet."""
        record = self.shifts.closed(member, talk, ended)
        return [*self.shifts.drawn(record, member, language)] if record else []

    def shift_ended(self, member: Member, talk: str, language: Language, ended: int) -> list[FileMessage]:
        """The same for who was not there: with the shift and what is in doubt in words."""
        record = self.shifts.closed(member, talk, ended)
        if record is None:
            return []
        spoke = [*self._speakers(member, talk, record.ended_at), *record.operators]
        who = spoke[-1] if spoke else member.name or self.texts.say(ChatKey.AN_OPERATOR, language)
        planter = Farm(self.database, member).planter_of(talk)
        head = self.texts.say(ChatKey.SHIFT_ENDED, language, who=", ".join(filter(None, (who, planter))))
        return self.shifts.ended(record, member, language, head)

    def record(self, member: Member, talk: str, language: Language, _until: int) -> list[FileMessage]:
        """The application records of the last shift, on paper."""
        return self.shifts.papers(member, talk, language)

    def summary(self, member: Member, language: Language) -> Sequence[ShownMessage]:
        """The last test run of the member's planter, or the last shift where one came after it; of every planter for
        who sees the whole farm."""
        found = [one for planter in self._seen(member) for one in self._last(member, planter, language)]
        return found or [self.texts.message(ChatKey.NO_RUN_YET, language)]

    def _last(self, member: Member, planter: FarmPlanter, language: Language) -> Sequence[FileMessage]:
        run = self._record(member, planter.conversation, None)
        shift = self.shifts.last(member, planter.conversation)
        if shift and (run is None or shift.first > run.first):
            return self.shifts.drawn(shift, member, language)
        return self._drawn(run, member, planter.conversation, language) if run else ()

    def history(self, member: Member, language: Language, row: int | None = None) -> Sequence[ShownMessage]:
        """The last catches of each row, with how it wears, or the years of one in words and as a picture."""
        if row is not None:
            found = [one for planter in self._seen(member) for one in self._years(member, planter, language, row)]
            return found or [self.texts.message(ChatKey.HISTORY_NONE, language)]
        farm = Farm(self.database, member)
        lines: list[str] = []
        for planter in self._seen(member):
            records = farm.calibrations(planter.conversation)
            years = self._rows(member, planter, language)
            told = [
                " ".join(
                    [
                        row_told(number, row_history(records, number), self._words(language), RUNS_SHOWN),
                        *years.drift(number),
                    ]
                )
                for number in years.rows()
            ]
            head = self.texts.say(ChatKey.HISTORY_HEAD, language, planter=_named(planter))
            lines += [head, *told] if told else []
        return [TextMessage(text="\n".join(lines) or self.texts.say(ChatKey.NO_RUN_YET, language))]

    def _rows(self, member: Member, planter: FarmPlanter, language: Language) -> RowAccount:
        turns = Farm(self.database, member).turns(planter.conversation)
        return RowAccount(account(language, self.zone), calibrations(turns), yearbook_of(turns, self.zone))

    def _years(self, member: Member, planter: FarmPlanter, language: Language, row: int) -> Sequence[ShownMessage]:
        """The years of a row: its lines, and a picture and pages where a calibration of it was finished."""
        told = self._rows(member, planter, language)
        if row not in told.rows():
            return []
        text = "\n".join(told.row(row))
        if not told.book.of(row):
            return [TextMessage(text=text)]
        data = year_sheet(told.book, told.told, row, [planter.name]).model_dump(mode="json")
        pages = PagesMessage(text="", drawing=data, name=f"rowhand-row-{row}.pdf")
        return [PictureMessage(text=text, drawing=data), pages]

    def export(self, member: Member, language: Language) -> Sequence[ShownMessage]:
        """Every test run of the farm as one table, and its shifts as others; planters are called by name or number, not
        after a chat."""
        planters = Farm(self.database, member).records(account(language, self.zone).planter, self.units)
        lines = calibration_lines(one for planter in planters for one in planter.calibrations)
        text = self.texts.say(ChatKey.EXPORTED, language, runs=str(len(lines)))
        runs = [TableMessage(text=text, table=written(lines), name="rowhand-test-runs.csv")] if lines else []
        nothing = self.texts.message(ChatKey.NOTHING_YET, language)
        return [*runs, *self.shifts.tables(planters, language)] or [nothing]

    def _seen(self, member: Member) -> tuple[FarmPlanter, ...]:
        farm = Farm(self.database, member)
        return farm.planters() if member.role in WHOLE_FARM else (farm.planter(),)

    def _record(self, member: Member, talk: str, until: int | None) -> Calibration | None:
        """The last calibration in which something was weighed."""
        farm = Farm(self.database, member)
        records = farm.calibrations(talk, until)
        return next((one for one in reversed(records) if judged(one).rows.get(Role.NET)), None)

    def _drawn(
        self, record: Calibration, member: Member, talk: str, language: Language, who: str | None = None
    ) -> tuple[PictureMessage, PagesMessage]:
        drawn: RunSheet = sheet(record, self._words(language), self._about(record, member, talk, who))
        data, name = drawn.model_dump(mode="json"), f"rowhand-{drawn.when:%Y-%m-%d-%H%M}"
        text = f"{drawn.title}. {drawn.summary}. {drawn.lines[-1]}."
        return PictureMessage(text=text, drawing=data), PagesMessage(text="", drawing=data, name=f"{name}.pdf")

    def _words(self, language: Language) -> SheetWords:
        return sheet_words(language, self.zone)

    def _about(self, record: Calibration, member: Member, talk: str, who: str | None = None) -> SheetHeader:
        """Planter, product, and who spoke, or ``who`` where nobody said so; field and lots are those of the shift that
        was left for it, and not known before planting."""
        farm = Farm(self.database, member)
        speakers = self._speakers(member, talk, record.ended_at)
        before = [one for one in farm.calibrations(talk, phase=Phase.SET_UP) if one.last < record.first]
        left = self._left(member, talk, record)
        product = before[-1].values.get(Role.PRODUCT) if before else record.values.get(Role.PRODUCT)
        return SheetHeader(
            planter=record.planter or farm.planter_of(talk) or None,
            product=str(product) if product else None,
            who=speakers[-1] if speakers else who,
            field=left.fields[-1] if left and left.fields else None,
            lot=", ".join(left.lots) if left and left.lots else None,
        )

    def _speakers(self, member: Member, talk: str, until: datetime) -> list[str]:
        """Who spoke by then, as it was said, in order."""
        return [one.name for one in Farm(self.database, member).speakers(talk) if one.since <= until]

    def _left(self, member: Member, talk: str, record: Calibration) -> ShiftRecord | None:
        """The shift that was left for a test run; None where there was none."""
        before = [one for one in Farm(self.database, member).shifts(talk, record.first) if one.last <= record.first]
        left = before[-1] if before and before[-1].ending is Ending.CANCELLED else None
        return left if left and record.started_at - left.ended_at <= SOON else None


def _named(planter: FarmPlanter) -> str:
    return f" ({planter.name})" if planter.name else ""
