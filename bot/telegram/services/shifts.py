"""The shifts of a farm in the chat: the last one as picture, pages and words, and all of them as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo
from functools import partial

from bot.record.application import lacking_of, on_paper
from bot.record.shift_words import DATE, RecordReport, account
from bot.sheet.shift_summary import ShiftSheet, shift_sheet
from bot.sheet.texts import SheetKey
from bot.sheet.words import sheet_words
from bot.telegram.services.report import over
from bot.telegram.texts import ChatKey, ChatTexts
from engine.crew.farm import Farm, PlanterRecord, called, of_planter
from engine.crew.people import Member
from engine.database import Database
from engine.dialog.turns.elements import FEDERAL, RecordTime
from engine.history.application import Application
from engine.history.export import written
from engine.history.shift_export import application_lines, doubt_lines, rate_lines, shift_lines
from engine.history.shifts import ShiftRecord
from engine.history.store.segments import Ending
from engine.messages import Language
from engine.queues.outbox_message import FileMessage, PagesMessage, PictureMessage, TableMessage

TABLES = {
    "rowhand-shifts.csv": (shift_lines, ChatKey.EXPORTED_SHIFTS),
    "rowhand-scouting.csv": (doubt_lines, ChatKey.EXPORTED_SCOUTING),
    "rowhand-true-rates.csv": (rate_lines, ChatKey.EXPORTED_RATES),
}


@dataclass(frozen=True)
class Shifts:
    """Makes messages out of the shifts that a member can reach; ``zone`` is that of the farm, ``within`` the time that
    application records may take."""

    database: Database
    texts: ChatTexts
    zone: tzinfo
    within: RecordTime = FEDERAL

    def last(self, member: Member, talk: str) -> ShiftRecord | None:
        """The last shift of a conversation of the farm."""
        return next(reversed(Farm(self.database, member).shifts(talk)), None)

    def closed(self, member: Member, talk: str, seq: int) -> ShiftRecord | None:
        """The shift that this turn closed, if it did."""
        found = Farm(self.database, member).shifts(talk, seq)
        return found[-1] if found and found[-1].last == seq else None

    def drawn(self, record: ShiftRecord, member: Member, language: Language) -> tuple[PictureMessage, PagesMessage]:
        """A shift as a picture and as pages."""
        told = self._account(record, language)
        sheet = self._sheet(record, member, told)
        data = sheet.model_dump(mode="json")
        name = f"rowhand-shift-{record.started_at.astimezone(self.zone):%Y-%m-%d-%H%M}.pdf"
        text = " ".join([f"{sheet.title}.", f"{sheet.lines[0]}.", told.doubt(record)])
        return PictureMessage(text=text, drawing=data), PagesMessage(text="", drawing=data, name=name)

    def ended(self, record: ShiftRecord, member: Member, language: Language, head: str) -> list[FileMessage]:
        """The same for who was not there, with the shift and what is in doubt in words under the ``head``."""
        told = self._account(record, language)
        picture, pages = self.drawn(record, member, language)
        lacking = lacking_of(self._applied(record, member), told, record.started_at, record.ended_at)
        text = over(record, told, head, lacking)
        return [picture.model_copy(update={"text": text, "can_wait": True}), pages.model_copy(update={"silent": True})]

    def _applied(self, record: ShiftRecord, member: Member) -> tuple[Application, ...]:
        """The application records of a shift that is over."""
        if record.ending is not Ending.FINISHED:
            return ()
        return Farm(self.database, member).applications(record.conversation, self.zone, self.within)

    def papers(self, member: Member, talk: str, language: Language) -> list[FileMessage]:
        """The application records of the last shift of a conversation as one document, a page each."""
        farm, last = Farm(self.database, member), self.last(member, talk)
        if last is None:
            return []
        planter = called(farm.planters(), account(language, self.zone).planter).get(talk, "")
        found = farm.applications(talk, self.zone, self.within)
        mine = [of_planter(one, planter) for one in found if one.applied.until >= last.started_at]
        return self._document(mine, language)

    def _document(self, records: Sequence[Application], language: Language) -> list[FileMessage]:
        if not records:
            return []
        forms = on_paper(records, partial(account, language, self.zone))
        days = sorted({f"{one.elements.applied_on:{DATE}}" for one in records})
        name = f"rowhand-application-{'-to-'.join(dict.fromkeys((days[0], days[-1])))}.pdf"
        return [PagesMessage(text="", drawing=forms.model_dump(mode="json"), name=name)]

    def tables(self, planters: Sequence[PlanterRecord], language: Language) -> list[FileMessage]:
        """Every shift, what to scout, and the true rates, each as a table where there is anything in it; and the
        application records, as a table and on paper."""
        records = [one for planter in planters for one in planter.shifts]
        found: list[FileMessage] = []
        for name, (made, key) in TABLES.items():
            if lines := made(records):
                text = self.texts.say(key, language, lines=str(len(lines)))
                found.append(TableMessage(text=text, table=written(lines), name=name))
        applied = [one for planter in planters for one in planter.applications(self.zone, self.within)]
        if applied:
            text = self.texts.say(ChatKey.EXPORTED_APPLICATIONS, language, lines=str(len(applied)))
            table = written(application_lines(applied))
            found.append(TableMessage(text=text, table=table, name="rowhand-applications.csv"))
        return [*found, *self._document(applied, language)]

    def _account(self, record: ShiftRecord, language: Language) -> RecordReport:
        return account(language, self.zone, record.system)

    def _sheet(self, record: ShiftRecord, member: Member, told: RecordReport) -> ShiftSheet:
        farm, talk = Farm(self.database, member), record.conversation
        planter = record.planter or farm.planter_of(talk)
        speakers = [one.name for one in farm.speakers(talk) if one.since <= record.ended_at]
        known = not speakers or speakers[-1] in record.operators
        who = None if known else sheet_words(told.language, self.zone).say(SheetKey.SPEAKER, name=speakers[-1])
        return shift_sheet(record, told, [planter, who])
