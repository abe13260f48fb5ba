"""Where a name is asked for: what is no answer, such as a question back, a wait, or that all of it is given up."""

from __future__ import annotations

from engine.entries.phrases.tokens import fold
from engine.intents import Command
from engine.messages import Commanded, Entry
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.sentence_reader import SentenceReader
from engine.understanding.weighing.clauses import Clause, pieces
from engine.understanding.weighing.meaning import DECLINED, NAME, OTHER

BACK = frozenset({f"command:{Command.HELP}", f"command:{Command.REPEAT}"})
"""Commands that a question about a question is."""
MOST_BEFORE = 3
"""Words at the beginning of a sentence that may make it a question."""


class AsideReader(SentenceReader):
    """Reads one sentence that may be no answer to what is asked."""

    def instead(self, whole: Clause) -> tuple[Entry, ...] | None:
        """What no name is meant by: all of it is given up, the answer comes later, or something is asked."""
        naming = self.vocabulary.naming
        parts = [[span for span in part if span.kind is not SpanKind.BREAK] for part in pieces(self.spans)]
        parts = [part for part in parts if part]
        quits = (naming.quits, self.vocabulary.commands[Command.CANCEL])
        found = ((part, one) for part in parts for words in quits for one in self.hearing.find(words, part[0].start))
        if any(one.end == part[-1].end for part, one in found):
            return (Commanded(command=Command.CANCEL),)
        start = self.hearing.after_breaks(0)
        waits = [one.end for one in self.hearing.find(naming.waits, start)]
        if waits and not self._tells(max(waits)):
            return ()
        last = (
            one.end
            for place in range(start, len(self.hearing.tokens))
            for one in self.hearing.find(naming.waits, place)
        )
        if len(self.hearing.tokens) in last and not self._tells(start):
            return ()
        return self._asks_back(whole)

    def _tells(self, start: int) -> bool:
        """Whether a capital, a number, or behind a mark words that lead to a name stand from here on."""
        tokens, leads = self.hearing.tokens, self.vocabulary.naming.leads
        named = any(token.text[:1].isupper() or any(map(str.isdigit, token.text)) for token in tokens[start:])
        marks = [place for place in range(start, len(tokens)) if tokens[place].is_break]
        return named or any(True for place in marks for _ in self.hearing.find(leads, place + 1))

    def begins_question(self) -> bool:
        """Whether a sentence begins as a question does, with no words that lead to a name or a place."""
        start, naming = self.hearing.after_breaks(0), self.vocabulary.naming
        asks = [one.end for one in self.hearing.find(naming.questions, start)]
        leads = [one.end for words in (naming.leads, naming.places) for one in self.hearing.find(words, start)]
        return bool(asks) and max(asks) > max(leads, default=0) and max(asks) < len(self.hearing.tokens)

    def _asks_back(self, whole: Clause) -> tuple[Entry, ...] | None:
        """What is asked in a sentence that begins as a question and is marked as one; help with this question where
        that is not clear. None where it is no question."""
        words = [span.key for span in self.spans if span.kind is not SpanKind.BREAK][:MOST_BEFORE]
        asking = {*self.vocabulary.loose.asking, *map(fold, self.vocabulary.naming.talk)}
        marked = self.is_question and any(word in asking for word in words)
        if not marked and not self.begins_question():
            return None
        shares = {one: share for one, share in whole.shares.items() if one.startswith("topic:") or one in BACK}
        beside = (NAME,) if marked else (NAME, OTHER, DECLINED)
        total = sum(share for one, share in whole.shares.items() if one not in beside) or 1.0
        best = max(shares, key=lambda one: shares[one], default="")
        if best and shares[best] / total >= self.limits.answered:
            return self.meant(Clause(whole.spans, {best: 1.0}))
        lost = marked or whole.meaning in (DECLINED, OTHER)
        return (Commanded(command=Command.HELP),) if lost else None

    def passes(self) -> bool:
        """Whether one whole piece of a sentence goes on without an answer."""
        ends = {one.start for one in self.spans if one.kind is SpanKind.BREAK} | {len(self.hearing.tokens)}
        starts = {0, *(one.end for one in self.spans if one.kind in (SpanKind.BREAK, SpanKind.JOIN))}
        passes = self.vocabulary.loose.passes
        return any(one.end in ends for start in starts for one in self.hearing.find(passes, start))

    def is_talk(self) -> bool:
        """Whether it is made of words alone that are no name, such as "exit"."""
        talk = {fold(word) for word in self.vocabulary.naming.talk}
        words = [span.key for span in self.spans if span.kind is SpanKind.WORD]
        return bool(words) and all(word in talk for word in words)
