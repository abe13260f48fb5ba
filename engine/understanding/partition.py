"""One typed sentence cut into parts, each of which may be an answer by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.entries.matching.match_context import Amount
from engine.entries.phrases.tokens import fold, has_digit
from engine.expectation import ExpectedSlot, SlotKind
from engine.quantities import Dimension
from engine.understanding.description_reader import SINGLE
from engine.understanding.extraction.capitals import has_capitals
from engine.understanding.extraction.told_names import CODES
from engine.understanding.revision import Revision
from engine.understanding.scanning.spans import SpanKind, TextSpan, in_terms_of
from engine.understanding.weighing.evidence import Evidence
from engine.understanding.weighing.meaning import NAME

NEAR = 4
"""Words between the name of a number and the number: "registration number on it is"."""


@dataclass(frozen=True)
class Partition:
    """Cuts at marks and joining words, and where an answer begins without them; lists stay whole."""

    evidence: Evidence
    revision: Revision

    def parts(self) -> list[list[TextSpan]]:
        parts: list[list[TextSpan]] = [[]]
        begins = self._named_numbers()
        inside = self.evidence.naming.inside
        for span in self.evidence.spans:
            if span.is_mark or (span.start in begins and span.key in inside):
                parts.append([])
            elif span.start in begins:
                parts.append([span])
            else:
                parts[-1].append(span)
        return self._lists_whole(self._headed([part for part in parts if part]))

    def _headed(self, parts: list[list[TextSpan]]) -> list[list[TextSpan]]:
        """The parts, those that only name a question together with what follows: "the formulation, granule"."""
        found: list[list[TextSpan]] = []
        heads = False
        for part in parts:
            if heads:
                found[-1] += part
            else:
                found.append(part)
            heads = not heads and self._only_names(part)
        return found

    def _only_names(self, part: Sequence[TextSpan]) -> bool:
        words = " ".join(span.key for span in part if span.key not in self.evidence.vocabulary.small_words)
        slots = (slot for slot in self.evidence.expectation.every_slot if slot.kind is not SlotKind.CHOICE)
        return any(words == fold(name) for slot in slots for name in slot.called)

    def _named_numbers(self) -> set[int]:
        """Where, of a text that is asked, another answer begins without a mark: a number that is named ("lot 88213",
        "reg no 7714-209"), or what follows counted bags ("20 bags of Oxnar 3G")."""
        expected, spans = self.evidence.expectation, self.evidence.spans
        if expected.slots[0].per_row or (expected.slots[0].any_words and expected.slots[0].role not in SINGLE):
            return set()
        found = self._measured(spans)
        if expected.slots[0].any_words or not expected.asks_name:
            return found
        for slot in expected.ahead:
            named = 0
            for place, span in enumerate(spans):
                if not self.evidence.mentions([span], slot):
                    continue
                after = spans[place + 1 : place + 1 + NEAR]
                if slot.role in CODES and span.start >= named and any(map(has_digit, self._said(after))):
                    found.add(span.start)
                    named = self._name_end(span, slot)
                if slot.kind is SlotKind.COUNT and place and spans[place - 1].is_value:
                    found |= {spans[place - 1].start, *(one.start for one in after[:1])}
        return found

    def _measured(self, spans: Sequence[TextSpan]) -> set[int]:
        """Where an amount begins whose unit only a later question takes, or, behind a code, the name of one."""
        asked, ahead = self.evidence.expectation.slots[0], self.evidence.expectation.ahead
        measured = [slot for slot in ahead if slot.kind is SlotKind.MEASURE and not slot.per_row]
        found: set[int] = set()
        behind = False
        for place, span in enumerate(spans[1:], 1):
            told = [span.amount] if span.amount is not None and span.kind is SpanKind.AMOUNT else []
            later = bool(told) and any(takes(slot, told) for slot in measured) and not takes(asked, told)
            named = asked.role in CODES and any(self.evidence.mentions([span], slot) for slot in ahead)
            later = later and spans[place - 1].key not in self.evidence.loose.range_words
            later = later and self._has_content(spans[:place]) and not self._is_inside(spans, place, measured)
            if later or (named and has_digit(self._said(spans[place - 1 : place])[0])):
                found.add(span.start)
                behind = True
            elif behind and self._is_single_named(span):
                found.add(span.start)
                behind = False
            behind = behind and not span.is_mark
        return found

    def _is_inside(self, spans: Sequence[TextSpan], place: int, slots: Sequence[ExpectedSlot]) -> bool:
        """Whether an amount stands inside words that name a question: "reads by 1 and 1"."""
        hearing = self.evidence.hearing
        phrases = tuple(phrase for slot in slots for phrase in hearing.mentions(slot))
        return any(one.end > spans[place].start for span in spans[:place] for one in hearing.find(phrases, span.start))

    def _has_content(self, before: Sequence[TextSpan]) -> bool:
        """Whether what stands before an amount, behind the last mark, may be an answer by itself."""
        tokens, expected = self.evidence.hearing.tokens, self.evidence.expectation
        part = _since_mark(before)
        words = [tokens[span.start].text for span in part]
        told = any(span.is_value for span in part) or any(has_digit(word) for word in words)
        texts = [slot for slot in (*expected.slots[:1], *expected.ahead) if slot.kind is SlotKind.TEXT]
        named = any(word.istitle() for word in words[1:]) or any(self.evidence.mentions(part, slot) for slot in texts)
        single = expected.slots[0].role in SINGLE
        strange = single and any(not self.evidence.classifier.knows(fold(word)) for word in words)
        return told or named or strange or not part

    def _is_single_named(self, span: TextSpan) -> bool:
        """Whether a word for a closed answer, or for the one thing that a later text is, stands here: "80 acres of
        soybeans"."""
        ahead = self.evidence.expectation.ahead
        single = (slot for slot in ahead if slot.role in SINGLE or slot.kind is SlotKind.CHOICE)
        return any(self.evidence.mentions([span], slot) for slot in single)

    def _name_end(self, span: TextSpan, slot: ExpectedSlot) -> int:
        """Where the words end that name a question from here on: "EPA reg number"."""
        hearing = self.evidence.hearing
        return max(hearing.ends(hearing.mentions(slot), span.start), default=span.end)

    def _said(self, spans: Sequence[TextSpan]) -> list[str]:
        return [self.evidence.hearing.said(span.start, span.end) for span in spans]

    def _lists_whole(self, parts: list[list[TextSpan]]) -> list[list[TextSpan]]:
        """The parts, with those of a list that is asked later together: "yes. gloves, sleeves and a respirator"."""
        expected = self.evidence.expectation
        lists = [slot for slot in expected.ahead if slot.any_words and slot.role not in SINGLE]
        others = [slot for slot in expected.ahead if slot not in lists]
        asks_list = expected.slots[0].any_words and expected.slots[0].role not in SINGLE
        if not lists and not asks_list:
            return parts
        found: list[list[TextSpan]] = []
        for part in parts:
            listed = bool(found) and any(self.evidence.mentions(found[-1], slot) for slot in lists)
            named = any(self.evidence.mentions(part, slot) for slot in others) or self._is_revised(part)
            before = found[-1] if found and not self._is_revised(found[-1]) else ()
            before = () if any(self.evidence.mentions(before, slot) for slot in others) else before
            asked = asks_list and bool(before) and not self.is_aside(part)
            if (listed or asked) and not named:
                found[-1] += part
            else:
                found.append(part)
        return found

    def _is_revised(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is about an earlier answer; a text only where it is called wrong."""
        slot = self.revision.named(part)
        return slot is not None and (slot.kind is not SlotKind.TEXT or self.revision.is_put_right(part))

    def is_aside(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part begins as a sentence, or is a word of talk alone, so that it goes on with no list."""
        naming, first = self.evidence.naming, part[0].key
        return first in naming.sentence or (len(part) == 1 and first in naming.talk)

    def is_loose_text(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part may be taken for the description that is asked though hardly anything says so."""
        asked, evidence = self.evidence.expectation.slots[0], self.evidence
        described = asked.any_words and not self.evidence.mentions(part, asked)
        return described and evidence.weigh(part).get(NAME, 0.0) < evidence.limits.described

    def leads_to_name(self, part: Sequence[TextSpan]) -> bool:
        """Whether words in a part lead to a word with a capital: "we call it Church field"."""
        hearing = self.evidence.hearing
        ends = hearing.ends(hearing.naming.leads, *(span.start for span in part))
        return any(end < part[-1].end and hearing.tokens[end].text[:1].isupper() for end in ends)

    def is_bare_name(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is several words with capitals and nothing else: "La Loma"."""
        tokens = self.evidence.hearing.tokens
        return has_capitals(" ".join(tokens[place].text for place in range(part[0].start, part[-1].end)))


def _since_mark(before: Sequence[TextSpan]) -> Sequence[TextSpan]:
    """What stands behind the last mark or joining word."""
    ends = [place for place, span in enumerate(before) if span.is_mark]
    return before[ends[-1] + 1 :] if ends else before


def takes(slot: ExpectedSlot, amounts: Sequence[Amount]) -> bool:
    """Whether all amounts are in units of a slot; "five miles" may be a speed."""
    speed = Dimension.SPEED in slot.dimensions
    meant = [in_terms_of(one, slot.dimensions, slot.units) if speed else one for one in amounts]
    said = {unit for one in meant for _, unit in one.parts}
    return bool(said) and said <= set(slot.units)
