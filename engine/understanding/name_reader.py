"""A name where one is asked for: what of a sentence it is, and whether the words are something else."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.tokens import fold
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.intents import Command
from engine.messages import Commanded, Entry, Given
from engine.understanding.aside_reader import MOST_BEFORE
from engine.understanding.description_reader import SINGLE, DescriptionReader
from engine.understanding.extraction.capitals import EDGES, has_capitals
from engine.understanding.extraction.corrections import CODES, LOT
from engine.understanding.extraction.inferring import doubtful
from engine.understanding.extraction.told_names import (
    CLAUSE_END,
    PERSON,
    PRODUCT,
    SPELLED,
    name_in,
    starts,
)
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.surroundings import hardly_a_code, in_doubt
from engine.understanding.weighing.clauses import Clause
from engine.understanding.weighing.meaning import DECLINED, NAME, OTHER

TAKEN_BACK = f"command:{Command.SCRATCH}"
STRENGTH = re.compile(r"\S+\s?[gG]")
"""How strong a product is, as it stands behind its name: no grams."""


class NameReader(DescriptionReader):
    """Reads one sentence where a name is asked for."""

    def instead_of_name(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """Something else than a name where the words are that; what is half sure to be one is asked."""
        slot = self.expectation.slots[0]
        whole = Clause(self.spans, self.weigh(self.spans))
        if (asked := self.instead(whole)) is not None:
            return asked
        name = name_in(self.as_said, slot, slot.role in CODES, self.classifier.knows)
        coded = name is not None and name[:1].isupper() and any(map(str.isdigit, name))
        led = name is not None and (starts(self.hearing) or has_capitals(name) or self._is_code or coded)
        if not led and whole.meaning != NAME and self.passes():
            return (Commanded(command=Command.SKIP),)
        acts = whole.meaning != NAME and whole.sure >= self.limits.acted and not (whole.meaning == OTHER and led)
        acts = acts and not (whole.meaning == TAKEN_BACK and self.tells_code())
        acts = acts and not (whole.meaning == DECLINED and self._ends_with_person(name or ""))
        if acts and (other := self.meant(whole)) is not None:
            return other
        change = {} if name is None else {"value": name, "said": name, "doubt": None}
        told = tuple(one.model_copy(update=change) if isinstance(one, Given) else one for one in strict)
        plain = name is not None and (self._is_bare_name(name) or self._ends_with_person(name))
        sure = (whole.meaning == NAME and whole.sure >= self.limits.name_kept) or plain
        sure = sure and not self._is_odd(name) and not self._leaves_numbers(name)
        sure = sure and not (name is None and slot.role in CODES) and not self.unreal(self.spans)
        sure = sure and not (slot.role == PERSON and any(map(str.isdigit, name or self.text)))
        return tuple(one if sure or not isinstance(one, Given) else doubtful(one) for one in told)

    def _is_bare_name(self, name: str) -> bool:
        """Whether the whole text is a name of several words in capitals, none of them a word of talk."""
        small = {*self.vocabulary.sentence_words, *self.vocabulary.talk}
        words = {fold(word.strip(EDGES)) for word in name.split()}
        return has_capitals(name) and name == self.text.strip(EDGES) and not words & small

    def _ends_with_person(self, name: str) -> bool:
        """Whether a person's first and last name end a sentence or a clause and no other word has a capital: "my dad,
        his name's Leon Brandt"."""
        if self.expectation.slots[0].role != PERSON or not has_capitals(name) or self.told.takes_back:
            return False
        before, found, after = self.as_said.text.partition(name)
        capital = any(word[:1].isupper() for word in (*before.split()[1:], *after.split()))
        alone = bool(found) and (not after.strip() or after.lstrip()[:1] in ",.;")
        return alone and not capital and not self.denied(self.spans) and not self.unreal(self.spans)

    def _leaves_numbers(self, name: str | None) -> bool:
        """Whether a number is told that is no part of the name: it may be, or be something else."""
        numbers = [token.text for token in self.as_said.tokens if token.is_number]
        said = [self.hearing.said(span.start, span.end) for span in self.spans if span.is_value]
        numbers += [number for number in said if f"{name} {number}" in self.as_said.text]
        return name is not None and any(number not in name for number in numbers) and not self._is_code

    @property
    def _is_code(self) -> bool:
        return self.expectation.slots[0].role in CODES

    def meant_after_all(self) -> str:
        """What is said behind words that take a name back, "Bordo Alto, no, Bordo Bajo"; nothing where none do."""
        if not self.expectation.asks_name or self.is_question:
            return ""
        tokens = self.hearing.tokens
        ends = [end for place in range(1, len(tokens)) if (end := self._taken_back(place)) is not None]
        others = [slot for slot in self.expectation.known if not slot.per_row]
        if ends and any(self._is_named_at(slot, ends[-1]) for slot in others):
            return ""
        asked = self.expectation.slots[0]
        before, after = (self.hearing.said(0, ends[-1]), self.hearing.said(ends[-1], len(tokens))) if ends else ("", "")
        if asked.role in SINGLE and self._calls(before, asked) and not self._calls(after, asked):
            return ""
        return self.hearing.said(ends[-1], len(tokens)) if ends else ""

    def _is_named_at(self, slot: ExpectedSlot, place: int) -> bool:
        """Whether a word for an earlier question stands there, which is put right then and not the name."""
        named = self.hearing.find(self.vocabulary.loose.mentions.get(slot.name, ()), place)
        called = {fold(word) for word in slot.called}
        return any(True for _ in named) or self.hearing.tokens[place].key in called

    def _taken_back(self, place: int) -> int | None:
        """Where what is meant begins, where words at this place take back those before it. A plain no does so behind a
        mark or a "but" alone, and with a mark, a capital or a number behind it."""
        hearing, loose, tokens = self.hearing, self.vocabulary.loose, self.hearing.tokens
        ends = [one.end for one in hearing.find(loose.repairs, place)]
        ends = [end for end in ends if any(token.key not in loose.not_words for token in tokens[place:end])]
        before = tokens[place - 1]
        turns = before.is_break or hearing.says(loose.contrasts, (place - 1,))
        if not ends and turns and tokens[place].key in loose.denies_all:
            after = tokens[place + 1] if place + 1 < len(tokens) else None
            coded = self.expectation.slots[0].role in CODES and after is not None and after.text[:1].isdigit()
            apart = after is not None and (after.is_break or after.text[:1].isupper() or coded)
            ends = [place + 1] if apart else []
        start = hearing.after_breaks(max(ends)) if ends else len(tokens)
        while start < len(tokens) and tokens[start].key in loose.denies_all:
            start = hearing.after_breaks(start + 1)
        return start if start < len(tokens) else None

    def renamed(self) -> Given | None:
        """The name that is said instead of one that was asked back: "no, Mill Creek"."""
        slot = self.expectation.slots[0] if self.expectation.slots else None
        if slot is None or self.expectation.asking is not Asking.CONFIRM or slot.kind is not SlotKind.TEXT:
            return None
        refused = self.says(self.vocabulary.answers.no, self.spans[:1])
        words = [span for span in self.spans[refused:] if span.kind is not SpanKind.BREAK]
        text = self.hearing.said(words[0].start, words[-1].end) if words else ""
        said = NameReader(text, self.expectation, self.vocabulary, self.classifier)
        name = name_in(said.as_said, slot, slot.role in CODES, self.classifier.knows) if text else None
        plain = name is not None and (name[:1].isupper() or any(map(str.isdigit, name))) and not self.is_question
        return Given(slot=slot.name, value=name or "", said=text) if plain else None

    def _measures(self, name: str) -> bool:
        """Whether an amount that another question takes stands in a name."""
        expected = self.expectation
        units = {unit for slot in (*expected.ahead, *expected.known) for unit in slot.units}
        told = (span for span in self.spans if span.kind is SpanKind.AMOUNT and span.amount is not None)
        return any(
            unit in units and (said := self.hearing.said(span.start, span.end)) in name and not STRENGTH.fullmatch(said)
            for span in told
            for _, unit in (span.amount.parts if span.amount else ())
        )

    def _is_scrap(self, name: str) -> bool:
        """Whether a name is one letter, has a mark inside, behind which something else may stand, or is told letter by
        letter, with its hyphen in words or with a strength in words ("Ten-G", "ten G")."""
        if self._is_code:
            return bool(CLAUSE_END.search(name))
        dashes = set(map(fold, self.vocabulary.naming.dashes))
        told = bool(SPELLED.search(self.text)) or any(token.key in dashes for token in self.as_said.tokens)
        heads = (word.partition("-")[0] for word in name.split() if "-" in word)
        strength = any(MatchContext(one, self.expectation, self.vocabulary).matcher.rule("pair", 0) for one in heads)
        if self.expectation.slots[0].role == PRODUCT:
            said = MatchContext(name, self.expectation, self.vocabulary)
            places = [place for place, token in enumerate(said.tokens) if place and not token.is_number]
            strength = strength or any(True for place in places for _ in said.matcher.rule("pair", place))
        return len(name) == 1 or told or strength or bool(CLAUSE_END.search(name))

    def _is_odd(self, name: str | None) -> bool:
        """Whether a name may be none: it is asked for in the same words, or is in small letters in a long sentence."""
        words = [span.key for span in self.spans if span.kind is SpanKind.WORD]
        asking = set(self.vocabulary.loose.asking) & {fold(word) for word in self.vocabulary.naming.talk}
        asks = any(word in asking for word in words[:MOST_BEFORE])
        small = name is not None and name == name.lower() and not any(map(str.isdigit, name))
        slot = self.expectation.slots[0]
        counted = name is not None and name.isdigit() and slot.role not in CODES and not starts(self.hearing)
        code = self._is_code and slot.role != LOT
        asks = asks or (name is not None and code and hardly_a_code(name, self.as_said))
        beside = name is not None and not self._is_code and in_doubt(name, self.as_said, slot)
        asks = asks or self.begins_question() or beside
        asks = asks or (name is not None and (self._is_sentence(name) or self._is_scrap(name) or self._measures(name)))
        return asks or counted or (small and len(words) > MOST_BEFORE + 1)
