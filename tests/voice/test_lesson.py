"""A lesson, from what is read to what is asked later: hands-free, and by recordings with the shipped models."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from bot.cli import app
from bot.handsfree.conversation import Conversation, HeardTurn
from bot.handsfree.texts import HandsfreeTexts
from bot.settings import CONVERSATION
from bot.voice.lesson import VoiceLesson, confused, lesson_grammar, nearly
from bot.voice.profiles import Profiles
from bot.voice.texts import VoiceTexts
from engine.assistant import Assistant
from engine.data.languages import LANGUAGES
from engine.database import open_database
from engine.messages import Language
from engine.voice_profile import ConfusionSource
from speech import recognizer_choice
from speech.audio import clip
from speech.decoding.grammar import automaton
from speech.endpoint import UtteranceSound
from speech.transcript import Transcript, TranscriptWord
from tests.helpers.lessons import tutor
from tests.helpers.voices import by_espeak, needs_espeak

SECOND = clip(np.zeros(16_000), 16_000)


def heard(text: str, sure: float = 1.0, *others: str) -> Transcript:
    return Transcript(tuple(TranscriptWord(word, sure, 0.0, 1.0) for word in text.split()), others, "test", 0.0)


@pytest.mark.parametrize(
    ("said", "transcript", "pairs", "near"),
    [
        ("eight", heard("eight"), (), ()),
        ("eight", heard("six"), (("eight", "six"),), ()),
        ("eight", heard("six", 0.4, "eight"), (("eight", "six"),), ()),
        ("eight", heard("eight", 0.6, "six", "three"), (), (("eight", "six"),)),
        ("eight", heard("eight", 0.95, "six", "three"), (), ()),
        ("eight", heard("eight", 0.6), (), ()),
        ("eight", heard(""), (), ()),
        ("all good", heard("all food"), (("good", "food"),), ()),
        ("all good", heard("oh"), (("all good", "oh"),), ()),
    ],
)
def test_what_is_heard_otherwise_is_confused_and_what_is_unsure_nearly(
    said: str, transcript: Transcript, pairs: tuple[tuple[str, str], ...], near: tuple[tuple[str, str], ...]
) -> None:
    assert confused(said, transcript) == pairs
    assert nearly(said, transcript, 0.9) == near


def test_what_was_not_heard_is_read_once_more_and_then_left() -> None:
    lesson = VoiceLesson(("one", "two"), 0.9).heard(heard(""))
    assert (lesson.wanted, lesson.tries) == ("one", 1)
    lesson = lesson.heard(heard(""))
    assert (lesson.wanted, lesson.tries, lesson.unheard) == ("two", 0, ("one",))
    lesson = lesson.heard(heard("one"))
    assert lesson.wanted is None
    assert lesson.heard(heard("two")) == lesson
    assert lesson.pairs == (("two", "one"),)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_shipped_models_know_every_word_of_the_lesson(language: Language) -> None:
    words = VoiceTexts.load().read(language)
    assert 20 <= len(words) <= 26
    lexicon = {
        line.split()[0] for line in (recognizer_choice.SHIPPED / language / "lexicon.txt").read_text().splitlines()
    }
    assert {word for one in words for word in one.split()} <= lexicon
    assert all(automaton(lesson_grammar(words)).accepts(one.split()) for one in words)


class Hears:
    """A recogniser that hears what it was told to hear next, and keeps the grammars that it got."""

    name = "hears"

    def __init__(self) -> None:
        self.next, self.grammars = heard(""), list[str]()

    def transcribe(self, clip: object, language: str, grammar: str) -> Transcript:
        self.grammars.append(grammar)
        return self.next


class Cab:
    """A hands-free conversation in which a text is said."""

    def __init__(self, folder: Path) -> None:
        database = open_database(str(folder / "a.db"))
        self.hears = Hears()
        texts = HandsfreeTexts.load()
        self.assistant = Assistant(database)
        self.talk = Conversation(self.assistant, texts, lambda _: self.hears, tutor(folder, database))

    @property
    def rows(self) -> object:
        dialog = self.assistant.state(CONVERSATION).dialog
        assert dialog is not None
        return dialog.values.get("rows")

    def say(self, text: str, sure: float = 1.0, *others: str) -> str:
        self.hears.next = heard(text, sure, *others)
        taken = self.talk.take(UtteranceSound(SECOND, ("a",)), held=False)
        assert isinstance(taken, HeardTurn)
        return taken.reply.text


@pytest.mark.parametrize(("language", "order"), [("en", "learn my voice"), ("es", "aprenda mi voz")])
def test_hands_free_a_lesson_is_read_word_by_word_and_the_job_goes_on(
    tmp_path: Path, language: Language, order: str
) -> None:
    cab = Cab(tmp_path)
    cab.talk.speak(language)
    before = cab.talk.prompt().text
    words = VoiceTexts.load().read(language)
    assert automaton(cab.talk.grammar(held=False)).accepts(order.split())
    told = cab.say(order)
    for number, word in enumerate(words):
        assert word in told
        assert cab.talk.prompt().text in told
        assert automaton(cab.talk.grammar(held=False)).accepts(word.split())
        told = cab.say(words[1] if number == 0 else word)
    assert words[0] in told
    assert words[1] in told
    assert before in told
    assert cab.talk.prompt().text == before
    (pair,) = Profiles(tmp_path / "profiles").of("operator", language).pairs
    assert (pair.said, pair.heard, pair.read) == (words[0], words[1], 1)


def test_a_lesson_is_left_when_asked_to_and_nothing_is_kept(tmp_path: Path) -> None:
    cab = Cab(tmp_path)
    cab.say("learn my voice")
    cab.say("two")
    assert "Nothing of it is kept." in cab.say("never mind")
    assert not (tmp_path / "profiles").exists()
    assert "How many rows?" in cab.say("set up")


def test_a_lesson_is_begun_only_where_it_was_surely_asked_for(tmp_path: Path) -> None:
    cab = Cab(tmp_path)
    cab.say("learn my voice", 0.3)
    assert cab.talk.prompt().text == Cab(tmp_path).talk.prompt().text


def test_hands_free_a_confused_word_is_asked(tmp_path: Path) -> None:
    cab = Cab(tmp_path)
    Profiles(tmp_path / "profiles").add("operator", "en", [("six", "eight")], ConfusionSource.READ)
    cab.say("set up")
    told = cab.say("eight")
    assert "Rows, 8: right, yes or no" in told
    assert "Rows, 6: right, yes or no" in cab.say("no")
    cab.say("yes")
    assert cab.rows == 6


# ---- the command line, with the shipped models


def run(*arguments: str, code: int = 0) -> str:
    result = CliRunner().invoke(app, ["voice", *arguments])
    assert result.exit_code == code, result.output or result.exception
    return result.output


def listed(folder: Path, files: dict[str, str]) -> None:
    lines = "".join(f"{name}\t{said}\n" for name, said in files.items())
    (folder / "lesson.tsv").write_text(f"file\ttext\n{lines}", encoding="utf-8")


@needs_espeak
@pytest.mark.parametrize(
    ("language", "words"), [("en", ("six", "ninety", "all good")), ("es", ("seis", "sesenta", "doce"))]
)
def test_recordings_are_read_shown_and_forgotten(tmp_path: Path, language: Language, words: tuple[str, ...]) -> None:
    """A clip listed as another word than the one in it stands for a voice that is heard so."""
    voice = by_espeak(language)
    said = {f"{number}.wav": word for number, word in enumerate(words)}
    for name, word in said.items():
        soundfile.write(tmp_path / name, np.pad(voice.speak(word).samples, 8_000), 16_000)
    place = ("--db", str(tmp_path / "a.db"), "--language", language, "--person", "Ann")
    meant = VoiceTexts.load().read(language)[0]
    listed(tmp_path, {**said, "0.wav": meant})
    told = run("learn", "--recordings", str(tmp_path), *place)
    assert meant in told
    assert words[0] in told
    shown = [json.loads(line) for line in run("show", "--json", *place).splitlines()]
    assert {"said": meant, "heard": words[0], "read": 1, "nearly": 0, "corrected": 0} in shown[0]["pairs"]
    assert words[0] in run("show", "--db", str(tmp_path / "a.db"))
    assert not (tmp_path / "a.db").exists()
    run("forget", *place)
    assert list((tmp_path / "profiles").iterdir()) == []
    assert words[0] not in run("show", *place)


@pytest.mark.parametrize(
    ("table", "why"),
    [
        (None, "there is no lesson.tsv"),
        ("file\ttext\n", "names no recording"),
        ("file\twords\na.wav\tsix\n", "needs file and text"),
        ("file\ttext\na.wav\tsix hundred\n", "is not read in the lesson"),
    ],
)
def test_a_list_that_cannot_be_used_is_refused(tmp_path: Path, table: str | None, why: str) -> None:
    if table is not None:
        (tmp_path / "lesson.tsv").write_text(table)
    result = CliRunner().invoke(app, ["voice", "learn", "--recordings", str(tmp_path), "--db", str(tmp_path / "a.db")])
    assert why in str(result.exception)


def test_a_damaged_profile_stops_the_start_and_can_be_forgotten(tmp_path: Path) -> None:
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "operator.en.yaml").write_text("format: 7")
    result = CliRunner().invoke(app, ["voice", "show", "--db", str(tmp_path / "a.db")])
    assert "operator.en.yaml" in str(result.exception)
    run("forget", "--db", str(tmp_path / "a.db"))
    assert list((tmp_path / "profiles").iterdir()) == []
