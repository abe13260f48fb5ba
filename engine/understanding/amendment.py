"""An earlier answer put right by its name while something else is asked: "reg number's 1284-560, i fat fingered it"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.entries.phrases.tokens import fold
from engine.expectation import Asking, ExpectedSlot, SlotKind
from engine.messages import Entry, Given
from engine.understanding.extraction.corrections import CODES
from engine.understanding.extraction.inferring import doubtful
from engine.understanding.series import ReadPart
from engine.understanding.weighing.evidence import Evidence

MOST_BETWEEN = 5
"""Words between a name and the words that call it wrong: "el registro lo dije mal"."""
OWNED = ("'s", "\u2019s")


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
        for begin in begins:
            start = self.evidence.after_small(begin)
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
            bare = [*said[:-1], said[-1].removesuffix(OWNED[0]).removesuffix(OWNED[1])] if said else []
            if words in (said, bare):
                yield start + len(words) - (words != said)
        mentions = self.evidence.vocabulary.loose.mentions.get(slot.name, ())
        yield from (one.end for one in self.evidence.hearing.find(mentions, start))

    def _value_at(self, end: int) -> int | None:
        """Where the value begins behind a name; None where no word leads to it."""
        hearing, vocabulary = self.evidence.hearing, self.evidence.vocabulary
        tokens = hearing.tokens
        before = tokens[end - 1].key if end else ""
        near = range(end, min(end + MOST_BETWEEN, len(tokens)))
        wrong = [one.end for place in near for one in hearing.find(vocabulary.loose.wrong, place)]
        leads = [one.end for words in (vocabulary.link, vocabulary.past) for one in hearing.find(words, end)]
        leads += [end + 1] if end < len(tokens) and tokens[end].key in vocabulary.typed_link else []
        owned = end < len(tokens) and tokens[end].key.endswith(OWNED)
        if not (wrong or leads or owned or before.endswith(OWNED)):
            return None
        start = max([*wrong, *leads, end + 1 if owned else end])
        small = {*vocabulary.loose.copulas, *vocabulary.loose.relatives}
        while start < len(tokens) and (tokens[start].is_break or tokens[start].key in small):
            start += 1
        return start if start < len(tokens) else None

    def _read(self, start: int, slot: ExpectedSlot) -> Given | None:
        """What is said from here on, up to a denial or, but in a list, a mark, as the answer to an earlier question."""
        hearing, loose = self.evidence.hearing, self.evidence.vocabulary.loose
        tokens = hearing.tokens
        stops = (token.is_break or token.key in loose.not_words for token in tokens[start:])
        ends = [place for place, stop in enumerate(stops, start) if stop]
        text = hearing.said(start, min(ends, default=len(tokens)))
        expected = self.evidence.expectation
        now = expected.model_copy(
            update={"slots": (slot,), "known": (), "ahead": (), "latest": None, "asking": Asking.SLOT}
        )
        told = self.read(text, now) if text else ()
        if len(told) != 1 or not isinstance(told[0], Given) or told[0].slot != slot.name:
            return None
        given = told[0].model_copy(update={"correcting": bool(slot.told), "said": hearing.text.strip()[:60]})
        wrong = (
            hearing.says(loose.wrong)
            or hearing.says(loose.repairs, (0,))
            or self.evidence.told.takes_back
            or bool(ends)
        )
        plain = slot.kind is not SlotKind.TEXT or slot.role in CODES or wrong
        return given if plain else _asked(given)


def _asked(given: Given) -> Given:
    found = doubtful(given)
    return found if isinstance(found, Given) else given
