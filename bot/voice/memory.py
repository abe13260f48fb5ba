"""What is known of the voice that speaks in a channel: asked for each utterance, and added to by what it shows."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field

from bot.voice.lesson import Pairs
from bot.voice.mishearings import LOOKED_BACK, corrected
from bot.voice.profiles import Profiles
from engine.data.languages import LANGUAGES
from engine.dialog.facts.events import Kept
from engine.errors import RowhandError
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Confusion, Language
from engine.voice_profile import ConfusionSource, VoiceProfile

KEPT = Kept.model_fields["kind"].default


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
