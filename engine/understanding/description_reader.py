"""A list or a description where one is asked for: what of a sentence it is, and whether its bounds are in doubt."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine.entries.matching.naming import PLACES
from engine.entries.phrases.tokens import fold, has_digit
from engine.expectation import ExpectedSlot
from engine.intents import Command
from engine.messages import Commanded, Either, Entry, Given, Unclear
from engine.understanding.extraction.capitals import EDGES
from engine.understanding.extraction.told_names import (
    CLAUSE_END,
    clauses_in,
    without_replaced,
    without_tail,
    without_while,
)
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.scanning.spelling import nearest_of
from engine.understanding.sentence_reader import SentenceReader
from engine.understanding.weighing.clauses import Clause
from engine.understanding.weighing.evidence import doubtful
from engine.understanding.weighing.meaning import DECLINED, NAME, OTHER

BACK = frozenset({f"command:{Command.HELP}", f"command:{Command.REPEAT}"})
"""Commands that a question about a question is."""
MOST_BEFORE = 3
"""Words at the beginning of a sentence that may make it a question."""
CROP, LOCATION = "crop_or_site", "location"
SINGLE = frozenset({CROP, "formulation"})
"""Roles of texts that are one thing and no list, so that what stands behind a mark is something else."""
FEW_BEFORE = 2
"""So many words before what is asked for make it a sentence."""
_WORD = re.compile(r"[^\W\d_]+")


class DescriptionReader(SentenceReader):
    """Reads one sentence where a list or a description is asked for."""

    def as_typed(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """The whole text where a list or a description is asked for; something else only where it surely is that."""
        slot = self.expectation.slots[0]
        told = next((one for one in strict if isinstance(one, Given) and one.slot == slot.name), None)
        if told is None:
            too_long = any(isinstance(one, Unclear) for one in strict) and self.passes()
            return (Commanded(command=Command.SKIP),) if too_long else None
        whole = Clause(self.spans, self.weigh(self.spans))
        if (asked := self.instead(whole)) is not None:
            return asked
        if whole.meaning != NAME and self.passes():
            return (Commanded(command=Command.SKIP),)
        place = self._is_led_to_place() and whole.meaning in (DECLINED, OTHER)
        if self.told.takes_back or (whole.meaning != NAME and whole.sure >= self.limits.acted and not place):
            other = self.found()
            if other and not all(isinstance(one, Unclear) for one in other):
                return other
        text = without_replaced(" ".join(str(told.value).split()), self.hearing).strip(" .,;:")
        cut = without_while if slot.role in PLACES else without_tail
        short = cut(text, self.hearing).strip(" .,;:")
        lost = slot.role in SINGLE and self._calls(text, slot) and not self._calls(short, slot)
        text = text if lost else self._without_small(short, slot)
        given = told.model_copy(update={"value": text, "said": text, "doubt": None})
        first = self._single(text) if slot.role in SINGLE else ""
        if first and not (self.is_question or self.told.takes_back):
            return (told.model_copy(update={"value": first, "said": first, "doubt": None}),)
        odd = self.is_question or self.told.takes_back or self.unreal(self.spans) or self.is_talk()
        odd = odd or self._is_sentence(text) or (slot.role in SINGLE and bool(CLAUSE_END.search(text)))
        odd = odd or self.begins_question() or self._names_itself(text) or lost or self._is_told_of(text, slot)
        odd = odd or self._trails(text, slot)
        plain = (whole.meaning == NAME or self._is_led_to_place()) and not odd
        if plain and (meant := self._slip(text)):
            return (Either(readings=((given.model_copy(update={"value": meant}),), (given,))),)
        return (given,) if plain else (doubtful(given),)

    def _single(self, text: str) -> str:
        """The one thing that stands before a mark, where it is called by a word for such and the rest is a remark about
        it: "field corn, not the sweet"; nothing where it is not so plain."""
        slot = self.expectation.slots[0]
        first, *rest = [without_tail(part, self.hearing).strip(EDGES) for part in clauses_in(text)] or [""]
        others = [one for one in (*self.expectation.ahead, *self.expectation.known) if one is not slot]
        beside = any(self._calls(part, one) for part in rest for one in others) or has_digit(text)
        again = any(self._calls(part, slot) and not self._was(part) for part in rest)
        apart = bool(rest) and not (beside or again or any(map(self._begins_small, rest)))
        if not apart or not self._calls(first, slot) or self._is_sentence(first):
            return ""
        said = self.again(first)
        return "" if said.unreal(said.spans) or said.denied(said.spans) else first

    def _was(self, part: str) -> bool:
        """Whether a part tells what was so before: "it was beans last year"."""
        return self.hearing.again(part).says((*self.vocabulary.past, *self.loose.unreal))

    def _without_small(self, text: str, slot: ExpectedSlot) -> str:
        """One thing without its article, "a granule", and a place without one: "la bodega"."""
        first, _, rest = text.partition(" ")
        single = {*self.loose.single, *self.naming.articles}
        small = single if slot.role in SINGLE else {*self.loose.determiners} if slot.role in PLACES else ()
        return rest if rest and fold(first) in small and first.islower() else text

    def _trails(self, text: str, slot: ExpectedSlot) -> bool:
        """Whether words behind a crop, or behind a number of few words for a place, may be a remark: "popcorn on
        contract", "map 7 in the binder"."""
        loose, words = self.loose, text.split()
        leads = {*loose.on_words} - {*loose.copulas, *loose.determiners}
        at = next((place for place, word in enumerate(words) if place and fold(word) in leads), 0)
        numbered = slot.role == LOCATION and at <= MOST_BEFORE and has_digit(words[at - 1])
        if not at or not (slot.role == CROP or numbered):
            return False
        return not self._calls(" ".join(words[at + 1 :]), slot)

    def _is_told_of(self, text: str, slot: ExpectedSlot) -> bool:
        """Whether several words stand before the one for what is asked, "the landlord wants peanuts", or it is one
        letter."""
        words = text.split()
        at = next((place for place in range(len(words)) if self._calls(" ".join(words[: place + 1]), slot)), 0)
        return slot.role in SINGLE and (at >= FEW_BEFORE or len(text) == 1)

    def _begins_small(self, part: str) -> bool:
        """Whether a part goes on with what is before the mark: "on a clay carrier"."""
        loose, first = self.loose, fold(part.split(maxsplit=1)[0])
        return first in {*loose.on_words, *self.naming.inside} - {*loose.determiners}

    def _names_itself(self, text: str) -> bool:
        """Whether a text is no more than the name of a question: "the formulation"."""
        small = {*self.naming.inside, *self.loose.copulas}

        def bare(words: str) -> list[str]:
            return [word for word in fold(words).split() if word not in small]

        return any(bare(text) == bare(name) for one in self.expectation.every_slot for name in one.called)

    def _is_led_to_place(self) -> bool:
        """Whether several words lead to where something is: "what's left is in the"."""
        ends = self.hearing.ends(self.naming.places, self.hearing.after_breaks(0))
        return self.expectation.slots[0].role in PLACES and max(ends, default=0) >= MOST_BEFORE

    def _slip(self, text: str) -> str:
        """The text with a word that is one slip of the finger away from a word for what is asked as that word."""
        slot = self.expectation.slots[0]
        phrases = self.hearing.mentions(slot) if slot.role in SINGLE else ()
        meant = {fold(word): word for one in phrases for word in _WORD.findall(one.say)}
        for word in text.split():
            key = fold(word)
            near = None if key in meant else nearest_of(key, meant)
            if near is not None and not self.classifier.knows(key):
                return text.replace(word, meant[near])
        return ""

    def _calls(self, text: str, slot: ExpectedSlot) -> bool:
        """Whether a word for what a slot asks for stands in a text."""
        return self.hearing.again(text).says(self.hearing.mentions(slot))

    def _is_sentence(self, text: str) -> bool:
        """Whether words stand in a text that a name or a description has none of, such as "its" or "was"."""
        words = {fold(word.strip(EDGES)) for word in text.split()}
        slot = self.expectation.slots[0]
        listed = slot.any_words and slot.role not in SINGLE and slot.role not in PLACES
        return bool(words & self.naming.sentence - (self.naming.choices if listed else set()))

    # ---- what is no answer

    def instead(self, whole: Clause) -> tuple[Entry, ...] | None:
        """What no name is meant by: all of it is given up, the answer comes later, or something is asked."""
        hearing, naming = self.hearing, self.naming
        if self.is_piece((*naming.quits, *self.vocabulary.commands[Command.CANCEL])):
            return (Commanded(command=Command.CANCEL),)
        start, end = hearing.after_breaks(0), len(hearing.tokens)
        waits = hearing.ends(naming.waits, start)
        if waits and not self._tells(max(waits)):
            return ()
        if end in hearing.ends(naming.waits, *range(start, end)) and not self._tells(start):
            return ()
        return self._asks_back(whole)

    def _tells(self, start: int) -> bool:
        """Whether a capital, a number, or behind a mark words that lead to a name stand from here on."""
        tokens = self.hearing.tokens
        named = any(token.stands_out for token in tokens[start:])
        behind = (place + 1 for place in range(start, len(tokens)) if tokens[place].is_break)
        return named or self.hearing.says(self.naming.leads, behind)

    def begins_question(self) -> bool:
        """Whether a sentence begins as a question does, with no words that lead to a name or a place."""
        start, naming = self.hearing.after_breaks(0), self.naming
        asks = max(self.hearing.ends(naming.questions, start), default=0)
        leads = max(self.hearing.ends((*naming.leads, *naming.places), start), default=0)
        return leads < asks < len(self.hearing.tokens)

    def _asks_back(self, whole: Clause) -> tuple[Entry, ...] | None:
        """What is asked in a sentence that begins as a question and is marked as one; help with this question where
        that is not clear. None where it is no question."""
        words = [span.key for span in self.spans if span.kind is not SpanKind.BREAK][:MOST_BEFORE]
        asking = {*self.loose.asking, *self.naming.talk}
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
        starts = {0, *(one.end for one in self.spans if one.is_mark)}
        return not ends.isdisjoint(self.hearing.ends(self.loose.passes, *starts))

    def is_talk(self) -> bool:
        """Whether it is made of words alone that are no name, such as "exit"."""
        words = [span.key for span in self.spans if span.kind is SpanKind.WORD]
        return bool(words) and self.naming.talk.issuperset(words)
