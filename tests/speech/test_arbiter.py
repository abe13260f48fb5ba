"""The third opinion: when it is asked and what follows, on made-up opinions."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.audio import AudioClip
from speech.moonshine.spelling import is_number
from speech.panel.arbiter import Arbiter, Consultation, OutOfTime, Scores, certainty, load_limits, raised
from speech.transcript import TranscriptWord
from tests.helpers.sound import quiet

LIMITS = Consultation(
    sure=0.9,
    readings=4,
    batch=8,
    deadline_s=0.4,
    constant=-1.0,
    panel=0.7,
    agrees=1.7,
    margin=0.2,
    under=-0.4,
    words=0.5,
)
SCORE = st.floats(-500, 0)


class Told:
    """Says what it was given to say, and remembers what it was asked."""

    def __init__(self, free: float = -1.0, **said: float) -> None:
        self.free, self.said, self.asked = free, said, list[tuple[tuple[str, ...], float]]()

    def scores(self, clip: AudioClip, texts: Sequence[str], within_s: float) -> Scores:
        self.asked.append((tuple(texts), within_s))
        return Scores(tuple(self.said[text] for text in texts), self.free)


class Slow:
    def scores(self, clip: AudioClip, texts: Sequence[str], within_s: float) -> Scores:
        raise OutOfTime


def word(text: str, sure: float) -> TranscriptWord:
    return TranscriptWord(text, sure, 0.0, 0.5)


def judged(
    scorer: Told | Slow, said: Sequence[TranscriptWord], others: Sequence[str] = ()
) -> tuple[TranscriptWord, ...]:
    return Arbiter(scorer, is_number, LIMITS).judged(said, len(said), others, quiet())


def least(words: Sequence[TranscriptWord]) -> float:
    return min(one.confidence for one in words)


def test_what_it_holds_likeliest_too_is_surer_than_before() -> None:
    assert least(judged(Told(five=-1.0, nine=-9.0), [word("five", 0.85)], ["nine"])) > 0.85


def test_where_it_holds_another_likelier_a_sure_panel_is_doubtful() -> None:
    assert least(judged(Told(five=-9.0, nine=-1.0), [word("five", 0.99)], ["nine"])) < 0.9


def test_what_it_hears_otherwise_itself_makes_everything_doubtful() -> None:
    same, other = (least(judged(Told(free=free, five=-18.0), [word("five", 0.95)])) for free in (-18.0, -1.0))
    assert other < same


def test_words_without_a_number_are_asked_for_only_where_the_panel_is_not_sure() -> None:
    told = Told(yes=-1.0)
    assert judged(told, [word("yes", 0.95)]) == (word("yes", 0.95),)
    assert told.asked == []
    judged(told, [word("yes", 0.8)])
    assert told.asked == [(("yes",), 0.4)]


def test_a_number_is_asked_for_however_sure_the_panel_is() -> None:
    told = Told(five=-1.0)
    judged(told, [word("five", 0.999)])
    assert told.asked == [(("five",), 0.4)]


def test_only_the_likeliest_readings_are_proposed() -> None:
    told = Told(one=-1.0, two=-2.0, three=-3.0, four=-4.0)
    judged(told, [word("one", 0.5)], ["two", "three", "four", "five", "six"])
    assert told.asked[0][0] == ("one", "two", "three", "four")


def test_out_of_time_the_panel_is_as_sure_as_it_is_alone() -> None:
    said = (word("row", 0.9), word("five", 0.6))
    assert judged(Slow(), said) == said


def test_the_words_keep_their_order_of_certainty() -> None:
    found = raised([word("row", 0.99), word("three", 0.9), word("five", 0.6)], 0.8)
    assert [one.text for one in found] == ["row", "three", "five"]
    assert least(found) == pytest.approx(0.8)
    assert found[0].confidence > found[1].confidence > found[2].confidence


@pytest.mark.parametrize("alone", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("sure", [0.001, 0.5, 0.999])
def test_the_least_certain_word_is_as_sure_as_both_hold_it_however_sure_the_panel_was(
    alone: float, sure: float
) -> None:
    assert least(raised([word("five", alone)], sure)) == pytest.approx(sure, rel=1e-6)


@given(st.floats(0, 1), st.integers(1, 30), st.lists(SCORE, min_size=1, max_size=4), SCORE)
def test_it_is_always_a_share(alone: float, count: int, texts: list[float], free: float) -> None:
    assert 0 < certainty(alone, count, Scores(tuple(texts), free), load_limits()) < 1


@given(st.floats(0.01, 0.99), st.lists(SCORE, min_size=2, max_size=4), SCORE)
def test_a_surer_panel_and_a_likelier_reading_never_make_it_less_sure(
    alone: float, texts: list[float], free: float
) -> None:
    limits, (first, *rest) = load_limits(), texts
    before = certainty(alone, 3, Scores((first, *rest), free), limits)
    assert certainty(min(alone + 0.01, 1.0), 3, Scores((first, *rest), free), limits) >= before
    assert certainty(alone, 3, Scores((first + 1.0, *rest), free), limits) >= before


def test_without_weights_for_it_the_panel_alone_counts() -> None:
    plain = dataclasses.replace(LIMITS, constant=0.0, panel=1.0, agrees=0.0, margin=0.0, under=0.0, words=0.0)
    assert certainty(0.7, 2, Scores((-9.0, -1.0), -1.0), plain) == pytest.approx(0.7)


def test_the_limits_that_are_shipped_keep_what_was_promised() -> None:
    limits = load_limits()
    assert limits.readings <= 4
    assert limits.batch <= 8
    assert limits.deadline_s <= 0.4
    assert limits.agrees > 0
    assert limits.margin > 0 > limits.under
