"""A name where one is asked for: what of a sentence it is, whether the words are something else, and whether what
stands around it puts its bounds in doubt."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.tokens import fold, has_digit
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.intents import Command
from engine.messages import Commanded, Entry, Given
from engine.understanding.description_reader import MOST_BEFORE, SINGLE, DescriptionReader
from engine.understanding.extraction.capitals import EDGES, has_capitals
from engine.understanding.extraction.told_names import (
    CLAUSE_END,
    CODES,
    LOT,
    PERSON,
    PRODUCT,
    QUOTES,
    SPELLED,
    name_in,
    starts,
    without_tail,
)
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.weighing.clauses import Clause
from engine.understanding.weighing.evidence import doubtful
from engine.understanding.weighing.meaning import DECLINED, NAME, OTHER

TAKEN_BACK = f"command:{Command.SCRATCH}"
STRENGTH = re.compile(r"\S+\s?[gG]")
"""How strong a product is, as it stands behind its name: no grams."""
FEW_DIGITS = 3
"""A number of a registration or a licence has hardly fewer digits."""
MOST_LEFT = 1
"""So many words before a name that nothing leads to may be a greeting."""


class NameReader(DescriptionReader):
    """Reads one sentence where a name is asked for."""

    def instead_of_name(self, strict: Sequence[Entry]) -> tuple[Entry, ...] | None:
        """Something else than a name where the words are that; what is half sure to be one is asked."""
        slot = self.expectation.slots[0]
        whole = Clause(self.spans, self.weigh(self.spans))
        if (asked := self.instead(whole)) is not None:
            return asked
        name = name_in(self.as_said, slot, self.classifier.knows)
        coded = name is not None and name[:1].isupper() and has_digit(name)
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
        sure = sure and not (name is None and self._is_code) and not self.unreal(self.spans)
        sure = sure and not (slot.role == PERSON and has_digit(name or self.text))
        return tuple(one if sure or not isinstance(one, Given) else doubtful(one) for one in told)

    def _is_bare_name(self, name: str) -> bool:
        """Whether the whole text is a name of several words in capitals, none of them a word of talk."""
        words = {fold(word.strip(EDGES)) for word in name.split()}
        talks = words & (self.naming.sentence | self.naming.talk)
        return has_capitals(name) and name == self.text.strip(EDGES) and not talks

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
        begins = [begin for place in range(1, len(tokens)) if (begin := self._taken_back(place)) is not None]
        if not begins:
            return ""
        before, after = self.hearing.said(0, begins[-1]), self.hearing.said(begins[-1], len(tokens))
        asked, others = self.expectation.slots[0], [slot for slot in self.expectation.known if not slot.per_row]
        lost = asked.role in SINGLE and self._calls(before, asked) and not self._calls(after, asked)
        return "" if lost or any(self._is_named_at(slot, begins[-1]) for slot in others) else after

    def _is_named_at(self, slot: ExpectedSlot, place: int) -> bool:
        """Whether a word for an earlier question stands there, which is put right then and not the name."""
        named = self.hearing.says(self.hearing.mentions(slot), (place,))
        return named or self.hearing.key(place) in map(fold, slot.called)

    def _taken_back(self, place: int) -> int | None:
        """Where what is meant begins, where words at this place take back those before it. A plain no does so behind a
        mark or a "but" alone, and with a mark, a capital or a number behind it."""
        hearing, loose, tokens = self.hearing, self.loose, self.hearing.tokens
        ends = hearing.ends(loose.repairs, place)
        ends = [end for end in ends if any(token.key not in loose.not_words for token in tokens[place:end])]
        before = tokens[place - 1]
        turns = before.is_break or hearing.says(loose.contrasts, (place - 1,))
        if not ends and turns and tokens[place].key in loose.denies_all:
            after = tokens[place + 1] if place + 1 < len(tokens) else None
            first = after.text[:1] if after is not None else ""
            apart = first.isupper() or (self._is_code and first.isdigit()) or (after is not None and after.is_break)
            ends = [place + 1] if apart else []
        start = hearing.after_breaks(max(ends)) if ends else len(tokens)
        while start < len(tokens) and tokens[start].key in loose.denies_all:
            start = hearing.after_breaks(start + 1)
        return start if start < len(tokens) else None

    def renamed(self) -> Given | None:
        """The name that is said instead of one that was asked back: "no, Mill Creek"."""
        slot = self.expectation.asked
        if slot is None or self.expectation.asking is not Asking.CONFIRM or slot.kind is not SlotKind.TEXT:
            return None
        refused = self.says(self.vocabulary.answers.no, self.spans[:1])
        words = [span for span in self.spans[refused:] if span.kind is not SpanKind.BREAK]
        text = self.hearing.said(words[0].start, words[-1].end) if words else ""
        name = name_in(self.hearing.again(text), slot, self.classifier.knows) if text else None
        plain = name is not None and (name[:1].isupper() or has_digit(name)) and not self.is_question
        return Given(slot=slot.name, value=name or "", said=text) if plain else None

    def _measures(self, name: str) -> bool:
        """Whether an amount that another question takes stands in a name."""
        units = {unit for slot in (*self.expectation.ahead, *self.expectation.known) for unit in slot.units}
        told = [(self.hearing.said(span.start, span.end), span) for span in self.spans if span.kind is SpanKind.AMOUNT]
        amounts = (span.amount for said, span in told if said in name and not STRENGTH.fullmatch(said))
        return any(unit in units for amount in amounts if amount for _, unit in amount.parts)

    def _is_scrap(self, name: str) -> bool:
        """Whether a name is one letter, has a mark inside, behind which something else may stand, or is told letter by
        letter, with its hyphen in words or with a strength in words ("Ten-G", "ten G")."""
        if self._is_code:
            return bool(CLAUSE_END.search(name))
        told = bool(SPELLED.search(self.text)) or any(token.key in self.naming.dashes for token in self.as_said.tokens)
        heads = (word.partition("-")[0] for word in name.split() if "-" in word)
        strength = any(self.hearing.again(one).matcher.rule("pair", 0) for one in heads)
        if self.expectation.slots[0].role == PRODUCT:
            said = self.hearing.again(name)
            places = [place for place, token in enumerate(said.tokens) if place and not token.is_number]
            strength = strength or any(said.matcher.rule("pair", place) for place in places)
        return len(name) == 1 or told or strength or bool(CLAUSE_END.search(name))

    def _is_odd(self, name: str | None) -> bool:
        """Whether a name may be none: it is asked for in the same words, or is in small letters in a long sentence."""
        words = [span.key for span in self.spans if span.kind is SpanKind.WORD]
        asking = self.naming.talk.intersection(self.loose.asking)
        if self.begins_question() or not asking.isdisjoint(words[:MOST_BEFORE]):
            return True
        if name is None:
            return False
        slot, code = self.expectation.slots[0], self._is_code
        small = name == name.lower() and not has_digit(name) and len(words) > MOST_BEFORE + 1
        counted = name.isdigit() and not code and not starts(self.hearing)
        hardly = code and slot.role != LOT and hardly_a_code(name, self.as_said)
        odd = small or counted or hardly or (not code and in_doubt(name, self.as_said, slot))
        return odd or self._is_sentence(name) or self._is_scrap(name) or self._measures(name)


def in_doubt(name: str, hearing: MatchContext, slot: ExpectedSlot) -> bool:
    """Whether words are left over beside a name in its clause, "but" goes on behind it, or it is one word of a person's
    behind an article."""
    before, found, after = hearing.text.partition(name)
    if not found:
        return False
    rest = fold(after).strip(EDGES).split()
    if rest and rest[0] in hearing.loose.weak_except:
        return True
    if slot.role == PERSON:
        words, first = fold(before).split(), fold(name.split(maxsplit=1)[0])
        small = _small(hearing) | hearing.naming.sentence
        called = len(name.split()) == 1 or name == name.lower()
        return first in small or (called and bool(words) and words[-1] in small)
    return _left_before(before, hearing) or _left_behind(after, hearing)


def _small(hearing: MatchContext) -> frozenset[str]:
    return hearing.naming.inside | hearing.naming.articles


def _left_before(before: str, hearing: MatchContext) -> bool:
    """Whether more words stand before a name in its clause than a greeting, and none of them leads to it."""
    if before[-1:] in QUOTES:
        return False
    clause = CLAUSE_END.split(before)[-1]
    said = [word.strip(EDGES) for word in fold(clause).split()]
    said = [word for word in said if word and word not in _small(hearing) | hearing.vocabulary.fillers]
    between = (hearing.text[hearing.tokens[end].start : len(before)] for end in starts(hearing))
    led = clause.rstrip().endswith(":") or any(set(fold(words).split()) <= _small(hearing) for words in between)
    return len(said) > MOST_LEFT and not led


def _left_behind(after: str, hearing: MatchContext) -> bool:
    """Whether words follow a name in its clause that trail behind no name."""
    naming, clause = hearing.naming, CLAUSE_END.split(after)[0]
    first, _, rest = clause.strip().partition(" ")
    clause = rest if fold(first.strip(EDGES)) in {*naming.generic, *naming.kinds} else clause
    if not clause.strip(EDGES) or after[:1] in ",;.!?":
        return False
    return without_tail(f"x {clause.strip(EDGES)}", hearing).strip(EDGES) != "x"


def hardly_a_code(name: str, hearing: MatchContext) -> bool:
    """Whether a number of a registration or a licence has hardly a digit, or is said not to be it."""
    no, pairs = hearing.loose.not_words, pairwise(hearing.tokens)
    denied = any(one.key in no and two.is_number and two.text == name for one, two in pairs)
    return sum(map(str.isdigit, name)) < FEW_DIGITS or denied
