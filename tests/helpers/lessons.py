"""Somebody to lead through a lesson in tests: profiles in a folder of the test's own."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from bot.bench.state import shift
from bot.voice.memory import VoiceMemory
from bot.voice.profiles import Profiles
from bot.voice.texts import VoiceTexts
from bot.voice.tutor import Tutor
from engine.database import Database
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.history.store.journal import Journal
from engine.messages import HeardWord, Reading, Utterance
from engine.voice_profile import VoiceProfile


def tutor(folder: Path, database: Database, person: str = "operator") -> Tutor:
    """A tutor whose profiles lie in ``folder``."""
    return Tutor(VoiceTexts.load(), VoiceMemory(Profiles(folder / "profiles"), person, Journal(database)))


def during_shift(text: str, known: VoiceProfile) -> Reading:
    """What a sentence heard surely during a shift is taken for, by what is known of the voice."""
    vocabulary = load_vocabulary(known.language)
    waiting = shift(vocabulary, load_acceptance())
    return read(said_by(text, known), waiting.expectation, vocabulary)


def said_by(text: str, known: VoiceProfile, sure: float = 1.0) -> Utterance:
    """A sentence heard with this confidence in each word, with what is known of the voice."""
    words = tuple(HeardWord(text=word, confidence=sure) for word in text.split())
    return Utterance(
        id="1",
        conversation="1",
        text=text,
        language=known.language,
        said_at=datetime(2026, 5, 1, tzinfo=UTC),
        spoken=True,
        words=words,
        confusions=known.confusions(text),
    )
