from __future__ import annotations

import shutil

import pytest

from engine.data.definitions import dialogs_directory
from engine.entries.acceptance import FILE, load_acceptance
from engine.entries.phrases.pattern import parse_pattern
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.errors import DefinitionError
from engine.messages import LANGUAGES, Asked, Commanded, Given
from engine.quantities import UNITS, Measure
from tests.helpers.entries import expecting, reading, slots, utterance


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_first_phrase_of_every_command_means_that_command(language):
    for command, phrases in load_vocabulary(language).commands.items():
        plain = [phrase.say for phrase in phrases if not set("<[(|") & set(phrase.say)]
        assert len(plain) >= 2, command
        for say in plain:
            for when in ("catches", "nothing", "product"):
                assert reading(say, when, language).entries == (Commanded(command=command),), (say, when)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_plain_question_means_its_topic(language):
    for topic, phrases in load_vocabulary(language).topics.items():
        for say in (phrase.say for phrase in phrases if not set("<[(|") & set(phrase.say)):
            assert reading(say, "catches", language).entries == (Asked(topic=topic),), say


def in_unit(text, symbol, language):
    slot = slots(language)["course"]
    slot = slot.model_copy(update={"dimensions": (UNITS[symbol].dimension,), "units": (symbol,), "hard": None})
    expectation = expecting("course", language).model_copy(update={"slots": (slot,)})
    return read(utterance(text, language), expectation, load_vocabulary(language)).entries


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("symbol", [symbol for symbol in UNITS if symbol != "1"])
def test_every_unit_is_known_by_its_words_its_symbol_and_its_spellings(language, symbol):
    words = [phrase.say for phrase in load_vocabulary(language).units[symbol] if "(" not in phrase.say]
    for said in (*words, symbol, *UNITS[symbol].spellings()):
        (entry,) = in_unit(f"12.5 {said}", symbol, language)
        assert isinstance(entry, Given), said
        assert entry.value == Measure(value=12.5, unit=symbol)


def test_both_languages_have_the_same_keys():
    english, spanish = (load_vocabulary(language) for language in LANGUAGES)
    assert set(english.units) == set(spanish.units) == set(UNITS)
    assert set(english.commands) == set(spanish.commands)
    assert set(english.topics) == set(spanish.topics)


MISTAKES = [
    ("  resume: [resume,", "  resume2: [resume,", "resume2"),
    ("language: en", "language: en\nlanguage: en", "twice"),
    ("fillers: [uh,", "fillers: [uh, cm,", "is a filler"),
    ("language: en", "language: de", "is de"),
    ("language: en", "language: es", "is es"),
    ("joins: [and,", "joins: [<andd>,", "<andd> is not defined"),
    ("joins: [and,", "joins: ['[then',", "not closed"),
    ("joins: [and,", "joins: [um,", "filler"),
    ("joins: [and,", "spare: [x]\njoins: [and,", "spare"),
]


@pytest.mark.parametrize(("right", "wrong", "told"), MISTAKES)
def test_a_mistake_is_refused_with_its_file_and_mend(tmp_path, right, wrong, told):
    source = (dialogs_directory() / "en" / "vocabulary.yaml").read_text(encoding="utf-8")
    assert right in source
    (tmp_path / "en").mkdir()
    (tmp_path / "en" / "vocabulary.yaml").write_text(source.replace(right, wrong, 1), encoding="utf-8")
    with pytest.raises(DefinitionError) as caught:
        load_vocabulary("en", tmp_path)
    assert caught.value.file == "en/vocabulary.yaml"
    assert told in str(caught.value)
    assert caught.value.mend


def test_a_missing_file_is_a_definition_error(tmp_path):
    with pytest.raises(DefinitionError, match="cannot be read"):
        load_vocabulary("es", tmp_path)


def test_no_and_numbers_stay_words():
    no = load_vocabulary("en").answers.no
    assert no[0].say == "no"


@pytest.mark.parametrize("text", ["(one", "one)", "[]", "+", "one | (", ""])
def test_a_broken_pattern_is_refused(text):
    with pytest.raises(ValueError):
        parse_pattern(text)


def test_limits_out_of_order_are_refused(tmp_path):
    path = tmp_path / "thresholds.yaml"
    shutil.copy(FILE, path)
    assert load_acceptance(path) == load_acceptance()
    other = tmp_path / "other.yaml"
    other.write_text(path.read_text().replace("value_heard: 0.35", "value_heard: 0.95"))
    with pytest.raises(DefinitionError, match="value_heard"):
        load_acceptance(other)
