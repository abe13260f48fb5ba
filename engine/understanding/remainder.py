"""What of a typed sentence went into no answer although it tells something: that is said, so nothing is lost unseen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.entries.matching.naming import PLACES
from engine.entries.phrases.tokens import fold, has_digit
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.messages import Entry, Given
from engine.understanding.codes import codes_in
from engine.understanding.extraction.capitals import EDGES
from engine.understanding.extraction.told_names import CODES, PERSON
from engine.understanding.partition import Partition, takes
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.understanding.series import MOST_PARTS, ReadPart
from engine.understanding.weighing.evidence import Evidence, doubtful

SHORTEST_CODE = 4
"""A code that is seen without its name has at least so many characters."""


@dataclass(frozen=True)
class Remainder:
    """One typed sentence cut at its marks and joining words, beside the entries that came of it.

    ``read`` reads one part under an expectation.
    """

    evidence: Evidence
    partition: Partition
    read: ReadPart

    def left(self, entries: Sequence[Entry]) -> tuple[str, ...]:
        """The parts that tell something for another question, of which no entry tells; none where nothing was taken."""
        expected = self.evidence.expectation
        given = [one for one in entries if isinstance(one, Given)]
        asked = expected.asked
        if asked is None or asked.per_row or expected.asking is not Asking.SLOT or not given:
            return ()
        told = {one.slot for one in given}
        return tuple(self._text(part) for part in self._others_than(given) if self._tells(part, told))

    def doubted(self, entries: Sequence[Entry]) -> tuple[Entry, ...]:
        """The entries; a person's name is asked about where another one stands in a part that was not taken."""
        asked = self.evidence.expectation.slots[:1]
        given = [one for one in entries if isinstance(one, Given)]
        person = any(slot.role == PERSON and slot.name == one.slot for slot in asked for one in given)
        rivals = person and any(self._has_name(part) for part in self._others_than(given))
        return tuple(map(doubtful, entries)) if rivals else tuple(entries)

    def _others_than(self, given: Sequence[Given]) -> list[list[TextSpan]]:
        """The parts of which no entry tells, without what was taken back or is only denied."""
        parts = self.partition.parts()
        if not 1 < len(parts) <= MOST_PARTS or self.evidence.is_question:
            return []
        return [part for part in parts if not (self._is_off(part) or self._is_taken(part, given))]

    def _text(self, part: Sequence[TextSpan]) -> str:
        """The words of a part as they were typed, where no word of the sentence became two."""
        hearing, typed = self.evidence.hearing, self.evidence.as_said
        same = len(hearing.tokens) == len(typed.tokens)
        return (typed if same else hearing).said(part[0].start, part[-1].end).strip(EDGES)

    def _is_off(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is words that take something back, or tells a value that was taken back or is denied."""
        dropped = self.evidence.told.dropped
        values = [span for span in part if span.is_value]
        off = bool(values) and (all(span in dropped for span in values) or self.evidence.denied(part[:1]))
        return off or self._only_takes_back(part)

    def _only_takes_back(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is no more than words that take something back: "no wait"."""
        ends = self.evidence.hearing.ends(self.evidence.loose.repairs, part[0].start)
        return max(ends, default=0) >= part[-1].end

    def _others(self, told: set[str]) -> list[ExpectedSlot]:
        slots = self.evidence.expectation.every_slot
        return [slot for slot in slots if slot.name not in told and not slot.per_row]

    def _tells(self, part: Sequence[TextSpan], told: set[str]) -> bool:
        """Whether a part names another question and more, or tells an amount, a name, a code or a place."""
        return (
            any(self._is_about(part, slot) for slot in self._others(told))
            or self._measures(part, told)
            or self._names(part)
            or self._coded(part)
            or self._is_place(part, told)
            or self._may_be_asked(part, told)
        )

    def _measures(self, part: Sequence[TextSpan], told: set[str]) -> bool:
        """Whether an amount stands in a part that none of the questions told takes."""
        taken = [slot for slot in self._others(set()) if slot.name in told]
        amounts = [span.amount for span in part if span.kind is SpanKind.AMOUNT and span.amount is not None]
        return any(not any(takes(slot, [one]) for slot in taken) for one in amounts)

    def _is_place(self, part: Sequence[TextSpan], told: set[str]) -> bool:
        """Whether a part says where something is, and that is asked later."""
        places = [slot for slot in self._others(told) if slot.role in PLACES]
        counted = any(span.is_value for span in part)
        return bool(places) and not counted and self.evidence.says(self.evidence.naming.places, part)

    def _may_be_asked(self, part: Sequence[TextSpan], told: set[str]) -> bool:
        """Whether a description is asked for and not told, and a number or a name stands in the part."""
        asked, tokens = self.evidence.expectation.slots[0], self.evidence.hearing.tokens
        words = [tokens[place].text for place in range(part[0].start, part[-1].end)]
        says = any(has_digit(word) for word in words) or any(word.istitle() for word in words[1:])
        return asked.any_words and asked.name not in told and says

    def _is_about(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether a part names a question and says something of it, or one of its closed answers."""
        if slot.kind is SlotKind.TEXT and slot.any_words and self.evidence.mentions(part, slot):
            return True
        words = [span for span in part if span.key not in self.evidence.vocabulary.small_words]
        return self.evidence.mentions(part, slot) and len(words) > 1

    def _names(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part behind another has a name in it, or leads to one."""
        return part[0].start > 0 and (self._has_name(part) or self.partition.leads_to_name(part))

    def _has_name(self, part: Sequence[TextSpan]) -> bool:
        """Whether words with capitals follow each other, or a number one of them: "La Loma", "Kelbrick 10G"."""
        tokens, vocabulary = self.evidence.hearing.tokens, self.evidence.vocabulary
        words = [tokens[place] for place in range(part[0].start, part[-1].end)]
        capital = [one.text.istitle() and one.key not in vocabulary.naming.talk for one in words]
        goes_on = [upper or has_digit(one.text) for one, upper in zip(words, capital, strict=True)]
        return any(first and after for first, after in zip(capital, goes_on[1:], strict=False))

    def _coded(self, part: Sequence[TextSpan]) -> bool:
        """Whether a printed code stands in a part: where one is asked later or was told, or with a word for a lot."""
        expected = self.evidence.expectation
        wanted = any(slot.role in CODES for slot in (*expected.ahead, *expected.known))
        wanted = wanted or any(span.key in self.evidence.loose.lot for span in part)
        inside = (one for one in codes_in(self.evidence.hearing, lettered=True) if one.is_inside(part))
        codes = [one.text for one in inside if "." not in one.text or not one.text.replace(".", "").isdigit()]
        return wanted and any(len(code) >= SHORTEST_CODE for code in codes)

    def _is_taken(self, part: Sequence[TextSpan], given: Sequence[Given]) -> bool:
        """Whether an entry tells what a part does, or the part what stands already."""
        said, whole = fold(self._text(part)), fold(self.evidence.text.strip())[:60]
        for one in given:
            value = fold(str(one.value)) if isinstance(one.value, str) else ""
            words = fold(one.said)
            if value and (value in said or said in value):
                return True
            if words and words != whole and (words in said or said in words):
                return True
        return any(self._reads_same(part, one) for one in given) or self._stands(part)

    def _reads_same(self, part: Sequence[TextSpan], one: Given) -> bool:
        slot = next((slot for slot in self._others(set()) if slot.name == one.slot), None)
        read = self._read_for(part, slot) if slot is not None else ()
        return any(isinstance(two, Given) and (two.slot, two.value) == (one.slot, one.value) for two in read)

    def _stands(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part says once more what was told before."""
        known = (slot for slot in self.evidence.expectation.known if self.evidence.mentions(part, slot))
        read = ((slot, one) for slot in known for one in self._read_for(part, slot) if isinstance(one, Given))
        return any((one.slot, one.value) == (slot.name, slot.told.get(0)) for slot, one in read)

    def _read_for(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> Sequence[Entry]:
        return self.read(self._text(part), self.evidence.expectation.only(slot))
