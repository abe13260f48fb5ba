"""What was heard unsurely during a shift is taken on a yes, just as if it had been heard well, and never before."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.clock import Ago
from engine.dialog.facts.events import Fact
from engine.dialog.facts.question import QuestionKind
from engine.dialog.facts.state import ConversationState
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import DoubtReason, HeardWord, Report, Reported, Unclear, Utterance
from engine.quantities import Measure
from engine.shift.record.shift_facts import Noted
from tests.dialog.test_laws import beginning, interpreter
from tests.dialog.test_shift import EVENING, OURS, REPORTS

LIMITS = load_acceptance()
UNSURE = (LIMITS.report_heard + LIMITS.command_kept) / 2
TOLD = tuple(
    text for text in REPORTS if text not in ("nonsense", "status", "when do i run out", "help", "repeat", "metric")
)


class Listener:
    """A shift whose operator is heard as surely as is said."""

    def __init__(self) -> None:
        self.state: ConversationState = beginning("planting")
        self.now = EVENING
        self.text = ""

    def hear(self, text: str, sure: float = 1.0, after: float = 0, noisy: bool = False) -> tuple[Fact, ...]:
        self.now += timedelta(minutes=after)
        words = tuple(HeardWord(text=word, confidence=sure) for word in text.split())
        utterance = Utterance(
            id="u",
            conversation="c",
            text=text,
            language="en",
            said_at=self.now,
            spoken=True,
            words=words,
            noisy=noisy,
        )
        expected = interpreter().expectation(self.state)
        turn = interpreter().take(self.state, read(utterance, expected, load_vocabulary("en")), self.now)
        self.state, self.text = turn.state, turn.reply.text
        return turn.facts

    def asked(self) -> QuestionKind | None:
        assert self.state.dialog is not None
        return self.state.dialog.questions[0].about if self.state.dialog.questions else None


def noted(facts: tuple[Fact, ...]) -> list[Noted]:
    return [fact for fact in facts if isinstance(fact, Noted)]


@OURS
@given(st.sampled_from(TOLD), st.floats(LIMITS.report_heard, LIMITS.command_kept, exclude_max=True))
def test_nothing_is_noted_before_the_yes_and_then_all_as_if_heard_well(text: str, sure: float) -> None:
    well, unsure = Listener(), Listener()
    well.hear(text)
    assert noted(unsure.hear(text, sure)) == []
    if unsure.asked() is QuestionKind.REPORT:
        assert unsure.text.count("\n") == 0
        unsure.hear("yes")
        assert unsure.state.dialog is not None
        assert well.state.dialog is not None
        assert unsure.state.dialog.activity == well.state.dialog.activity


@OURS
@given(st.sampled_from(TOLD), st.floats(0, LIMITS.command_kept, exclude_max=True))
def test_after_a_no_the_shift_is_as_it_was(text: str, sure: float) -> None:
    night = Listener()
    before = night.state.dialog
    night.hear(text, sure)
    night.hear("no")
    assert before is not None
    assert night.state.dialog is not None
    assert night.state.dialog.activity == before.activity
    assert night.state.dialog.questions == ()


def test_what_was_heard_worse_is_not_asked() -> None:
    night = Listener()
    night.hear("row five stopped", LIMITS.report_heard - 0.01)
    assert night.asked() is None
    assert "stopped?" not in night.text


@pytest.mark.parametrize(
    ("text", "before"),
    [("row six stopped", None), ("lunch", 0), ("row five runs again", 0), ("lunch five minutes ago", 5)],
)
def test_a_late_yes_is_about_when_it_was_said(text: str, before: int | None) -> None:
    night = Listener()
    night.hear("row five stopped", after=-30)
    night.hear(text, UNSURE, after=30)
    (fact, *_) = noted(night.hear("yes", after=7))
    moment = None if before is None else EVENING - timedelta(minutes=before)
    assert fact.moment == moment


@pytest.mark.parametrize(
    "text", ["all good", "row three half", "row three caught seventy nine grams", "twelve acres done"]
)
def test_what_may_have_changed_by_a_late_yes_is_to_be_told_anew(text: str) -> None:
    night = Listener()
    night.hear(text, UNSURE)
    assert noted(night.hear("yes", after=1.5)) == []
    assert "2 minutes ago" in night.text
    assert night.asked() is None


def test_a_row_that_stopped_is_still_asked_for_after_another_was_told() -> None:
    night = Listener()
    night.hear("row five stopped", UNSURE)
    assert [fact.rows for fact in noted(night.hear("row three stopped"))] == [(3,)]
    assert night.text.endswith("Row five stopped?")
    assert [fact.rows for fact in noted(night.hear("yes"))] == [(5,)]


def test_what_is_told_anew_and_surely_needs_no_answer() -> None:
    night = Listener()
    night.hear("row five stopped", UNSURE)
    assert [fact.rows for fact in noted(night.hear("row five stopped"))] == [(5,)]
    assert night.asked() is None


def test_the_rest_is_good_only_with_the_answer_for_the_others() -> None:
    text = "row five stopped rest good"
    heard = tuple(HeardWord(text=word, confidence=UNSURE if word == "five" else 1.0) for word in text.split())
    entries = _read(text, heard)
    assert [entry.doubt for entry in entries if isinstance(entry, Reported)] == [DoubtReason.LOW_CONFIDENCE] * 2


@pytest.mark.parametrize("five", [None, LIMITS.report_heard - 0.1])
def test_beside_a_row_that_was_not_understood_the_rest_is_not_good(five: float | None) -> None:
    text = "row ninety stopped rest good" if five is None else "row five stopped rest good"
    words = tuple(HeardWord(text=word, confidence=five or 1.0) for word in text.split())
    spoken = tuple(word if word.text == "five" else word.model_copy(update={"confidence": 1.0}) for word in words)
    entries = _read(text, spoken if five is not None else ())
    assert [type(entry) for entry in entries] == [Unclear]


def _read(text: str, heard: tuple[HeardWord, ...]) -> tuple[object, ...]:
    said = Utterance(
        id="u", conversation="c", text=text, language="en", said_at=EVENING, spoken=bool(heard), words=heard
    )
    return read(said, interpreter().expectation(beginning("planting")), load_vocabulary("en")).entries


def test_a_question_goes_into_the_record_with_its_reports_and_its_moment() -> None:
    night = Listener()
    night.hear("row five stopped ten minutes ago", UNSURE)
    assert night.state.dialog is not None
    (question,) = night.state.dialog.questions
    assert question.at == EVENING
    assert question.reports[0].report is Report.STOPPED
    assert question.reports[0].when == Ago(length=Measure(value=10.0, unit="min"))
    assert ConversationState.model_validate_json(night.state.model_dump_json()) == night.state


def test_names_told_and_given_are_known_from_then_on() -> None:
    night = Listener()
    for text in ("hand over to Maria", "hand over to Pete", "hand over to maria", "field is South"):
        night.hear(text)
    names = interpreter().expectation(night.state).names
    assert names[Report.HANDED_OVER] == ("Pete", "Maria")
    assert names[Report.FIELD] == ("North field", "South")


@pytest.mark.parametrize(
    ("noisy", "said"), [(False, "I am not sure of “all good”: say it again."), (True, "Too noisy:")]
)
def test_noise_is_blamed_only_where_it_was_measured(noisy: bool, said: str) -> None:
    night = Listener()
    night.hear("all good", LIMITS.report_heard / 2, noisy=noisy)
    assert night.text.startswith(said)
