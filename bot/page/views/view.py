"""What an operator's phone shows of the conversation, made of what the engine answers and expects."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from bot.page.texts import PageKey, PageTexts
from bot.page.views.calls import PageCalls
from bot.page.views.messages import ConversationView, HeardLine, NumberPad, UnitKey
from bot.page.views.rows import RowOverview
from engine.assistant import Assistant
from engine.data.forms import load_forms
from engine.data.units import System
from engine.dialog.facts.state import ConversationState
from engine.dialog.reply.wording import Wording
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import LANGUAGES, Button, Language, Report
from engine.quantities import UNITS, Dimension
from engine.shift.record.shift_state import ShiftState

SHOWN_BEFORE = 12
NAMES_SHOWN = 12
AREAS = {System.US: ("acre", "ha"), System.METRIC: ("ha", "acre")}
REPORTS = (
    (Report.GOOD, PageKey.ALL_GOOD, PageKey.ALL_GOOD_SAYS),
    (Report.PAUSED, PageKey.PAUSE, PageKey.PAUSE_SAYS),
    (Report.WENT_ON, PageKey.GO_ON, PageKey.GO_ON_SAYS),
    (Report.ENDED, PageKey.END_SHIFT, PageKey.END_SHIFT_SAYS),
)
NUMBERS = (SlotKind.MEASURE, SlotKind.COUNT, SlotKind.SETTING)


@dataclass(frozen=True)
class ViewMaker:
    """Makes the view of one conversation; ``version`` is that of the files of the page."""

    assistant: Assistant
    journal: Journal
    calls: PageCalls
    texts: PageTexts
    zone: tzinfo
    version: str
    talk: str

    def view(self, now: datetime) -> ConversationView:
        state, expects = self.assistant.state(self.talk), self.assistant.expectation(self.talk)
        seq = self.journal.last(self.talk)
        turns = self.journal.turns(self.talk, after=max(seq - SHOWN_BEFORE, 0))
        asked = self.assistant.prompt(self.talk, now)
        said, question = self._told(turns[-1] if turns else None, asked.text, state)
        overview = RowOverview(self.assistant, self.journal, self.texts, self.zone)
        last = turns[-1] if turns else None
        pads = self._pads(state, expects) if not asked.buttons else ()
        return ConversationView(
            version=self.version,
            language=state.language,
            seq=last.seq if last else 0,
            opened=state.dialog.dialog if state.dialog else "",
            said=said,
            question=question,
            speech=(last.reply.speech or last.reply.text) if last else question,
            buttons=asked.buttons or self._ways(state, expects),
            names=_names(expects),
            pads=pads,
            row_buttons=_row_buttons(expects),
            grid=overview.grid(self.talk, last),
            calls=self.calls.ringing(),
            before=tuple(map(_line, turns)),
            types=_types(expects),
            skips=self._skips(expects),
            languages=tuple(_language(one) for one in LANGUAGES if one != state.language),
        )

    def _told(self, last: StoredTurn | None, asked: str, state: ConversationState) -> tuple[str, str]:
        """What was answered, and what is asked: the reply is cut where the question in it begins."""
        if last is None:
            return self.texts.say(PageKey.STRANGER, state.language), self.texts.say(PageKey.IDLE, state.language)
        if state.dialog is None:
            return last.reply.text, self.texts.say(PageKey.IDLE, state.language)
        if not last.reply.text.endswith(asked):
            return "", last.reply.text
        return last.reply.text.removesuffix(asked).rstrip(), asked

    def _ways(self, state: ConversationState, expects: Expectation) -> tuple[Button, ...]:
        """What can be begun where nothing is open, and what is reported most in a shift."""
        if state.dialog is None:
            return tuple(_opening(words) for words in self.assistant.openings(state.language))
        if expects.asking is not Asking.REPORT:
            return ()
        shift = state.dialog.activity
        stands = isinstance(shift, ShiftState) and shift.paused
        unfit = {Report.PAUSED if stands else Report.WENT_ON, *({Report.GOOD} if stands else ())}
        return tuple(
            Button(label=self.texts.say(label, state.language), says=self.texts.say(says, state.language))
            for report, label, says in REPORTS
            if report in expects.reports and report not in unfit
        )

    def _pads(self, state: ConversationState, expects: Expectation) -> tuple[NumberPad, ...]:
        if expects.asking is Asking.REPORT and Report.PLANTED in expects.reports:
            units = tuple(self._unit(symbol, state) for symbol in AREAS[state.system])
            return (
                NumberPad(name=self.texts.say(PageKey.ACRES, state.language), units=units, says=PageKey.ACRES_SAYS),
            )
        if expects.asking is not Asking.SLOT:
            return ()
        return tuple(self._pad(slot, state) for slot in expects.slots if _takes_number(slot))

    def _pad(self, slot: ExpectedSlot, state: ConversationState) -> NumberPad:
        units = sorted(slot.units, key=lambda symbol: symbol != slot.default_unit)
        known = self.assistant.slot(self.talk, slot.name)
        return NumberPad(
            name=known.name.of(state.language) if known else "",
            units=tuple(self._unit(symbol, state) for symbol in units),
            rows=slot.per_row,
            row=slot.next_row,
        )

    def _skips(self, expects: Expectation) -> bool:
        """Whether what is asked may be left open."""
        asked = expects.slots[0] if expects.asking is Asking.SLOT else None
        known = self.assistant.slot(self.talk, asked.name) if asked else None
        return known is not None and known.optional

    def _unit(self, symbol: str, state: ConversationState) -> UnitKey:
        label = Wording(state.language, state.system).unit(symbol)
        return UnitKey(label=label, says=label if UNITS[symbol].dimension is Dimension.AREA else symbol)


def _language(language: Language) -> Button:
    forms = load_forms(language)
    return Button(label=forms.own_name, says=forms.called[0])


def _opening(words: str) -> Button:
    return Button(label=words[0].upper() + words[1:], says=words)


def _takes_number(slot: ExpectedSlot) -> bool:
    marked = slot.dial is not None and bool(slot.dial.marks)
    return slot.kind in NUMBERS and not marked


def _types(expects: Expectation) -> bool:
    """Whether what is asked is words."""
    return expects.asking is Asking.SLOT and expects.slots[0].kind in (SlotKind.TEXT, SlotKind.DIAL)


def _names(expects: Expectation) -> tuple[Button, ...]:
    """Names that were told before and may be meant again."""
    if not expects.asks_name:
        return ()
    return tuple(Button(label=name, says=name) for name in expects.slots[0].names[-NAMES_SHOWN:])


def _row_buttons(expects: Expectation) -> tuple[Button, ...]:
    """Closed answers that are told row by row: options, or the marks of a dial."""
    asked = expects.slots[0] if expects.asking is Asking.SLOT and expects.slots[0].per_row else None
    if asked is None:
        return ()
    if asked.dial is not None and asked.dial.marks:
        return tuple(Button(label=mark, says=mark) for mark in asked.dial.marks)
    return tuple(Button(label=one.label, says=one.words[0]) for one in asked.options)


def _line(turn: StoredTurn) -> HeardLine:
    return HeardLine(
        seq=turn.seq, heard=turn.heard, reply=turn.reply.text, at=turn.said_at.astimezone(UTC).timestamp() * 1000
    )
