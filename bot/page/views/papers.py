"""What can be kept or handed on: the last test run, the night so far, a row over the years, the application record.

Each is told in words, and drawn as a picture and as pages where the extra for that is installed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import tzinfo
from typing import TYPE_CHECKING

from bot.extras import Extra, install, is_installed
from bot.page.texts import PageKey, PageTexts
from bot.page.views.messages import PaperLinks
from bot.page.views.newest import newest_shift
from bot.record.application import form, in_words
from bot.record.row_years import RowAccount
from bot.record.shift_words import account
from bot.sheet.form import FormPages
from bot.sheet.sheet import judged, sheet
from bot.sheet.shift_summary import shift_sheet
from bot.sheet.words import sheet_words
from bot.sheet.years_chart import year_sheet
from engine.assistant import Assistant
from engine.dialog.schema.slot_roles import Role
from engine.history.application import applications
from engine.history.records import calibrations
from engine.history.store.journal import Journal
from engine.history.years import yearbook_of
from engine.messages import Language

if TYPE_CHECKING:
    from bot.sheet.canvas import AnySheet

ROW = re.compile(r"row-([1-9]\d{0,2})")


@dataclass(frozen=True)
class DrawnPaper:
    """A summary in words, and its drawing where there is one."""

    title: str
    lines: tuple[str, ...]
    drawing: AnySheet | None = None


@dataclass(frozen=True)
class PaperDesk:
    """Makes the papers of one conversation. ``named`` reads the record; drawing needs none and may be done anywhere."""

    assistant: Assistant
    journal: Journal
    texts: PageTexts
    zone: tzinfo
    talk: str

    def named(self, name: str) -> DrawnPaper | None:
        """The paper of a name; None where there is no such name."""
        language = self.assistant.state(self.talk).language
        match name:
            case "run":
                return self._run(language)
            case "night":
                return self._night(language)
            case "record":
                return self._record(language)
            case _:
                row = ROW.fullmatch(name)
                return self._row(int(row[1]), language) if row else None

    def links(self, name: str, paper: DrawnPaper) -> PaperLinks:
        """What a phone shows of it, with the addresses of its files."""
        language = self.assistant.state(self.talk).language
        if paper.drawing is None:
            return PaperLinks(title=paper.title, lines=paper.lines)
        if not is_installed(Extra.PAPER):
            lacks = self.texts.say(PageKey.NO_PAPER, language, command=install(Extra.PAPER))
            return PaperLinks(title=paper.title, lines=paper.lines, lacks=lacks)
        at = f"/paper/{name}"
        return PaperLinks(title=paper.title, lines=paper.lines, picture=f"{at}.png", pages=f"{at}.pdf")

    def _nothing(self, title: PageKey, key: PageKey, language: Language) -> DrawnPaper:
        return DrawnPaper(self.texts.say(title, language), (self.texts.say(key, language),))

    def _run(self, language: Language) -> DrawnPaper:
        found = [one for one in calibrations(self.journal.turns(self.talk)) if judged(one).rows.get(Role.NET)]
        if not found:
            return self._nothing(PageKey.LAST_RUN, PageKey.NO_RUN, language)
        drawn = sheet(found[-1], sheet_words(language, self.zone))
        rows = (
            f"{row.row}: {', '.join(filter(None, (row.catch, row.setting, row.verdict)))}"
            for row in sorted(drawn.rows, key=lambda one: one.row)
        )
        return DrawnPaper(drawn.title, (drawn.summary, *drawn.lines, *rows), drawn)

    def _night(self, language: Language) -> DrawnPaper:
        system = self.assistant.state(self.talk).system
        record = newest_shift(self.journal, self.talk, system)
        if record is None:
            return self._nothing(PageKey.NIGHT, PageKey.NO_SHIFT, language)
        told = account(language, self.zone, system)
        lines = (*told.shift(record), *told.scouting([record]))
        drawn = shift_sheet(record, told, [record.planter])
        return DrawnPaper(drawn.title, lines, drawn)

    def _row(self, row: int, language: Language) -> DrawnPaper:
        turns = self.journal.turns(self.talk)
        told = account(language, self.zone, self.assistant.state(self.talk).system)
        rows = RowAccount(told, calibrations(turns), yearbook_of(turns, self.zone))
        title = self.texts.say(PageKey.ROW_TITLE, language, row=str(row))
        if row not in rows.rows():
            return DrawnPaper(title, (self.texts.say(PageKey.NO_ROW, language, row=str(row)),))
        drawn = year_sheet(rows.book, told, row) if rows.book.of(row) else None
        return DrawnPaper(title, tuple(rows.row(row)), drawn)

    def _record(self, language: Language) -> DrawnPaper:
        found = applications(self.journal.turns(self.talk), self.zone, self.assistant.within)
        if not found:
            return self._nothing(PageKey.RECORD_TITLE, PageKey.NO_RECORD, language)
        told = account(language, self.zone, self.assistant.state(self.talk).system)
        lines = tuple(line for one in found for line in in_words(one, told))
        drawn = FormPages(forms=tuple(form(one, told) for one in found))
        return DrawnPaper(self.texts.say(PageKey.RECORD_TITLE, language), lines, drawn)


def picture_of(drawing: AnySheet) -> bytes:
    """A PNG, of the newest form where there are several; raises ModuleNotFoundError without the extra ``paper``."""
    from bot.sheet.picture import picture

    newest = FormPages(forms=drawing.forms[-1:]) if isinstance(drawing, FormPages) else drawing
    return picture(newest)


def pages_of(drawing: AnySheet) -> bytes:
    """A PDF; raises ModuleNotFoundError without the extra ``paper``."""
    from bot.sheet.pages import pages

    return pages(drawing)
