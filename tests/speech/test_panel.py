"""The panel: readings of several decodes weighed together, on made-up opinions and on real notes."""

import math
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo.recording import FOLDER
from speech import recognizer_choice
from speech.audio import AudioClip, decode
from speech.errors import GrammarError, ModelMissing
from speech.panel.ensemble import Panel, _certainties
from speech.panel.hypothesis import Hypothesis, TimedWord, distinct, trimmed, whole
from speech.panel.synonyms import load_synonyms
from speech.panel.weights import Weights, evidence, key, load_weights, posterior
from speech.transcript import SoundTrouble
from tests.speech.test_recognition import GRAMMAR, NOTES, words

SAME = load_synonyms("en")
PLAIN = Weights(first=1.0, second=1.0, first_warped=1.0, second_warped=1.0, unanimous=0.0, nothing=0.0)


def said(text: str, score: float) -> Hypothesis:
    return Hypothesis(tuple(TimedWord(word, at * 0.3, at * 0.3 + 0.2) for at, word in enumerate(text.split())), score)


def opinions(*decodes: dict[str, float]) -> list[list[Hypothesis]]:
    return [[said(text, score) for text, score in one.items()] for one in decodes]


def shares(first, second, weights=PLAIN):
    return posterior(evidence(opinions(*first), opinions(*second), SAME), weights)


@given(
    st.dictionaries(st.sampled_from(["one", "nine", "five", "fifty", "one nine"]), st.floats(-50, 300), min_size=1),
    st.dictionaries(st.sampled_from(["one", "nine", "five", "fifty", "one nine"]), st.floats(-50, 300), min_size=1),
    st.floats(-500, 500),
)
def test_shares_are_a_distribution_that_no_constant_moves(first, second, constant):
    plain = shares([first], [second])
    assert math.isclose(sum(plain.values()), 1)
    moved = shares([{text: score + constant for text, score in first.items()}], [second])
    assert all(math.isclose(moved[reading], share, abs_tol=1e-6) for reading, share in plain.items())


def test_what_both_models_hold_likelier_wins():
    found = shares([{"five": 10, "nine": 9.5}], [{"nine": 20, "five": 17}])
    assert max(found, key=found.__getitem__) == ("nine",)


def test_a_reading_that_one_model_does_not_hold_possible_is_far_behind():
    found = shares([{"five": 10, "nine": 9.9}], [{"nine": 10}])
    assert found[("five",)] < 0.02


def test_agreement_of_all_decodes_counts_for_itself():
    weights = Weights(1.0, 1.0, 1.0, 1.0, unanimous=2.0, nothing=0.0)
    agreed = [{"five": 10, "nine": 9}], [{"five": 10, "nine": 9}]
    torn = [{"five": 10, "nine": 9}], [{"nine": 10, "five": 9}]
    assert shares(*agreed, weights)[("five",)] > shares(*agreed)[("five",)]
    assert shares(*torn, weights) == shares(*torn)


def test_nothing_is_always_possible():
    assert () in shares([{"five": 10}], [{"five": 10}])


def test_words_are_compared_by_what_they_say():
    assert key(("one", "hundred", "and", "oh"), SAME) == ("one", "hundred", "zero")


def test_a_word_is_as_sure_as_the_readings_that_have_it_in_its_place():
    certain = _certainties(("row", "five", "forty"), {("row", "five", "forty"): 0.6, ("row", "nine", "forty"): 0.4})
    assert certain == pytest.approx([1.0, 0.6, 1.0])


def test_unknown_speech_at_the_ends_is_dropped_and_repeated_readings_are_one():
    assert [word.text for word in trimmed(said("[unk] row one [unk]", 1.0).words)] == ["row", "one"]
    found = distinct([said("[unk] one", 5.0), said("one", 7.0), said("two", 6.0), said("[unk]", 1.0)], lambda _: True)
    assert [(one.texts, one.score) for one in found] == [(("one",), 7.0), (("two",), 6.0), ((), 1.0)]


def test_parts_of_a_clip_join_with_one_part_changed_at_a_time():
    joined = whole([opinions({"row one": 5, "row nine": 4})[0], opinions({"forty": 3, "four": 1})[0]])
    assert [" ".join(one.texts) for one in joined] == ["row one forty", "row nine forty", "row one four"]
    assert [one.score for one in joined] == [8, 7, 6]


def test_a_weight_missing_or_unknown_is_refused(tmp_path):
    names = count()
    for text in ("first: 1\n", "first: 1\nlast: 2\n"):
        file = tmp_path / f"{next(names)}.yaml"
        file.write_text(text)
        with pytest.raises(TypeError):
            load_weights(file)


@pytest.fixture(scope="module")
def panel():
    return recognizer_choice.choose("en")


def test_the_panel_is_what_hears_english_out_of_the_box(panel):
    assert isinstance(panel, Panel)
    with pytest.raises(ModelMissing):
        recognizer_choice.choose("fr", "panel")


@pytest.mark.parametrize("note", NOTES, ids=lambda note: note.file)
def test_every_note_is_understood(panel, note):
    heard = panel.transcribe(decode(FOLDER / f"{note.file}.ogg"), note.language, GRAMMAR)
    assert heard.text == words(note.text)
    assert heard.engine == "panel"
    assert 0 < heard.confidence <= 1
    assert 0 <= heard.talk <= 1 - heard.confidence + 1e-9


def test_silence_is_nothing_and_a_bad_grammar_is_refused(panel):
    silence = AudioClip(decode(FOLDER / f"{NOTES[0].file}.ogg").samples * 0)
    heard = panel.transcribe(silence, "en", GRAMMAR)
    assert (heard.words, heard.trouble) == ((), SoundTrouble.SILENCE)
    with pytest.raises(GrammarError):
        panel.transcribe(decode(FOLDER / f"{NOTES[0].file}.ogg"), "en", "no grammar")
