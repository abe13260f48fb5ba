"""Several answers in one sentence: to what is asked now and to what comes after it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from engine.entries.match_context import Amount
from engine.entries.tokens import fold
from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import Answered, Entry, Given
from engine.quantities import Dimension
from engine.understanding.corrections import CODES
from engine.understanding.evidence import Evidence
from engine.understanding.meaning import NUMBERED, OTHER
from engine.understanding.name_reader import SINGLE
from engine.understanding.repair import repaired
from engine.understanding.spans import SpanKind, TextSpan, in_terms_of, is_telling

NEAR = 4
"""Words between the name of a number and the number: "registration number on it is"."""
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
        evidence = self.evidence
        repair = repaired(self._beside_names(evidence.spans), evidence.hearing)
        told = [part[1:] if part[0].key in evidence.plain_answers else part for part in parts]
        denied = any(evidence.denied(self._beside_names(part)) for part in told)
        return denied or repair.takes_back or repair.denied or evidence.is_question

    def _parts(self) -> list[list[TextSpan]]:
        parts: list[list[TextSpan]] = [[]]
        begins = self._named_numbers()
        inside = {fold(word) for word in self.evidence.vocabulary.naming.inside}
        for span in self.evidence.spans:
            if span.kind in (SpanKind.BREAK, SpanKind.JOIN) or (span.start in begins and span.key in inside):
                parts.append([])
            elif span.start in begins:
                parts.append([span])
            else:
                parts[-1].append(span)
        return self._lists_whole([part for part in parts if part])

    def _beside_names(self, part: Sequence[TextSpan]) -> list[TextSpan]:
        """A part without the words that name a question, so that "reg no" denies nothing."""
        mentions = self.evidence.vocabulary.loose.mentions
        slots = self.evidence.expectation.ahead
        phrases = tuple(one for slot in slots for one in mentions.get(slot.name, ()))
        found = [(span.start, one.end) for span in part for one in self.evidence.hearing.find(phrases, span.start)]
        return [span for span in part if not any(start <= span.start < end for start, end in found)]

    def _named_numbers(self) -> set[int]:
        """Where, of a text that is asked, another answer begins without a mark: a number that is named ("lot 88213",
        "reg no 7714-209"), or what follows counted bags ("20 bags of Oxnar 3G")."""
        expected, spans = self.evidence.expectation, self.evidence.spans
        if not expected.asks_name or expected.slots[0].any_words:
            return set()
        found: set[int] = set()
        for slot in expected.ahead:
            for place, span in enumerate(spans):
                after = spans[place + 1 : place + 1 + NEAR]
                if slot.role in CODES and self._mentions([span], slot) and any(map(_has_digit, self._said(after))):
                    found.add(span.start)
                if slot.kind is SlotKind.COUNT and place and spans[place - 1].is_value and self._mentions([span], slot):
                    found |= {spans[place - 1].start, *(one.start for one in after[:1])}
        return found

    def _said(self, spans: Sequence[TextSpan]) -> list[str]:
        return [self.evidence.hearing.said(span.start, span.end) for span in spans]

    def _lists_whole(self, parts: list[list[TextSpan]]) -> list[list[TextSpan]]:
        """The parts, with those of a list that is asked later together: "yes. gloves, sleeves and a respirator"."""
        lists = [slot for slot in self.evidence.expectation.ahead if slot.any_words and slot.role not in SINGLE]
        others = [slot for slot in self.evidence.expectation.ahead if slot not in lists]
        found: list[list[TextSpan]] = []
        for part in parts:
            listed = len(found) > 1 and any(self._mentions(found[-1], slot) for slot in lists)
            if listed and not any(self._mentions(part, slot) for slot in others):
                found[-1] += part
            else:
                found.append(part)
        return found

    def _answer(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> tuple[Given, ...] | None:
        """The question that a part names, else the first of those left that it answers."""
        text = self.evidence.hearing.said(part[0].start, part[-1].end)
        for slot in self._candidates(part, left):
            place = left.index(slot)
            now = self.evidence.expectation.model_copy(
                update={"slots": (slot,), "ahead": tuple(left[place + 1 :]), "latest": None}
            )
            told = self.read(text, now)
            if any(isinstance(one, Given) for one in told):
                told = [one for one in told if not (isinstance(one, Answered) and one.yes)]
            if told and all(isinstance(one, Given) and one.doubt is None for one in told):
                return tuple(one for one in told if isinstance(one, Given))
        return None

    def _candidates(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> list[ExpectedSlot]:
        """The slots that a part names, else those that it may answer; what tells rows answers no single number."""
        rows = any(span.kind is SpanKind.ROWS for span in part)
        open_ = [slot for slot in left if not (rows and slot.kind in NUMBERED and not slot.per_row)]
        named = [slot for slot in open_ if self._mentions(part, slot)]
        if named and self._begins_with_name(part, left):
            return [left[0], *(slot for slot in named if slot is not left[0])][:MOST_SLOTS]
        return (named or [slot for slot in open_ if self._may_answer(part, slot, left)])[:MOST_SLOTS]

    def _begins_with_name(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> bool:
        """Whether the name that is asked for may stand before the word for something else: "Beltane granules"."""
        asked = self.evidence.expectation.slots[0]
        name = asked is left[0] and asked.kind is SlotKind.TEXT and not asked.any_words and asked.role not in CODES
        return name and not any(self._mentions(part[:1], slot) or part[0].is_value for slot in left[1:])

    def _may_answer(self, part: Sequence[TextSpan], slot: ExpectedSlot, left: Sequence[ExpectedSlot]) -> bool:
        """Whether a part may be for a slot that it does not name: what is asked now, a closed answer in its own words,
        or what is asked next where no question after it takes the unit."""
        if slot.name == self.evidence.expectation.slots[0].name:
            return True
        if slot.kind is SlotKind.CHOICE:
            return self._names_option(part, slot)
        amounts = [span.amount for span in part if span.kind is SpanKind.AMOUNT and span.amount is not None]
        each = self.evidence.says(self.evidence.vocabulary.each, part) and any(one.per_row for one in left)
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
    told = [(given.get((one.slot, one.row)), one.value) for one in found if isinstance(one, Given)]
    texts = [one.value for one in answers if isinstance(one.value, str)]
    return all(one == other or (isinstance(one, str) and (one in str(other) or other in texts)) for one, other in told)


def _has_digit(said: str) -> bool:
    return any(map(str.isdigit, said))
