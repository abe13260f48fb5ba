"""What is known of the voice that speaks in a channel: asked for each utterance, and added to by what it shows.

A correction shows the word that was heard, and the word that was meant. Only one that changes one word of the number is
taken for a mishearing: forty one to forty nine is, forty one to sixty two is somebody who looked again. Nothing here
knows sound; it compares what turns kept.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import takewhile

from bot.voice.lesson import Pairs
from bot.voice.profiles import Profiles
from engine.data.languages import LANGUAGES
from engine.dialog.facts.events import Fact, Kept, Reopened, Withdrawn, Wondered
from engine.entries.matching.numerals import spell, spell_digits
from engine.entries.phrases.tokens import tokenize
from engine.errors import RowhandError
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Confusion, Language
from engine.quantities import Measure
from engine.values import Setting, Value
from engine.voice_profile import ConfusionSource, VoiceProfile

KEPT = Kept.model_fields["kind"].default
LOOKED_BACK = 4
"""Turns in which a value that is corrected may have been said: a mishearing is mended at once (own decision)."""


@dataclass
class VoiceMemory:
    """The profiles of one person. A file that goes bad while in use is left alone, and what it last said holds."""

    profiles: Profiles
    person: str
    journal: Journal
    _last: dict[Language, VoiceProfile] = field(default_factory=dict)

    def check(self) -> None:
        """Raises DefinitionError where a profile of this person is none, InputError where nobody can be called so."""
        for language in LANGUAGES:
            self._last[language] = self.profiles.of(self.person, language)

    def confusions(self, text: str, language: Language) -> tuple[Confusion, ...]:
        """What else a text may have been in the mouth of this person."""
        with contextlib.suppress(RowhandError):
            self._last[language] = self.profiles.of(self.person, language)
        known = self._last.get(language)
        return known.confusions(text) if known else ()

    def forget(self) -> int:
        """Remove all that is known of this voice; how many profiles that were. Raises WorldError where that fails."""
        self._last.clear()
        return self.profiles.forget(self.person)

    def known(self, language: Language) -> VoiceProfile:
        """What is known of this voice in a language; raises DefinitionError where it cannot be read."""
        return self.profiles.of(self.person, language)

    def learn(self, pairs: Pairs, language: Language, near: Pairs = ()) -> None:
        """Count what a lesson showed; raises WorldError where it cannot be kept."""
        for found, shown in ((pairs, ConfusionSource.READ), (near, ConfusionSource.NEARLY)):
            self._last[language] = self.profiles.add(self.person, language, found, shown)

    def teaches(self, turn: StoredTurn) -> bool:
        """Whether a turn may correct anything; asks no record."""
        return any(fact["kind"] == KEPT for fact in turn.facts)

    def notice(self, turn: StoredTurn) -> None:
        """Count what a turn that is kept corrects, once. What fails here is left: the turn itself is kept."""
        if not self.teaches(turn):
            return
        try:
            before = self.journal.turns(turn.conversation, after=max(turn.seq - 1 - LOOKED_BACK, 0))
            pairs = corrected([one for one in before if one.seq < turn.seq], turn)
            if pairs:
                self._last[turn.language] = self.profiles.correct(self.person, turn.language, pairs, turn.utterance_id)
        except RowhandError:
            return


def corrected(before: Sequence[StoredTurn], turn: StoredTurn) -> tuple[tuple[str, str], ...]:
    """The pairs (said, heard) that a turn shows; ``before`` are the turns before it, in order."""
    facts = [(one.spoken, fact) for one in before[-LOOKED_BACK:] for fact in facts_of(one)]
    pairs: list[tuple[str, str]] = []
    for fact in facts_of(turn):
        if isinstance(fact, Kept):
            pairs += _shown(facts, fact, turn.language)
        facts.append((turn.spoken, fact))
    return tuple(dict.fromkeys(pairs))


def _shown(before: Sequence[tuple[bool, Fact]], kept: Kept, language: Language) -> Iterator[tuple[str, str]]:
    """What a value shows by what stood, or was asked, in its place before."""
    for spoken, said, old in (*_replaced(before, kept), *_asked(before, kept)):
        if spoken and old != kept.value:
            yield from _one_word(old, kept.value, said, language)


def _replaced(before: Sequence[tuple[bool, Fact]], kept: Kept) -> Iterator[tuple[bool, str, Value]]:
    """The value that was corrected: replaced at once, or taken back and given anew in the same run."""
    open_again = kept.replaces is not None
    for spoken, fact in reversed(before):
        if not isinstance(fact, Kept | Withdrawn | Reopened):
            continue
        if (fact.slot, fact.row, fact.run) != (kept.slot, kept.row, kept.run):
            continue
        if isinstance(fact, Kept):
            if open_again:
                yield spoken, fact.said, fact.value
            return
        open_again = True


def _asked(before: Sequence[tuple[bool, Fact]], kept: Kept) -> Iterator[tuple[bool, str, Value]]:
    """The value that was heard, where another one was chosen or came of a no."""
    wondered = takewhile(lambda one: isinstance(one[1], Wondered) and bool(one[1].questions), _newest(before))
    for spoken, fact in wondered:
        for question in fact.questions if isinstance(fact, Wondered) else ():
            places = [
                [one for one in way.givens if (one.slot, one.row) == (kept.slot, kept.row)] for way in question.readings
            ]
            if len(places) > 1 and places[0] and any(one.value == kept.value for way in places[1:] for one in way):
                yield spoken, places[0][0].said, places[0][0].value
                return


def _newest(before: Sequence[tuple[bool, Fact]]) -> Iterator[tuple[bool, Fact]]:
    """What was asked or kept, the last first."""
    return ((spoken, fact) for spoken, fact in reversed(before) if isinstance(fact, Wondered | Kept))


def _one_word(old: Value, new: Value, heard: str, language: Language) -> Iterator[tuple[str, str]]:
    """The one word in which two numbers differ, where it was heard."""
    words = {token.key for token in tokenize(heard)}
    for way in (spell, spell_digits):
        try:
            first, second = (way(number, language).split() for number in _numbers(old, new))
        except ValueError:
            return
        apart = [(one, other) for one, other in zip(first, second, strict=False) if one != other]
        if len(first) == len(second) and len(apart) == 1 and words & {token.key for token in tokenize(apart[0][0])}:
            yield apart[0][1], apart[0][0]
            return


def _numbers(old: Value, new: Value) -> tuple[float, float]:
    match old, new:
        case Measure(), Measure() if old.unit == new.unit:
            return old.value, new.value
        case int(), int():
            return old, new
        case Setting(), Setting():
            return float(old.label), float(new.label)
        case _:
            raise ValueError("only numbers in the same unit differ in a word")
