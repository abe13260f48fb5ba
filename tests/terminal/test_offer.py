"""What Tab offers, what of a reply is drawn, and what the file of typed lines keeps."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.console import Talk, lined_up, unsaid
from bot.handsfree.texts import HandsfreeKey, HandsfreeOrder, HandsfreeTexts
from bot.terminal.editor import sayings
from bot.terminal.history import KEPT, LineHistory
from bot.terminal.texts import OwnLine, TerminalTexts
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.data.forms import load_forms
from engine.data.languages import LANGUAGES
from engine.database import open_database
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.expectation import Asking, Expectation, ExpectedSlot, Option, SlotKind
from engine.intents import Topic
from engine.messages import Asked, Button, Reply, Report, Utterance


def offered(expected: Expectation) -> tuple[str, ...]:
    return sayings(expected, load_vocabulary(expected.language), load_forms(expected.language))


def test_what_is_asked_for_comes_first() -> None:
    option = Option(key="low", label="Low", words=("low", "too low"))
    slot = ExpectedSlot(name="level", kind=SlotKind.CHOICE, options=(option,), names=("North field",))
    found = offered(Expectation(language="en", asking=Asking.SLOT, slots=(slot,), dialogs={"a": ("test run", "run")}))
    assert found[:2] == ("low", "North field")
    assert {"skip it", "repeat", "test run"} - {*found} == {"skip it"}
    assert "run" not in found


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_is_offered_in_the_language_that_is_spoken(language: str) -> None:
    answers = load_forms(language).answers
    found = offered(Expectation(language=language, asking=Asking.CONFIRM, candidates=("5 lb",)))
    assert found[:2] == (answers.yes.lower(), answers.no.lower())
    chosen = offered(Expectation(language=language, asking=Asking.CHOOSE, candidates=("5 lb", "9 lb")))
    assert chosen[:2] == load_forms(language).order[:2]
    assert not any(mark in saying for saying in found for mark in "[](|<")


def test_reports_are_offered_where_they_may_be_told() -> None:
    said = {one.say for one in load_vocabulary("en").reports[Report.GOOD]}
    assert said & {*offered(Expectation(language="en", asking=Asking.REPORT, reports=(Report.GOOD,)))}
    assert not said & {*offered(Expectation(language="en"))}


def test_answers_that_the_question_names_are_not_shown_again() -> None:
    yes, no = Button(label="Yes", says="yes"), Button(label="No", says="no")
    heavy, light = Button(label="240 g", says="first"), Button(label="40 g", says="second")
    assert unsaid(Reply(text="No drive yet.\nIs there one drive?", buttons=(yes, no))) == ("Yes", "No")
    assert unsaid(Reply(text="Kept.\nWhich is it: 240 g or 40 g?", buttons=(heavy, light))) == ()
    assert unsaid(Reply(text="240 g or 40 g.\nWhich is it?", buttons=(heavy, light))) == ("240 g", "40 g")


@pytest.mark.parametrize("width", [40, 60, 100])
def test_answers_stand_whole_in_lines_that_fit(width: int) -> None:
    labels = tuple(f"answer number {number}" for number in range(12))
    lines = list(lined_up(labels, width))
    assert tuple(label for line in lines for label in line) == labels
    assert max(len("  ".join(f" {label} " for label in line)) for line in lines) <= width
    assert list(lined_up((), width)) == []


def test_only_the_last_lines_are_read_again_and_the_same_one_is_kept_once(tmp_path: Path) -> None:
    file = tmp_path / "record.db.said"
    history = LineHistory(file)
    for number in range(KEPT + 20):
        history.said(f"line {number}")
        history.said(f"line {number}")
    history.append_string("typed and not said")
    read = [*LineHistory(file).load_history_strings()]
    assert (len(read), read[0], read[-1]) == (KEPT, f"line {KEPT + 19}", "line 20")


def test_a_folder_that_takes_no_file_is_no_reason_to_stop(tmp_path: Path) -> None:
    history = LineHistory(tmp_path / "not there" / "record.db.said")
    history.said("set up")
    assert [*history.load_history_strings()] == []
    assert history.get_strings() == ["set up"]


def test_words_for_leaving_are_whole_lines_in_any_language() -> None:
    texts = TerminalTexts.load()
    assert all(texts.ends(line) for line in ("exit", "Quit.", "salir", " EXIT "))
    assert not any(texts.ends(line) for line in ("exit strip", "", "quit the test"))
    assert texts.answers("Sí", OwnLine.YES, "es")
    assert not texts.answers("sí", OwnLine.YES, "en")


@pytest.mark.parametrize(("language", "word"), [("en", "Summary."), ("en", "the summary"), ("es", "resumen")])
def test_the_short_word_for_the_summary_is_said_in_full(language: str, word: str) -> None:
    """The chat has the word for itself, so no dialog may know it; both channels say what the vocabulary knows."""
    texts, vocabulary = TerminalTexts.load(), load_vocabulary(language)
    said = texts.meant(word, language)
    assert said == HandsfreeTexts.load().say(HandsfreeKey.SUMMARY_ASKED, language)
    utterance = Utterance(id="u", conversation="c", text=said, language=language, said_at=datetime.now(UTC))
    (entry,) = read(utterance, Expectation(language=language), vocabulary).entries
    assert isinstance(entry, Asked) and entry.topic is Topic.SUMMARY
    assert texts.meant("summary of all", language) == "summary of all"
    assert HandsfreeTexts.load().ordered(word.strip(".").lower(), language) is HandsfreeOrder.SUMMARY


def test_rowhand_talk_answers_it() -> None:
    talk = Talk(Assistant(open_database(":memory:"), ConversationDefaults()), "s")
    assert (
        talk.hear("summary").reply.text == talk.hear("what did I do tonight").reply.text != talk.hear("sum").reply.text
    )
