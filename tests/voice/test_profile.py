"""The laws of a voice profile: what is known to be confused is never kept, and more never undoes that."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.hear import expectation
from engine.entries.matching.numerals import spell
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Decision, DoubtReason, Either, Given, Reading, Reported
from engine.quantities import Measure
from engine.voice_profile import MOST_PAIRS, MOST_TURNS, ConfusionSource, VoiceProfile
from tests.helpers.lessons import during_shift, said_by

WORDS = {
    "en": ("one", "two", "three", "five", "six", "eight", "nine", "thirteen", "thirty", "fifty", "sixty", "row", "yes"),
    "es": ("uno", "dos", "tres", "seis", "siete", "ocho", "doce", "trece", "sesenta", "setenta", "surco", "sí"),
}
PAIRS = {language: st.tuples(st.sampled_from(words), st.sampled_from(words)) for language, words in WORDS.items()}


def profile(language: str, *pairs: tuple[str, str]) -> VoiceProfile:
    return VoiceProfile(person="Ann", language=language).with_pairs(pairs, ConfusionSource.READ)


def heard(text: str, known: VoiceProfile, sure: float = 1.0, next_row: int | None = None) -> Reading:
    return read(
        said_by(text, known, sure), expectation(known.language, 16, None, next_row), load_vocabulary(known.language)
    )


@pytest.mark.parametrize(
    ("language", "text", "said", "misheard", "value"),
    [("en", "row three six", "eight", "six", 8.0), ("es", "surco tres seis", "ocho", "seis", 8.0)],
)
def test_a_word_that_this_voice_confuses_is_asked_however_sure(
    language: str, text: str, said: str, misheard: str, value: float
) -> None:
    assert heard(text, profile(language)).decision is Decision.KEEP
    (entry,) = heard(text, profile(language, (said, misheard))).entries
    assert isinstance(entry, Given)
    assert entry.doubt is DoubtReason.SOUND_ALIKE
    assert (entry.value, *entry.rivals) == (Measure(value=6.0, unit="g"), Measure(value=value, unit="g"))


def test_the_other_way_round_is_not_known_by_that() -> None:
    assert heard("row three eight", profile("en", ("eight", "six"))).decision is Decision.KEEP


def test_what_cannot_have_been_said_there_is_no_question() -> None:
    assert heard("row three six", profile("en", ("yes", "six"))).decision is Decision.KEEP


def test_a_row_that_may_be_another_is_asked_but_not_the_one_that_is_next() -> None:
    known = profile("en", ("eight", "three"))
    (entry,) = heard("row three six", known).entries
    assert isinstance(entry, Either)
    assert [[one.row for one in way] for way in entry.readings] == [[3], [8]]
    assert heard("row three six", known, next_row=3).decision is Decision.KEEP


def test_a_phrase_of_several_words_may_be_heard_for_one() -> None:
    assert heard("row three six", profile("en", ("sixty six", "six"))).decision is Decision.ASK


@pytest.mark.parametrize("language", WORDS)
@given(data=st.data(), value=st.integers(1, 99), sure=st.sampled_from((0.2, 0.5, 0.9, 0.95, 0.98, 1.0)))
def test_more_that_is_known_never_keeps_what_was_not_kept(
    language: str, data: st.DataObject, value: int, sure: float
) -> None:
    """Adding pairs only turns kept into asked, and the value that is first stays the one that was heard."""
    pairs = data.draw(st.lists(PAIRS[language], max_size=6))
    more = data.draw(st.lists(PAIRS[language], max_size=6))
    row = spell(3, language)
    text = f"{WORDS[language][-2]} {row} {spell(value, language)}"
    fewer = heard(text, profile(language, *pairs), sure)
    further = heard(text, profile(language, *pairs, *more), sure)
    if fewer.decision is not Decision.KEEP:
        assert further.decision is not Decision.KEEP
    if further.decision is Decision.KEEP:
        assert further == fewer
    assert heard(text, profile(language), sure).decision is Decision.KEEP or further.decision is not Decision.KEEP


@pytest.mark.parametrize("language", WORDS)
@given(data=st.data(), value=st.integers(1, 99))
def test_a_confused_word_is_never_kept_where_another_number_may_have_been_said(
    language: str, data: st.DataObject, value: int
) -> None:
    said, misheard = data.draw(PAIRS[language])
    words = spell(value, language)
    text = f"{WORDS[language][-2]} {spell(3, language)} {words}"
    plain = heard(text, profile(language))
    swapped = [
        heard(f"{WORDS[language][-2]} {spell(3, language)} {' '.join(changed)}", profile(language))
        for changed in _changed(words.split(), misheard, said)
    ]
    others = [one for one in swapped if _values(one) and _values(one) != _values(plain)]
    if others and said != misheard:
        assert heard(text, profile(language, (said, misheard))).decision is Decision.ASK


def _changed(words: list[str], old: str, new: str) -> list[list[str]]:
    return [[*words[:at], new, *words[at + 1 :]] for at, word in enumerate(words) if word == old]


def _values(reading: Reading) -> list[object]:
    return [(one.row, one.value) for one in reading.entries if isinstance(one, Given)]


def test_a_report_that_may_be_another_is_asked() -> None:
    plain, doubtful = (during_shift("row three is out", profile("en", *pairs)) for pairs in ((), (("eight", "three"),)))
    assert plain.decision is Decision.KEEP
    (entry,) = doubtful.entries
    assert isinstance(entry, Reported)
    assert entry.doubt is DoubtReason.LOW_CONFIDENCE


def test_the_last_turns_that_were_counted_are_remembered_and_no_more() -> None:
    profile = VoiceProfile(person="Ann", language="en")
    for number in range(MOST_TURNS + 10):
        profile = profile.with_corrections([("eight", "six")], f"u{number}")
    assert profile.pairs[0].corrected == MOST_TURNS + 10
    assert len(profile.turns) == len(set(profile.turns)) == MOST_TURNS
    for number in range(10, MOST_TURNS + 10):
        assert profile.with_corrections([("eight", "six")], f"u{number}") == profile
    assert VoiceProfile.model_validate(profile.model_dump()) == profile


def test_one_correction_may_be_a_change_of_mind_and_two_are_none() -> None:
    once = VoiceProfile(person="Ann", language="en").with_pairs([("eight", "six")], ConfusionSource.CORRECTED)
    assert once.pairs[0].corrected == 1
    assert once.confusions("six") == ()
    twice = once.with_pairs([("eight", "six")], ConfusionSource.CORRECTED)
    assert [(one.said, one.heard) for one in twice.confusions("row six")] == [("eight", "six")]


def test_an_unsure_reading_and_a_correction_are_two_hints() -> None:
    once = VoiceProfile(person="Ann", language="en").with_pairs([("eight", "six")], ConfusionSource.NEARLY)
    assert once.confusions("six") == ()
    assert len(once.with_pairs([("eight", "six")], ConfusionSource.CORRECTED).confusions("six")) == 1


def test_a_word_heard_as_itself_is_no_pair_and_there_is_an_end_of_pairs() -> None:
    assert profile("es", ("sí", "si")).pairs == ()
    names = [(f"w{chr(97 + one // 26)}{chr(97 + one % 26)}", "six") for one in range(26 * 26)]
    full = profile("en", *names)
    assert len(full.pairs) == MOST_PAIRS
    assert profile("en", *names, names[0]).pairs[0].read == 2


def test_a_pair_is_looked_up_by_whole_words() -> None:
    known = profile("en", ("eight", "six"))
    assert known.confusions("sixty") == ()
    assert len(known.confusions("Row Six, please")) == 1
