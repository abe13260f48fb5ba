"""An earlier answer put right by its name while something else is asked: "reg number's 1284-560, i fat fingered it"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.entries.phrases.tokens import fold
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.messages import DoubtReason, Entry, Given
from engine.understanding.extraction.told_names import CODES
from engine.understanding.series import ReadPart
from engine.understanding.weighing.evidence import OWNED, Evidence

MOST_BETWEEN = 5
"""Words between a name and the words that call it wrong: "el registro lo dije mal"."""


@dataclass(frozen=True)
class Amendment:
    """One typed sentence that names an earlier question and says its value; ``read`` reads the value as its answer.

    Only what stands at the beginning of the sentence or of a clause is a name, and only with "is", "was" or "wrong"
    behind it. A name in words, which may be part of what is asked now, is asked about where nothing is called wrong.
    """

    evidence: Evidence
    read: ReadPart

    def given(self, found: Sequence[Entry]) -> Given | None:
        """The earlier answer as it is now said to be; None where none is named, or more is told beside it."""
        expected = self.evidence.expectation
        corrected = {slot.name for slot in expected.known}
        told = any(isinstance(one, Given) and one.slot in corrected for one in found)
        if expected.asking is not Asking.SLOT or self.evidence.is_question or told:
            return None
        for end, slot in self._named():
            start = self._value_at(end)
            if start is not None and (value := self._read(start, slot)) is not None:
                return value
        return None

    def _named(self) -> Iterator[tuple[int, ExpectedSlot]]:
        """Where the name of an earlier question ends, that begins the sentence or a clause."""
        hearing, asked = self.evidence.hearing, self.evidence.expectation.slots[0]
        begins = [0, *(place + 1 for place, token in enumerate(hearing.tokens) if token.is_break)]
        for start in map(self.evidence.after_small, begins):
            for slot in self.evidence.expectation.known:
                ends = [*self._called(slot, start)] if slot.name != asked.name and not slot.per_row else []
                if ends:
                    yield max(ends), slot

    def _called(self, slot: ExpectedSlot, start: int) -> Iterator[int]:
        """Where each way to name a question ends that begins here, a last word with "'s" among them."""
        tokens = self.evidence.hearing.tokens
        for name in slot.called:
            words = fold(name).split()
            said = [token.key for token in tokens[start : start + len(words)]]
            bare = [*said[:-1], said[-1].removesuffix(OWNED)] if said else []
            if words in (said, bare):
                yield start + len(words) - (words != said)
        yield from self.evidence.hearing.ends(self.evidence.hearing.mentions(slot), start)

    def _value_at(self, end: int) -> int | None:
        """Where the value begins behind a name; None where no word leads to it."""
        hearing, vocabulary = self.evidence.hearing, self.evidence.vocabulary
        near = range(end, min(end + MOST_BETWEEN, len(hearing.tokens)))
        leads = hearing.ends(vocabulary.loose.wrong, *near) + hearing.ends((*vocabulary.link, *vocabulary.past), end)
        leads += [end + 1] if hearing.key(end) in vocabulary.typed_link else []
        owned = hearing.key(end).endswith(OWNED)
        if not (leads or owned or (end and hearing.key(end - 1).endswith(OWNED))):
            return None
        small = {*vocabulary.loose.copulas, *vocabulary.loose.relatives}
        start = hearing.after_breaks(max([*leads, end + owned]), small)
        return start if start < len(hearing.tokens) else None

    def _read(self, start: int, slot: ExpectedSlot) -> Given | None:
        """What is said from here on, up to a denial or, but in a list, a mark, as the answer to an earlier question."""
        hearing, loose = self.evidence.hearing, self.evidence.loose
        tokens = hearing.tokens
        stops = (token.is_break or token.key in loose.not_words for token in tokens[start:])
        ends = [place for place, stop in enumerate(stops, start) if stop]
        text = hearing.said(start, min(ends, default=len(tokens)))
        told = self.read(text, self.evidence.expectation.only(slot)) if text else ()
        if len(told) != 1 or not isinstance(told[0], Given) or told[0].slot != slot.name:
            return None
        given = told[0].model_copy(update={"correcting": bool(slot.told), "said": hearing.text.strip()[:60]})
        wrong = bool(ends) or hearing.says(loose.wrong) or hearing.says(loose.repairs, (0,))
        plain = slot.kind is not SlotKind.TEXT or slot.role in CODES or wrong or self.evidence.told.takes_back
        return given if plain else given.model_copy(update={"doubt": given.doubt or DoubtReason.INFERRED})
