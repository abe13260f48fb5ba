"""Several answers in one sentence: to what is asked now and to what comes after it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from engine.entries.match_context import Amount
from engine.entries.tokens import fold
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import Entry, Given
from engine.quantities import Dimension
from engine.understanding.evidence import Evidence
from engine.understanding.meaning import NUMBERED, OTHER
from engine.understanding.spans import SpanKind, TextSpan, in_terms_of, is_telling

MOST_SLOTS = 2
"""So many questions at most are tried for one part."""
MOST_PARTS = 6
"""A sentence of more parts is a story, not a series of answers."""

ReadPart = Callable[[str, Expectation], Sequence[Entry]]


@dataclass(frozen=True)
class Series:
    """One typed sentence cut at its marks and joining words, each part read as an answer by itself.

    Each part must plainly answer a question that is open, or tell nothing; the first one asked must be among those
    answered. ``read`` reads one part under an expectation.
    """

    evidence: Evidence
    read: ReadPart

    def answers(self, found: Sequence[Entry]) -> tuple[Given, ...]:
        """The answers, where they are more than were found in the sentence as a whole; none where any part does not
        fit."""
        parts = self._parts()
        asks = self.evidence.expectation.asking is Asking.SLOT
        if not asks or not 1 < len(parts) <= MOST_PARTS or self._is_turned(parts):
            return ()
        answers: list[Given] = []
        left = [*self.evidence.expectation.slots, *self.evidence.expectation.ahead]
        if not any(self._candidates(part, left[1:]) for part in parts):
            return ()
        for part in parts:
            told = self._answer(part, left)
            if told is None and not self._is_remark(part, left):
                return ()
            answers += told or ()
            left = [slot for slot in left if slot.name not in {one.slot for one in answers}]
        slots = {one.slot for one in answers}
        plain = {one.slot for one in found if isinstance(one, Given) and one.doubt is None}
        first = self.evidence.expectation.slots[0].name
        more = first in slots and len(slots) > 1 and not slots <= plain
        return tuple(answers) if more and _agree(answers, found) else ()

    def _is_turned(self, parts: Sequence[Sequence[TextSpan]]) -> bool:
        """Whether anything is taken back, denied or asked; a plain no that is an answer by itself denies nothing."""
        evidence, repair = self.evidence, self.evidence.told
        told = [part[1:] if part[0].key in evidence.plain_answers else part for part in parts]
        denied = any(map(evidence.denied, told))
        return denied or repair.takes_back or repair.denied or evidence.is_question

    def _parts(self) -> list[list[TextSpan]]:
        parts: list[list[TextSpan]] = [[]]
        for span in self.evidence.spans:
            if span.kind in (SpanKind.BREAK, SpanKind.JOIN):
                parts.append([])
            else:
                parts[-1].append(span)
        return [part for part in parts if part]

    def _answer(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> tuple[Given, ...] | None:
        """The question that a part names, else the first of those left that it answers."""
        text = self.evidence.hearing.said(part[0].start, part[-1].end)
        for slot in self._candidates(part, left):
            place = left.index(slot)
            now = self.evidence.expectation.model_copy(
                update={"slots": (slot,), "ahead": tuple(left[place + 1 :]), "latest": None}
            )
            told = self.read(text, now)
            if told and all(isinstance(one, Given) and one.doubt is None for one in told):
                return tuple(one for one in told if isinstance(one, Given))
        return None

    def _candidates(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> list[ExpectedSlot]:
        """The slots that a part names, else those that it may answer; what tells rows answers no single number."""
        rows = any(span.kind is SpanKind.ROWS for span in part)
        open_ = [slot for slot in left if not (rows and slot.kind in NUMBERED and not slot.per_row)]
        named = [slot for slot in open_ if self._mentions(part, slot)]
        return (named or [slot for slot in open_ if self._may_answer(part, slot, left)])[:MOST_SLOTS]

    def _may_answer(self, part: Sequence[TextSpan], slot: ExpectedSlot, left: Sequence[ExpectedSlot]) -> bool:
        """Whether a part may be for a slot that it does not name: what is asked now, a closed answer in its own words,
        or what is asked next where no question after it takes the unit."""
        if slot.name == self.evidence.expectation.slots[0].name:
            return True
        if slot.kind is SlotKind.CHOICE:
            return self._names_option(part, slot)
        amounts = [span.amount for span in part if span.kind is SpanKind.AMOUNT and span.amount is not None]
        each = self.evidence.says(self.evidence.vocabulary.each, part)
        rows = each or any(span.kind is SpanKind.ROWS for span in part)
        alike = [one for one in left[:2] if _takes(one, amounts) and one.per_row == rows]
        return bool(amounts) and alike == [slot]

    def _mentions(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        phrases = self.evidence.vocabulary.loose.mentions.get(slot.name, ())
        called = {fold(word) for word in slot.called}
        return self.evidence.says(phrases, part) or any(span.key in called for span in part)

    def _names_option(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether one of the slot's answers is named, where they are not a plain yes and no."""
        plain = self.evidence.plain_answers
        named = [f" {fold(word)} " for option in slot.options for word in option.words]
        said = f" {' '.join(span.key for span in part)} "
        return not (slot.per_row or plain & {one.strip() for one in named}) and any(one in said for one in named)

    def _is_remark(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> bool:
        """Whether a part tells nothing: no amounts, rows or trouble in it, nothing denied, no question named."""
        evidence = self.evidence
        if any(is_telling(span) for span in part) or evidence.turned(part):
            return False
        if any(span.key in evidence.vocabulary.loose.trouble for span in part):
            return False
        shares = evidence.weigh(part)
        best = max(shares, key=lambda one: shares[one])
        moved = best.startswith(("command:", "topic:", "report:")) and shares[best] >= evidence.limits.acted
        return not moved and (best == OTHER or not any(self._mentions(part, slot) for slot in left))


def _takes(slot: ExpectedSlot, amounts: Sequence[Amount]) -> bool:
    """Whether all amounts are in units of a slot; "five miles" may be a speed."""
    speed = Dimension.SPEED in slot.dimensions
    meant = [in_terms_of(one, slot.dimensions, slot.units) if speed else one for one in amounts]
    said = {unit for one in meant for _, unit in one.parts}
    return bool(said) and said <= set(slot.units)


def _agree(answers: Sequence[Given], found: Sequence[Entry]) -> bool:
    """Whether all that was found in the sentence as a whole is among the answers; what was taken for a name may be the
    whole sentence."""
    given = {(one.slot, one.row): one.value for one in answers}
    told = ((given.get((one.slot, one.row)), one.value) for one in found if isinstance(one, Given))
    return all(one == other or (isinstance(one, str) and one in str(other)) for one, other in told)
