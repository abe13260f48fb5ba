"""Which of the open questions a part of a typed sentence may answer, and whether it tells anything at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.entries.phrases.tokens import fold
from engine.expectation import ExpectedSlot, SlotKind
from engine.understanding.description_reader import SINGLE
from engine.understanding.extraction.told_names import CODES
from engine.understanding.partition import Partition, takes
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_telling
from engine.understanding.weighing.evidence import Evidence
from engine.understanding.weighing.meaning import NUMBERED, OTHER

MOST_SLOTS = 2
"""So many questions at most are tried for one part."""


@dataclass(frozen=True)
class Candidacy:
    """The parts of one typed sentence beside the questions that are open."""

    evidence: Evidence
    partition: Partition

    def has_others(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether a text stands in one part with a word for another one, or the one thing that it is with an amount."""
        expected, tokens = self.evidence.expectation, self.evidence.hearing.tokens
        if not slot.any_words:
            small = [span for span in part if tokens[span.start].text.islower()]
            single = [one for one in expected.ahead if one.role in SINGLE]
            return any(self.evidence.mentions(small, one) for one in single)
        others = [one for one in (*expected.slots, *expected.ahead) if one.any_words and one is not slot]
        measured = any(span.kind is SpanKind.AMOUNT for span in part)
        named = any(self.evidence.mentions(part, one) for one in others)
        return named or (slot.role in SINGLE and measured)

    def only_leads(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is no more than the words that lead to a name."""
        leads = self.evidence.hearing.ends(self.evidence.naming.leads, part[0].start)
        return max(leads, default=0) >= part[-1].end

    def text(self, part: Sequence[TextSpan]) -> str:
        """The words of a part without a small word at its end, which led to what was cut off there."""
        vocabulary = self.evidence.vocabulary
        small = {*vocabulary.naming.inside, *vocabulary.loose.on_words, *vocabulary.loose.per}
        small -= {span.key for span in part if self.evidence.says(vocabulary.each, [span])}
        tokens = self.evidence.hearing.tokens
        gap = slice(tokens[part[-2].end - 1].end, tokens[part[-1].start].start) if len(part) > 1 else slice(0, 0)
        apart = self.evidence.hearing.text[gap].isspace()
        last = part[-2] if apart and part[-1].kind is SpanKind.WORD and part[-1].key in small else part[-1]
        return self.evidence.hearing.said(part[0].start, last.end)

    def candidates(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> list[ExpectedSlot]:
        """The slots that a part names, else those that it may answer; what tells rows answers no single number."""
        rows = self._names_rows(part, left)
        open_ = [slot for slot in left if not (rows and slot.kind in NUMBERED and not slot.per_row)]
        named = [slot for slot in open_ if self.evidence.mentions(part, slot)]
        if named and self._begins_with_name(part, left):
            return [left[0], *(slot for slot in named if slot is not left[0])][:MOST_SLOTS]
        if not named and (name := self._named_by_capitals(part, open_)) is not None:
            return [name]
        return (named or [slot for slot in open_ if self._may_answer(part, slot, left)])[:MOST_SLOTS]

    def _named_by_capitals(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> ExpectedSlot | None:
        """The only name that is asked later, where a part is a bare one and what is asked now is none: "lot 447, La
        Loma"."""
        names = [slot for slot in left if slot.kind is SlotKind.TEXT and not slot.any_words and slot.role not in CODES]
        asked = self.evidence.expectation.slots[0]
        plain = len(names) == 1 and names[0].name != asked.name and not asked.any_words
        return names[0] if plain and part[0].start > 0 and self.partition.is_bare_name(part) else None

    def _begins_with_name(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> bool:
        """Whether the name that is asked for may stand before the word for something else: "Beltane granules"."""
        asked = self.evidence.expectation.slots[0]
        name = asked is left[0] and asked.kind is SlotKind.TEXT and not asked.any_words and asked.role not in CODES
        return name and not any(self.evidence.mentions(part[:1], slot) or part[0].is_value for slot in left[1:])

    def _names_rows(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> bool:
        """Whether rows are named, where anything is told of rows; elsewhere "each one" is a bag."""
        by_row = any(slot.per_row for slot in (*left, *self.evidence.expectation.known))
        return by_row and any(span.kind is SpanKind.ROWS for span in part)

    def _may_answer(self, part: Sequence[TextSpan], slot: ExpectedSlot, left: Sequence[ExpectedSlot]) -> bool:
        """Whether a part may be for a slot that it does not name: what is asked now, a closed answer in its own words,
        or what is asked next where no question after it takes the unit, or the only one later that takes it."""
        if slot.name == self.evidence.expectation.slots[0].name:
            return True
        if slot.kind is SlotKind.CHOICE:
            return self._names_option(part, slot)
        amounts = [span.amount for span in part if span.kind is SpanKind.AMOUNT and span.amount is not None]
        each = self.evidence.says(self.evidence.vocabulary.each, part) and any(one.per_row for one in left)
        rows = each or self._names_rows(part, left)
        alike = [one for one in left[:2] if takes(one, amounts) and one.per_row == rows]
        ranged = sum(span.is_value for span in part) == len(alike) == MOST_SLOTS
        if not alike and not rows:
            alike = [one for one in left if takes(one, amounts)]
        return bool(amounts) and alike[: 1 if ranged else None] == [slot]

    def _names_option(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether one of the slot's answers is named, where they are not a plain yes and no."""
        plain = self.evidence.plain_answers
        named = [f" {fold(word)} " for option in slot.options for word in option.words]
        said = f" {' '.join(span.key for span in part)} "
        return not (slot.per_row or plain & {one.strip() for one in named}) and any(one in said for one in named)

    def is_remark(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> bool:
        """Whether a part tells nothing: no amounts, rows or trouble in it, nothing denied, no question named."""
        evidence = self.evidence
        trailing = (*evidence.naming.whiles, *evidence.naming.tails)
        if fold(self.text(part)) in map(fold, trailing):
            return True
        by_row = any(slot.per_row for slot in left)
        told = [span for span in part if is_telling(span) and (by_row or not (span.every or span.rest))]
        if told or evidence.turned(part) or any(span.key in evidence.loose.trouble for span in part):
            return False
        shares = evidence.weigh(part)
        best = max(shares, key=lambda one: shares[one])
        moved = best.startswith(("command:", "topic:", "report:")) and shares[best] >= evidence.limits.acted
        return not moved and (best == OTHER or not any(self.evidence.mentions(part, slot) for slot in left))
