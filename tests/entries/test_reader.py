from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.messages import LANGUAGES, Decision, DoubtReason, Either, Given, Reading, Reported, Unclear, UnclearReason
from tests.helpers.entries import EXPECTATIONS, lines, reading

FILES = {"en": "english.yaml", "es": "spanish.yaml"}


def table(language):
    return yaml.load((Path(__file__).parent / FILES[language]).read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


ROWS = [(language, row["say"], row["when"], row["gives"]) for language in LANGUAGES for row in table(language)]

PROMISED = [
    "row three forty nine point five",
    "forty nine and a half grams",
    "row one forty nine, row two fifty one",
    "one point seven five ounces",
    "four nine point five",
    "one oh six",
    "nineteen and three quarters",
    "row twenty two fifty",
    "row two was fifty two",
]


@pytest.mark.parametrize(("language", "say", "when", "gives"), ROWS)
def test_what_was_said(language, say, when, gives):
    assert lines(reading(say, when, language)) == gives


@pytest.mark.parametrize("language", LANGUAGES)
def test_tables_are_large_and_of_one_shape(language):
    rows = table(language)
    assert len(rows) >= 80
    assert all(set(row) == {"say", "when", "gives"} for row in rows)
    assert {row["when"] for row in rows} >= {"catches", "confirm", "choose", "dial", "setting", "rows", "drive", "rate"}


def test_every_promised_phrase_is_in_the_table():
    assert set(PROMISED) <= {row["say"] for row in table("en")}


def test_words_that_split_two_ways_are_never_guessed():
    read = reading("row twenty two fifty", "catches24", "en")
    assert isinstance(read.entries[0], Either)
    assert read.decision is Decision.ASK


SOUNDS = [
    "row",
    "one",
    "two",
    "twenty",
    "fifty",
    "point",
    "and",
    "a",
    "half",
    "hundred",
    "no",
    "was",
    "correct",
    ",",
    "g",
]


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=120), st.sampled_from(EXPECTATIONS), st.sampled_from(LANGUAGES))
def test_any_text_gives_a_reading(text, when, language):
    assert reading(text, when, language).entries


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(SOUNDS), max_size=25), st.sampled_from(EXPECTATIONS))
def test_any_words_of_the_vocabulary_give_a_reading(words, when):
    read = reading(" ".join(words), when, "en")
    assert read.entries
    assert Reading.model_validate_json(read.model_dump_json()) == read


def test_two_hundred_tokens_are_read_and_more_are_unclear():
    rows = " ".join(f"row {word} forty nine point five" for word in ("one", "two", "three", "four") * 8)
    assert len(reading(rows, "catches", "en").entries) == 32
    (entry,) = reading(rows + " " + rows, "catches", "en").entries
    assert isinstance(entry, Unclear)
    assert entry.reason is UnclearReason.UNKNOWN_WORDS


@pytest.mark.parametrize("text", ["five " * 200, "row " * 200, "and " * 150, "hundred thousand " * 100, "a " * 5000])
def test_hostile_repetition_ends(text):
    assert isinstance(reading(text, "catches24", "en").entries[0], Unclear)


# ---- how well it was heard


def heard(text, sure, others=(), when="catches", noisy=False):
    return reading(text, when, "en", sure=sure, others=others, noisy=noisy).entries


def test_a_value_heard_well_is_kept():
    (entry,) = heard("row two forty two", 0.99)
    assert isinstance(entry, Given)
    assert entry.doubt is None


def test_a_value_heard_badly_is_asked():
    (entry,) = heard("row two forty two", 0.6)
    assert entry.doubt is DoubtReason.LOW_CONFIDENCE or entry.doubt is DoubtReason.SOUND_ALIKE


def test_a_value_hardly_heard_is_not_even_asked():
    (entry,) = heard("row two forty two", 0.1)
    assert entry.reason is UnclearReason.UNSURE


def test_noise_is_named_only_where_it_was_measured():
    (entry,) = heard("row two forty two", 0.1, noisy=True)
    assert entry.reason is UnclearReason.TOO_NOISY


def test_a_sound_alike_is_asked_with_its_rival():
    (entry,) = heard("row two fifty", 0.95)
    assert entry.doubt is DoubtReason.SOUND_ALIKE
    assert "15 g" in [str(rival) for rival in entry.rivals]


def test_a_sound_alike_heard_surely_is_kept():
    (entry,) = heard("row two fifty", 0.995)
    assert entry.doubt is None


@pytest.mark.parametrize(
    ("text", "sure", "becomes"),
    [
        ("row four stopped", 0.85, "taken"),
        ("all good", 0.85, "taken"),
        ("all good", 0.55, "asked"),
        ("all good", 0.45, "unclear"),
        ("row six stopped", 0.85, "taken"),
        ("rows five and six stopped", 0.85, "taken"),
        ("fifteen more minutes", 0.85, "asked"),
        ("fifteen more minutes", 0.98, "taken"),
    ],
)
def test_a_report_needs_more_where_another_report_sounds_like_it(text, sure, becomes):
    """On eight rows nothing sounds like row four or row five: there is no row oh and no row nine."""
    (entry,) = heard(text, sure, when="shift")
    if becomes == "unclear":
        assert entry.reason is UnclearReason.UNSURE
    else:
        assert isinstance(entry, Reported)
        assert entry.doubt is (DoubtReason.LOW_CONFIDENCE if becomes == "asked" else None)


def test_another_reading_of_the_recogniser_is_a_rival():
    (entry,) = heard("row two forty two", 0.8, others=("row two forty six",))
    assert "46 g" in [str(rival) for rival in entry.rivals]


def test_a_value_heard_surely_has_no_rivals():
    (entry,) = heard("row two forty two", 0.99, others=("row two forty six", "row eight forty two"))
    assert isinstance(entry, Given)
    assert entry.doubt is None


def test_a_recogniser_torn_between_rows_leaves_the_choice_to_the_operator():
    (entry,) = heard("row six forty two", 0.8, others=("row eight forty two",))
    assert isinstance(entry, Either)
    assert [given.row for readings in entry.readings for given in readings] == [6, 8]


def test_a_row_that_sounds_like_another_is_asked_unless_it_is_the_next():
    (entry,) = heard("row five forty two", 0.95, when="catches24")
    assert isinstance(entry, Either)
    assert [given.row for readings in entry.readings for given in readings] == [5, 9]
    (entry,) = heard("row one forty two", 0.95, when="catches24")
    assert isinstance(entry, Given)


def test_a_doubt_about_one_row_leaves_the_other_alone():
    first, second = heard("row one forty two row two fifty", 0.95)
    assert first.doubt is None or first.rivals != second.rivals
    assert second.doubt is DoubtReason.SOUND_ALIKE


@pytest.mark.parametrize("said", ["yes", "no"])
def test_an_answer_heard_badly_answers_nothing(said):
    (entry,) = heard(said, 0.7, when="confirm")
    assert isinstance(entry, Unclear)


def test_typed_text_is_never_doubted_for_its_sound():
    (entry,) = reading("row two fifty", "catches", "en").entries
    assert entry.doubt is None


def test_a_value_for_many_rows_is_not_torn_into_one_of_them():
    entries = heard("rows five to eight forty two", 0.95, when="catches24")
    assert [entry.row for entry in entries if isinstance(entry, Given)] == [5, 6, 7, 8]


@pytest.mark.parametrize("said", ["row fourteen hundred", "row fourteen hundred and twenty", "row four hundred"])
def test_a_hundred_right_behind_the_row_is_asked_however_surely_heard(said):
    """How many hundreds is a word that may be lost: row four, two hundred is heard as row fourteen, hundred."""
    (entry,) = heard(said, 1.0, when="catches24")
    assert isinstance(entry, Given) and entry.doubt is not None


@pytest.mark.parametrize(
    "said", ["row four two hundred", "row four one hundred", "row four a hundred", "hundred and ten", "row four ninety"]
)
def test_hundreds_that_were_counted_are_kept(said):
    (entry,) = heard(said, 1.0, when="catches24")
    assert isinstance(entry, Given) and entry.doubt in (None, DoubtReason.UNUSUAL)


def test_cien_counts_itself_in_spanish():
    (entry,) = reading("surco cuatro cien", "catches24", "es", sure=1.0).entries
    assert isinstance(entry, Given) and entry.doubt in (None, DoubtReason.UNUSUAL)


def test_a_correction_heard_badly_corrects_nothing():
    (entry,) = heard("correct row two", 0.3)
    assert isinstance(entry, Unclear)
