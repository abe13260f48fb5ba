"""Several answers in one sentence: to what is asked now and to what comes after it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import takewhile

from engine.expectation import Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import Answered, Entry, Given, Unclear
from engine.understanding.candidacy import MOST_SLOTS, Candidacy
from engine.understanding.description_reader import SINGLE
from engine.understanding.extraction.told_names import CODES
from engine.understanding.partition import Partition
from engine.understanding.revision import Revision, without_confirming
from engine.understanding.scanning.spans import TextSpan
from engine.understanding.weighing.evidence import Evidence
from engine.understanding.weighing.meaning import NUMBERED, OTHER
from engine.understanding.weighing.repair import repaired

MOST_TOGETHER = 3
"""So many parts at most tell one thing that is put right."""
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
    revision: Revision

    @cached_property
    def partition(self) -> Partition:
        return Partition(self.evidence, self.revision)

    @cached_property
    def candidacy(self) -> Candidacy:
        return Candidacy(self.evidence, self.partition)

    def answers(self, found: Sequence[Entry]) -> tuple[Given, ...]:
        """The answers, where they are more than were found in the sentence as a whole; none where any part does not
        fit."""
        asked = self.evidence.expectation.slots[:1]
        parts = self.partition.parts() if self.evidence.expectation.asking is Asking.SLOT else []
        dial = any(slot.kind is SlotKind.DIAL for slot in asked) and any(isinstance(one, Given) for one in found)
        if dial or not 0 < len(parts) <= MOST_PARTS:
            return ()
        corrected, others = self._corrected(parts)
        left = [*self.evidence.expectation.slots, *self.evidence.expectation.ahead]
        more = len(parts) > 1 and any(self.candidacy.candidates(part, left[1:]) for part in others)
        more = more or (len(parts) > 1 and self._is_lost(found))
        again = not corrected and 0 < len(others) < len(parts)
        beside = (part for part in others if not (corrected and self.partition.is_loose_text(part)))
        others = [part for part in beside if not (corrected and self._only_refuses(part))]
        if not (corrected or more or again) or self._is_turned(others):
            return ()
        answers = self._answered(others, left, bool(corrected))
        slots = {one.slot for one in answers or ()}
        asked_now = asked[0].name in slots
        plain = {one.slot for one in found if isinstance(one, Given) and one.doubt is None}
        several = len(slots) > 1 and not slots <= plain
        told = corrected or (again and slots) or (asked_now and (several or self._is_lost(found)))
        if answers is None or not told or not agree([*corrected, *answers], found, bool(corrected), asked[0].name):
            return ()
        return (*corrected, *(without_confirming(answers, asked[0]) if corrected else answers))

    def _is_lost(self, found: Sequence[Entry]) -> bool:
        """Whether nothing was understood of the whole, where one number is asked for."""
        asked = self.evidence.expectation.slots[:1]
        numbered = any(slot.kind in NUMBERED and not slot.per_row for slot in asked)
        return numbered and bool(found) and all(isinstance(one, Unclear) for one in found)

    def leaves_out(self, found: Sequence[Entry]) -> bool:
        """Whether a part tells what is no amount for another question, and nothing was found for that."""
        asked = self.evidence.expectation.slots[:1]
        parts = self.partition.parts() if self.evidence.expectation.asking is Asking.SLOT else []
        slots = {one.slot for one in found if isinstance(one, Given)}
        if len(parts) < MOST_SLOTS or not asked or asked[0].per_row or asked[0].name not in slots:
            return False
        return any(slot.name not in slots for part in parts for slot in self._other_words(part))

    def _other_words(self, part: Sequence[TextSpan]) -> list[ExpectedSlot]:
        """The closed answers and texts to other questions that a part is about, put right in it or not yet told."""
        ahead = [slot for slot in self.evidence.expectation.ahead if self.evidence.mentions(part, slot)]
        earlier = self.revision.named(part) if self.revision.is_put_right(part) else None
        told = [*ahead, *((earlier,) if earlier is not None else ())]
        return [slot for slot in told if slot.kind in (SlotKind.CHOICE, SlotKind.TEXT)]

    def _answered(
        self, parts: Sequence[Sequence[TextSpan]], left: list[ExpectedSlot], corrected: bool
    ) -> list[Given] | None:
        """What the parts answer of what is open; None where one of them neither answers nor is a remark."""
        answers: list[Given] = []
        unsure: list[Sequence[TextSpan]] = []
        for part in parts:
            told = self._answer(part, left)
            if told is None and self._goes_on(part, answers):
                return None
            if told is None and not (self.candidacy.is_remark(part, left) and not self._may_be_listed(part, answers)):
                unsure.append(part)
            answers += told or ()
            left = [slot for slot in left if slot.name not in {one.slot for one in answers}]
        for part in unsure:
            if not (answers or corrected) or not (doubted := self._doubted(part, left)):
                return None
            answers.append(doubted)
            left = [slot for slot in left if slot.name != doubted.slot]
        return answers

    def _goes_on(self, part: Sequence[TextSpan], answers: Sequence[Given]) -> bool:
        """Whether a part says once more what one of the texts told before is: "G, that is granules"."""
        asked, *later = (*self.evidence.expectation.slots, *self.evidence.expectation.ahead)
        told = {one.slot for one in answers if isinstance(one.value, str)}
        single = [slot for slot in (asked, *later) if slot.name in told and slot.role in SINGLE]
        named = asked.name in told and not asked.any_words and self.partition.leads_to_name(part)
        return named or any(self.evidence.mentions(part, slot) for slot in single)

    def _may_be_listed(self, part: Sequence[TextSpan], answers: Sequence[Given]) -> bool:
        """Whether what follows what is told of a list or a description may belong to it after all."""
        asked = self.evidence.expectation.slots[0]
        listed = asked.any_words and asked.role not in SINGLE and any(one.slot == asked.name for one in answers)
        talk = self.evidence.weigh(part).get(OTHER, 0.0) >= self.evidence.limits.ignored
        return listed and len(part) > 1 and not self.partition.is_aside(part) and not talk

    def _corrected(self, parts: list[list[TextSpan]]) -> tuple[list[Given], list[list[TextSpan]]]:
        """What the parts put right of what was told before, each in as few of them as tell it, and the other parts."""
        found: list[Given] = []
        others: list[list[TextSpan]] = []
        place = 0
        while place < len(parts):
            slot = self._put_right(parts, place)
            ends = range(place + 1, min(place + MOST_TOGETHER, len(parts)) + 1)
            ends = range(place + 1, place + 1) if slot is None else ends
            before = slot is not None and any(one.slot == slot.name for one in found)
            if slot is not None and not before and self._says_again(parts[place], slot):
                place += 1
                continue
            for end in ends:
                stretch = [span for part in parts[place:end] for span in part]
                given = self.revision.read(stretch, slot) if slot else None
                again = slot is not None and given is not None and given.value == slot.told.get(0)
                goes_on = end < min(len(parts), ends[-1]) and not self._names_open(parts[end])
                if again and slot is not None and slot.kind is SlotKind.CHOICE:
                    given, goes_on = given if self.revision.is_put_right(parts[place]) else None, False
                if given is not None and given.doubt is None and not (again and goes_on):
                    found.append(given)
                    place = end + sum(1 for _ in takewhile(self._only_denies, parts[end:]))
                    break
                if end < len(parts) and self._names_open(parts[end]):
                    others.append(parts[place])
                    place += 1
                    break
            else:
                others.append(parts[place])
                place += 1
        return found, others

    def _says_again(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether a part is no more than the closed answer that stands already: "in the barn, locked"."""
        if slot.kind is not SlotKind.CHOICE:
            return False
        given, hearing = self.revision.read(part, slot), self.evidence.hearing
        node = hearing.options.get(slot.name, {}).get(str(slot.told.get(0)))
        phrases = self.evidence.hearing.mentions(slot)
        named = [*hearing.find(phrases, part[0].start), *(hearing.matcher.match(node, part[0].start) if node else ())]
        again = given is not None and given.value == slot.told.get(0)
        return again and any(one.end >= part[-1].end for one in named)

    def _only_denies(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part says no more than what is not so: "not 80"."""
        words = [span for span in part if not span.is_value]
        return len(words) < len(part) and bool(words) and all(self.evidence.denied([span]) for span in words)

    def _put_right(self, parts: Sequence[Sequence[TextSpan]], place: int) -> ExpectedSlot | None:
        after = parts[place + 1] if place + 1 < len(parts) else ()
        return None if self._names_open(parts[place]) else self.revision.named(parts[place], after)

    def _names_open(self, part: Sequence[TextSpan]) -> bool:
        expected = self.evidence.expectation
        return any(self.evidence.mentions(part, slot) for slot in (*expected.slots[:1], *expected.ahead))

    def _only_refuses(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is a no alone, which what is put right beside it explains."""
        refusals = {*self.evidence.loose.denies_all, *self.evidence.plain_answers}
        return all(span.key in refusals for span in part)

    def _is_turned(self, parts: Sequence[Sequence[TextSpan]]) -> bool:
        """Whether anything is taken back, denied or asked; a plain no that is an answer by itself denies nothing."""
        evidence = self.evidence
        repair = repaired(self._beside_names([span for part in parts for span in part]), evidence.hearing)
        told = [part[1:] if self._is_plain_answer(part) else part for part in parts if not self._is_option(part)]
        denied = any(evidence.denied(self._beside_names(part)) for part in told)
        return denied or repair.takes_back or repair.denied or evidence.is_question

    def _is_option(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is no more than a closed answer to what is asked, in its own words: "not restricted"."""
        hearing, slots = self.evidence.hearing, self.evidence.expectation.slots[:1]
        nodes = [node for slot in slots if not slot.per_row for node in hearing.options.get(slot.name, {}).values()]
        return any(one.end == part[-1].end for node in nodes for one in hearing.matcher.match(node, part[0].start))

    def _is_plain_answer(self, part: Sequence[TextSpan]) -> bool:
        """Whether a part is a yes or no alone, or one that goes on with an answer that agrees: "no general use"."""
        if part[0].key not in self.evidence.plain_answers:
            return False
        told = self._answer(part, list(self.evidence.expectation.slots)) if len(part) > 1 else ()
        return told is not None and all(not one.correcting for one in told)

    def _beside_names(self, part: Sequence[TextSpan]) -> list[TextSpan]:
        """A part without the words that name a question, so that "reg no" denies nothing."""
        hearing = self.evidence.hearing
        phrases = tuple(one for slot in self.evidence.expectation.ahead for one in hearing.mentions(slot))
        found = [range(span.start, end) for span in part for end in hearing.ends(phrases, span.start)]
        return [span for span in part if not any(span.start in named for named in found)]

    def _doubted(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> Given | None:
        """The name or description that a part most likely is, where nothing in it is plain: asked about, and the other
        parts stand. A code has no bounds to be in doubt."""
        slots = [slot for slot in left if slot.kind is SlotKind.TEXT and slot.role not in CODES]
        asked = self.evidence.expectation.slots[0].name
        named = [slot for slot in slots if slot.any_words and self.evidence.mentions(part, slot)]
        slots = named or [slot for slot in slots if slot.name == asked]
        asks = self.evidence.hearing.says(self.evidence.naming.questions, (part[0].start,))
        if asks or not slots or self._is_no_text(part, slots[0]):
            return None
        told = self._read(part, slots[0], ())
        given = told[0] if len(told) == 1 else None
        return given if isinstance(given, Given) and given.slot == slots[0].name else None

    def _answer(self, part: Sequence[TextSpan], left: Sequence[ExpectedSlot]) -> tuple[Given, ...] | None:
        """The question that a part names, else the first of those left that it answers."""
        for slot in self.candidacy.candidates(part, left):
            if slot.kind is SlotKind.TEXT and self._is_no_text(part, slot):
                continue
            told = self._read(part, slot, left[left.index(slot) + 1 :])
            given = tuple(one for one in told if isinstance(one, Given) and one.doubt is None)
            others = [one for one in told if one not in given and not (isinstance(one, Answered) and one.yes)]
            if given and not others:
                return given
        return None

    def _read(self, part: Sequence[TextSpan], slot: ExpectedSlot, ahead: Sequence[ExpectedSlot]) -> Sequence[Entry]:
        """A part as the answer to one question, with those that are asked after it."""
        now = self.evidence.expectation.model_copy(update={"slots": (slot,), "ahead": tuple(ahead), "latest": None})
        return self.read(self.candidacy.text(part), now)

    def _is_no_text(self, part: Sequence[TextSpan], slot: ExpectedSlot) -> bool:
        """Whether a part is no name or description for a slot: it only leads to one, or tells something else too."""
        return self.candidacy.only_leads(part) or self.candidacy.has_others(part, slot)


def agree(answers: Sequence[Given], found: Sequence[Entry], corrected: bool, asked: str) -> bool:
    """Whether all that was found in the sentence as a whole is among the answers, but, where something is put right,
    what was in doubt; what was taken for a name may be the whole sentence."""
    given = {(one.slot, one.row): one.value for one in answers}
    read = [one for one in found if isinstance(one, Given) and not (corrected and one.doubt is not None)]
    read = [one for one in read if not (_is_guess(one, asked) and (one.slot, one.row) in given)]
    same = {(one.slot, one.row) for one in read if given.get((one.slot, one.row)) == one.value}
    read = [one for one in read if one.doubt is None or (one.slot, one.row) not in same]
    told = [(given.get((one.slot, one.row)), one.value) for one in read]
    texts = [one.value for one in answers if isinstance(one.value, str)]
    values = [one.value for one in answers if one.correcting]
    told = [(one, other) for one, other in told if not (one is None and corrected and other in values)]
    return all(
        one == other or (isinstance(one, str) and (one in str(other) or str(other) in one or other in texts))
        for one, other in told
    )


def _is_guess(entry: Given, asked: str) -> bool:
    """Whether an entry was taken from the whole sentence and is in doubt: a name, or a number that is not asked now."""
    plain = entry.row is not None or entry.doubt is None
    return not plain and (isinstance(entry.value, str) or entry.slot != asked)
