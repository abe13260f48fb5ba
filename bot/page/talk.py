"""The engine's side of the page: lines of phones become turns, each once, on the one thread of the assistant.

A phone says with each line which turn stood on it. Where others have moved the talk on since, what was an answer there
might be taken for an answer to another question: it is not kept, and the phone asks again. A tap answers only the turn
that it was made on, so that a second tap of the same button answers nothing. What means the same wherever it is said, a
report or a question, is taken all the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.page.texts import PageKey, PageTexts
from bot.page.views.calls import PageCalls
from bot.page.views.messages import SentLine, SettledLine, Settlement, TypedLine
from bot.voice.memory import VoiceMemory
from engine.assistant import Assistant
from engine.entries.grammar import grammar
from engine.errors import WorldError
from engine.history.store.journal import Journal
from engine.messages import Asked, Language, Reported, Utterance
from engine.understanding.reader import understand
from speech.transcript import Transcript

LONGEST_WAIT = timedelta(days=14)
"""Nothing is taken to have waited longer on a phone: its clock was set meanwhile (own decision)."""


@dataclass(frozen=True)
class LineTaker:
    """Takes what phones say in one conversation. ``longest`` is how many characters a line may have."""

    assistant: Assistant
    journal: Journal
    memory: VoiceMemory
    calls: PageCalls
    texts: PageTexts
    talk: str
    longest: int

    @property
    def language(self) -> Language:
        return self.assistant.state(self.talk).language

    def typed(self, line: TypedLine, phone: int, now: datetime) -> SettledLine:
        """Take a line that was typed or tapped."""
        if len(line.text) > self.longest:
            return self._not_taken(line, Settlement.REFUSED, PageKey.TOO_LONG_TEXT)
        said = Utterance(
            id=_id(line, phone),
            conversation=self.talk,
            text=line.text,
            language=self.language,
            said_at=_said_at(line, now),
        )
        return self._take(line, said, phone)

    def heard(self, line: SentLine, transcript: Transcript, phone: int, now: datetime) -> SettledLine:
        """Take what was heard in a recording."""
        from bot.hear import utterance

        language = self.language
        place = {"id": _id(line, phone), "conversation": self.talk, "said_at": _said_at(line, now)}
        known = self.memory.confusions(transcript.text, language)
        said = utterance(transcript, language).model_copy(update={**place, "confusions": known})
        return self._take(line, said, phone)

    def known(self, line: SentLine, phone: int) -> SettledLine | None:
        """The answer to a line that was taken before."""
        taken = self.journal.turn(_id(line, phone)) is not None
        return SettledLine(id=line.id, how=Settlement.TAKEN) if taken else None

    def ready(self) -> tuple[Language, str]:
        """The language, and the grammar of what may be said now."""
        expected = self.assistant.expectation(self.talk)
        return expected.language, grammar(expected, self.assistant.vocabulary(expected.language))

    def unheard(self, line: SentLine, why: PageKey, **values: str) -> SettledLine:
        """A recording of which nothing can be made."""
        return self._not_taken(line, Settlement.UNHEARD, why, **values)

    def _take(self, line: SentLine, said: Utterance, phone: int) -> SettledLine:
        try:
            if known := self.known(line, phone):
                return known
            if not self._is_for_here(line, said, phone):
                return self._not_taken(line, Settlement.MOVED_ON, PageKey.MOVED_ON)
            self.memory.notice(self.assistant.hear(said))
        except WorldError:
            return self._not_taken(line, Settlement.FAILED, PageKey.FAILED)
        return SettledLine(id=line.id, how=Settlement.TAKEN)

    def _is_for_here(self, line: SentLine, said: Utterance, phone: int) -> bool:
        """Whether it was said to what stands now: nobody else spoke since, or it answers a call that still asks, or it
        means the same anywhere."""
        if line.call is not None:
            return self.calls.asks(line.call)
        last = self.journal.last(self.talk)
        if line.seq == last:
            return True
        is_tap = isinstance(line, TypedLine) and line.tapped
        since = self.journal.turns(self.talk, after=line.seq)
        if not is_tap and line.seq < last and all(turn.utterance_id.startswith(_prefix(phone)) for turn in since):
            return True
        expected = self.assistant.expectation(self.talk)
        entries = understand(said, expected, self.assistant.vocabulary(expected.language)).entries
        told = [one for one in entries if isinstance(one, Reported) and one.doubt is None]
        return bool(entries) and all(one in told or isinstance(one, Asked) for one in entries)

    def _not_taken(self, line: SentLine, how: Settlement, key: PageKey, **values: str) -> SettledLine:
        return SettledLine(id=line.id, how=how, text=self.texts.say(key, self.language, **values))


def _prefix(phone: int) -> str:
    return f"page:{phone}:"


def _id(line: SentLine, phone: int) -> str:
    return f"{_prefix(phone)}{line.id}"


def _said_at(line: SentLine, now: datetime) -> datetime:
    """When it was said, by the clock of this computer: as long ago as the phone's own clock says it is."""
    waited = timedelta(milliseconds=min(max(line.now - line.at, 0.0), LONGEST_WAIT.total_seconds() * 1000))
    return now - waited
