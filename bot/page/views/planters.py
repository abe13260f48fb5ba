"""Every planter of the record as a foreman looks at it; nothing here writes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, tzinfo

from bot.page.texts import PageKey, PageTexts
from bot.page.views.calls import PageCalls
from bot.page.views.messages import PlanterCard, PlantersView
from bot.page.views.newest import newest_shift
from bot.page.views.rows import RowOverview
from bot.record.shift_words import RecordReport, account
from engine.assistant import Assistant
from engine.crew.farm import called, every_planter
from engine.dialog.reply.wording import Wording
from engine.errors import UnreadableFact
from engine.history.shifts import ShiftRecord
from engine.history.store.journal import Journal
from engine.messages import Language


@dataclass(frozen=True)
class PlanterOverview:
    """Makes the cards; one of a planter of which nothing new was said is not made again."""

    assistant: Assistant
    journal: Journal
    calls: PageCalls
    texts: PageTexts
    zone: tzinfo
    zone_name: str
    version: str
    _known: dict[str, tuple[int, Language, PlanterCard]] = field(default_factory=dict)

    def view(self, language: Language, now: datetime) -> PlantersView:
        planters = every_planter(self.journal.database)
        names = called(planters, account(language, self.zone).planter)
        cards = tuple(card for talk, name in names.items() if (card := self._card(talk, name, language, now)))
        return PlantersView(version=self.version, language=language, cards=cards)

    def _card(self, talk: str, name: str, language: Language, now: datetime) -> PlanterCard | None:
        """None for a conversation that cannot be read, which keeps no other one from being shown."""
        seq, known = self.journal.last(talk), self._known.get(talk)
        calls = tuple(one.text for one in self.calls.ringing(talk))
        if known is None or known[:2] != (seq, language):
            try:
                known = (seq, language, self._made(talk, name, language, now))
            except UnreadableFact:
                return None
            self._known[talk] = known
        return known[2].model_copy(update={"calls": calls, "name": name})

    def _made(self, talk: str, name: str, language: Language, now: datetime) -> PlanterCard:
        turns = self.journal.turns(talk, after=self.journal.last(talk) - 1)
        last = turns[-1] if turns else None
        state = self.assistant.state(talk)
        shift = newest_shift(self.journal, talk, state.system)
        told = account(language, self.zone, state.system)
        return PlanterCard(
            name=name,
            open=self._open(talk, language, now),
            last=self.texts.say(PageKey.LAST_SAID, language, text=last.heard) if last else "",
            calls=(),
            lines=tuple(shift_lines(shift, told)) if shift else (),
            grid=RowOverview(self.assistant, self.journal, self.texts, self.zone).grid(talk, last),
        )

    def _open(self, talk: str, language: Language, now: datetime) -> str:
        opened = self.assistant.opened(talk)
        if opened is None:
            return self.texts.say(PageKey.NOTHING_OPEN, language)
        words = self.assistant.expectation(talk).dialogs.get(opened[0], (opened[0],))[0]
        wording = Wording(language, self.assistant.state(talk).system, self.zone_name)
        time = wording.clock(opened[1], now)
        return self.texts.say(PageKey.OPEN_SINCE, language, dialog=words[0].upper() + words[1:], time=time)


def shift_lines(record: ShiftRecord, told: RecordReport) -> Iterator[str]:
    """A shift in words, what is in doubt and over the label first; an open one with its rows that stopped."""
    first = [*told.label(record), *told.scouting([record], stopped_first=True)]
    yield from first
    rest = told.shift(record)
    yield from (line for line in rest if line not in first)
