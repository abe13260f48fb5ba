"""What corrections show of a voice: real turns, from what was heard to what was meant."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.voice.memory import VoiceMemory
from bot.voice.profiles import Profiles
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import open_database
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import HeardWord, Utterance
from tests.helpers.talking import beginnings

BEGIN = datetime(2026, 5, 1, 22, tzinfo=UTC)


class Evening:
    """A test run whose catches are said, with a memory of the voice that says them."""

    def __init__(self, folder: Path, language: str = "en") -> None:
        database = open_database(str(folder / "a.db"))
        self.assistant = Assistant(database, ConversationDefaults(language=language))
        self.memory = VoiceMemory(Profiles(folder / "profiles"), "Ann", Journal(database))
        self.language, self.count = language, 0

    def typed(self, text: str) -> StoredTurn:
        return self._hear(self._utterance(text))

    def said(self, text: str) -> StoredTurn:
        words = tuple(HeardWord(text=word, confidence=1.0) for word in text.split())
        known = self.memory.confusions(text, self.language)
        return self._hear(
            self._utterance(text).model_copy(update={"spoken": True, "words": words, "confusions": known})
        )

    def _utterance(self, text: str) -> Utterance:
        self.count += 1
        when = BEGIN + timedelta(seconds=20 * self.count)
        return Utterance(id=f"{self.count}", conversation="c", text=text, language=self.language, said_at=when)

    def _hear(self, said: Utterance) -> StoredTurn:
        turn = self.assistant.hear(said)
        self.memory.notice(turn)
        return turn

    @property
    def pairs(self) -> list[tuple[str, str, int]]:
        return [(one.said, one.heard, one.corrected) for one in self.memory.known(self.language).pairs]


@pytest.fixture
def evening(tmp_path: Path) -> Evening:
    made = Evening(tmp_path)
    for line in (*beginnings()["prepared"], "test run", "all at twelve"):
        made.typed(line)
    return made


def test_a_value_that_was_heard_and_is_corrected_at_once_is_counted(evening: Evening) -> None:
    evening.said("row one eighty six")
    evening.said("correction row one eighty eight")
    assert evening.pairs == [("eight", "six", 1)]


def test_a_value_that_replaces_another_after_a_yes_is_counted(evening: Evening) -> None:
    evening.said("row one eighty six")
    evening.said("row one eighty eight")
    assert evening.pairs == []
    evening.said("yes")
    assert evening.pairs == [("eight", "six", 1)]


def test_a_correction_that_is_typed_shows_the_same(evening: Evening) -> None:
    evening.said("row one eighty six")
    evening.typed("correction row one 88")
    assert evening.pairs == [("eight", "six", 1)]


def test_what_is_taken_back_and_said_anew_is_counted(evening: Evening) -> None:
    evening.said("row one eighty six")
    evening.said("scratch that")
    evening.said("row one eighty eight")
    assert evening.pairs == [("eight", "six", 1)]


def test_a_second_correction_makes_the_word_asked(evening: Evening) -> None:
    for row in ("one", "two"):
        evening.said(f"row {row} eighty six")
        evening.said(f"correction row {row} eighty eight")
    assert evening.pairs == [("eight", "six", 2)]
    turn = evening.said("row three eighty six")
    assert "kept" not in {fact["kind"] for fact in turn.facts}
    assert "86" in turn.reply.text
    assert "88" in evening.said("no").reply.text


def test_the_answer_to_such_a_question_counts_where_the_other_was_meant(evening: Evening) -> None:
    evening.memory.learn((("eight", "six"),), "en")
    evening.said("row one eighty six")
    evening.said("no")
    evening.said("yes")
    assert evening.pairs == [("eight", "six", 1)]
    evening.said("row two eighty six")
    evening.said("yes")
    assert evening.pairs == [("eight", "six", 1)]


def test_a_turn_that_comes_again_is_counted_once(evening: Evening) -> None:
    """A line whose answer was lost is said again by its phone, an update after a kill is handled again."""
    evening.said("row one eighty six")
    turn = evening.said("correction row one eighty eight")
    evening.memory.notice(turn)
    started_again = VoiceMemory(evening.memory.profiles, "Ann", evening.memory.journal)
    started_again.notice(turn)
    assert evening.pairs == [("eight", "six", 1)]
    assert started_again.confusions("six", "en") == ()
    evening.said("row two eighty six")
    evening.said("correction row two eighty eight")
    assert evening.pairs == [("eight", "six", 2)]


def test_somebody_who_looked_again_shows_nothing(evening: Evening) -> None:
    evening.said("row one eighty six")
    evening.said("correction row one seventy eight")
    assert evening.pairs == []


def test_what_was_typed_shows_nothing_of_a_voice(evening: Evening) -> None:
    evening.typed("row 1 86")
    evening.typed("correction row 1 88")
    assert evening.pairs == []


def test_long_after_it_is_no_mishearing(evening: Evening) -> None:
    evening.said("row one eighty six")
    for row in ("two", "three", "four", "five", "six"):
        evening.said(f"row {row} seventy nine")
    evening.said("correction row one eighty eight")
    assert evening.pairs == []


def test_a_profile_that_cannot_be_written_stops_no_turn(evening: Evening, tmp_path: Path) -> None:
    (tmp_path / "profiles").write_text("in the way")
    evening.said("row one eighty six")
    assert "88" in evening.said("correction row one eighty eight").reply.text


def test_a_file_that_goes_bad_meanwhile_leaves_what_was_known(evening: Evening, tmp_path: Path) -> None:
    evening.memory.learn((("eight", "six"),), "en")
    (tmp_path / "profiles" / "ann.en.yaml").write_text("][")
    assert len(evening.memory.confusions("row one six", "en")) == 1
    evening.memory.forget()
    assert evening.memory.confusions("row one six", "en") == ()
