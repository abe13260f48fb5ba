from __future__ import annotations

import re

import pytest

from engine.entries.grammar import grammar
from engine.entries.matching.numerals import readings, spell, spell_digits
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Range, SlotKind
from engine.messages import LANGUAGES, Given, Unclear, UnclearReason
from engine.quantities import Measure
from speech.decoding.grammar import automaton
from tests.helpers.entries import EXPECTATIONS, expecting, reading
from tests.helpers.sentences import Sentences

CASES = [(what, language) for what in EXPECTATIONS for language in LANGUAGES]


def text(what, language):
    return grammar(expecting(what, language), load_vocabulary(language))


@pytest.mark.parametrize(("what", "language"), CASES)
def test_all_that_may_be_said_is_understood(what, language):
    sentences = Sentences(text(what, language), seed=7)
    for _ in range(60):
        said = sentences.draw()
        for entry in reading(said, what, language).entries:
            assert not isinstance(entry, Unclear) or entry.reason in ALLOWED, (said, entry)


ALLOWED = {
    UnclearReason.OUT_OF_RANGE,  # a grammar knows how many digits a number has, not its range
    UnclearReason.NO_SUCH_SETTING,  # nor the notches of a dial
    UnclearReason.NO_VALUE,  # "row twenty two" on a planter of 24 rows may be row 20 with 2
    UnclearReason.WHICH_ROW,
}


@pytest.mark.parametrize(("what", "language"), CASES)
def test_every_rule_is_used_defined_and_made_of_small_words(what, language):
    whole = text(what, language)
    assert whole.startswith("#JSGF V1.0;\ngrammar rowhand;\npublic <utterance> = ")
    defined = re.findall(r"^(?:public )?<(\w+)> =", whole, re.MULTILINE)
    assert len(defined) == len(set(defined)) <= 140
    assert set(re.findall(r"<(\w+)>", whole)) == set(defined)
    words = re.findall(r"[^\s<>()\[\]|+=;]+", re.sub(r"<\w+>", " ", "\n".join(whole.splitlines()[2:])))
    assert all(
        re.fullmatch(r"[^\W\d_]+('[^\W\d_]+)*", word) and word == word.lower() for word in words if word != "public"
    )


@pytest.mark.parametrize("language", LANGUAGES)
def test_numbers_are_read_as_the_value_they_spell(language):
    vocabulary = load_vocabulary(language)
    sentences = Sentences(text("catches", language), seed=3)
    for _ in range(200):
        said = sentences.draw("number_4_2")
        found = readings(said, vocabulary)
        assert len({numeral.value for numeral in found}) == 1, (said, found)
        assert not any(numeral.unsaid for numeral in found), said


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("number", [0, 1, 7, 13, 30, 49.5, 49.25, 100, 106, 148.5, 250, 999, 1000, 1206, 1750, 1999.95])
def test_a_spelled_catch_may_be_said(language, number):
    may_be_said = automaton(text("catches", language))
    row = {"en": "row three", "es": "surco tres"}[language]
    for words in (spell(number, language), spell_digits(number, language)):
        assert may_be_said.accepts(f"{row} {words}".split()), words
        assert may_be_said.accepts(words.split()), words


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "row three forty nine point five"),
        ("en", "forty nine and a half grams"),
        ("en", "row one forty nine row two fifty one"),
        ("en", "one point seven five ounces"),
        ("en", "four nine point five"),
        ("en", "one oh six"),
        ("en", "nineteen and three quarters"),
        ("en", "row two was fifty two"),
        ("en", "scratch that"),
        ("en", "what's the target"),
        ("es", "surco tres cuarenta y nueve punto cinco"),
        ("es", "una onza y media"),
        ("es", "borra eso"),
    ],
)
def test_what_operators_say_may_be_said(language, said):
    assert automaton(text("catches", language)).accepts(said.split())


@pytest.mark.parametrize(
    "said", ["row nine forty nine", "forty nine five", "yes", "row two five inches", "forty nine blah", "row"]
)
def test_what_makes_no_sense_may_not_be_said(said):
    assert not automaton(text("catches", "en")).accepts(said.split())


@pytest.mark.parametrize(
    ("language", "what", "said"),
    [
        ("en", "catches", "rows three and four are eighty"),
        ("en", "catches", "rows two four and six eighty"),
        ("en", "catches", "one six zero"),
        ("en", "settings", "all at sixteen"),
        ("en", "settings", "all at one six"),
        ("en", "settings", "rows three to six are at twelve"),
        ("en", "settings", "set row two to fourteen"),
        ("es", "catches", "los surcos tres y cuatro son ochenta"),
        ("es", "catches", "cuatro nueve punto cinco"),
        ("es", "catches", "uno seis cero"),
        ("es", "settings", "todos en dieciséis"),
        ("es", "settings", "surcos tres a seis están en doce"),
        ("es", "settings", "pon el surco dos en catorce"),
    ],
)
def test_one_value_for_many_rows_may_be_said(language, what, said):
    assert automaton(text(what, language)).accepts(said.split())


def test_yes_and_no_belong_to_questions():
    assert automaton(text("confirm", "en")).accepts(["yes"])
    assert automaton(text("choose", "en")).accepts(["the", "first", "one"])


def test_a_name_is_heard_as_a_few_listed_words_or_digits():
    rules = Sentences(text("product", "en"), seed=1).rules
    assert [rule for rule in rules if rule.startswith("value")] == ["value_product"]


def test_a_narrow_range_gives_a_narrow_grammar():
    expectation = expecting("spacing", "en")
    narrow = expectation.slots[0].model_copy(update={"hard": Range(low=1, high=9, unit="in"), "units": ("in",)})
    whole = grammar(expectation.model_copy(update={"slots": (narrow,)}), load_vocabulary("en"))
    assert not automaton(whole).accepts(["thirty"])
    assert automaton(whole).accepts(["nine", "inches"])


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_sentence_of_values_gives_values(language):
    sentences = Sentences(text("catches", language), seed=11)
    read = [reading(sentences.draw("row_given"), "catches", language) for _ in range(100)]
    kinds = [entry for one in read for entry in one.entries]
    assert sum(isinstance(entry, Given) for entry in kinds) > 50
    assert expecting("catches", language).slots[0].kind is SlotKind.MEASURE


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", "row five stopped at ten past one"),
        ("en", "row five stopped at one ten a m"),
        ("en", "row five stopped twenty minutes ago"),
        ("en", "row five is high since half past twelve"),
        ("en", "lunch since one"),
        ("en", "planting again since twenty to two"),
        ("en", "refilled at one thirty row five stopped half an hour ago"),
        ("en", "end of shift at four in the morning"),
        ("es", "el surco cinco se paró a la una y diez"),
        ("es", "el surco cinco se paró hace veinte minutos"),
        ("es", "a comer desde las dos menos veinte"),
        ("es", "fin de turno a las cuatro de la madrugada"),
    ],
)
def test_when_it_happened_may_be_said(language, said):
    assert automaton(text("shift", language)).accepts(said.split())


@pytest.mark.parametrize(
    "said", ["row five stopped at thirteen past one", "row five stopped at twenty", "all good at one"]
)
def test_what_no_clock_shows_may_not_be_said(said):
    assert not automaton(text("shift", "en")).accepts(said.split())


ELSEWHERE = {"en": "four one seconds", "es": "cuarenta y un segundos"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_asked_elsewhere_may_be_said_and_is_bent_to_nothing_that_is_asked(language):
    expected = expecting("spacing", language)
    said = ELSEWHERE[language].split()
    assert not automaton(grammar(expected, load_vocabulary(language))).accepts(said)
    more = expected.model_copy(update={"elsewhere": ("s", "mph")})
    assert automaton(grammar(more, load_vocabulary(language))).accepts(said)


@pytest.mark.parametrize(
    ("said", "language"),
    [("what is in stock", "en"), ("target", "en"), ("qué hay en existencia", "es"), ("nine", "en")],
)
def test_beside_a_yes_or_a_no_little_else_may_be_said(said, language):
    usual = Range(low=55, high=100, unit="g")
    asked = expecting("confirm", language)
    catch = asked.slots[0].model_copy(update={"usual": usual, "default_unit": "g"})
    known = automaton(grammar(asked.model_copy(update={"slots": (catch,)}), load_vocabulary(language)))
    assert not known.accepts(said.split())
    assert automaton(text("catches", language)).accepts(said.split())


@pytest.mark.parametrize("said", ["emergency", "seventy nine", "row two seventy nine", "scratch that"])
def test_beside_a_yes_or_a_no_a_value_and_an_emergency_may_be_said(said):
    assert automaton(text("confirm", "en")).accepts(said.split())


@pytest.mark.parametrize(("step", "heard"), [(0.1, False), (1, False), (0.01, True)])
def test_no_more_decimals_are_heard_than_the_scale_shows(step, heard):
    expectation = expecting("catches", "en")
    catch = expectation.slots[0].model_copy(update={"step": Measure(value=step, unit="g"), "default_unit": "g"})
    fine = automaton(grammar(expectation.model_copy(update={"slots": (catch,)}), load_vocabulary("en")))
    assert fine.accepts(["row", "one", "forty", "nine", "point", "five"])
    assert fine.accepts(["row", "one", "forty", "nine", "point", "two", "five"]) is heard
