"""The sections of a vocabulary file: how numbers, rows, names, values, moments and answers are said, and the words by
which typed sentences are taken apart that fit no known pattern."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from engine.entries.phrases.phrase import Phrases, SomePhrases
from engine.entries.phrases.tokens import fold
from engine.frozen_model import FrozenModel

Folded = Annotated[frozenset[str], AfterValidator(lambda words: frozenset(map(fold, words)))]
"""Words as they are compared, in no order."""


class Part(FrozenModel):
    """A part of a vocabulary."""


class Spelling(Part):
    """How whole numbers are said: the rule with one way for each number below 1000, and the words for thousands."""

    below_thousand: str
    thousand: str
    one_thousand: str
    before_noun: dict[str, str]


class Numbers(Part):
    """Number words and how they combine. ``sizes`` are rules for up to 1, 2, 3 … digits, ``decimals`` for 1, 2, 3."""

    words: dict[str, dict[Annotated[str, Field(pattern=r"^\d+(\.\d+)?$")], Phrases]]
    rules: dict[str, Phrases]
    point: Phrases
    half: Phrases
    sizes: Annotated[tuple[str, ...], Field(min_length=4, max_length=4)]
    decimals: Annotated[tuple[str, ...], Field(min_length=3, max_length=3)]
    row: Phrases
    spelling: Spelling
    thousands_marks: tuple[str, ...]


class Dials(Part):
    numbered: Phrases
    lettered: Phrases
    signs: dict[str, tuple[str, ...]]


class TimePhrases(Part):
    """How a moment is said; ``starts`` and ``ends`` lead to the first and last ``within``. ``lengths`` are of so many
    minutes, ``halves`` those of a day."""

    clock: Phrases
    said: Phrases
    starts: Phrases
    ends: Phrases
    within: Phrases
    lengths: dict[Annotated[str, Field(pattern=r"^\d+$")], Phrases]
    halves: dict[Literal["am", "pm", "night"], Phrases]


class RowWords(Part):
    one: SomePhrases
    typed: Phrases
    several: SomePhrases
    listed: SomePhrases
    all: SomePhrases
    rest: SomePhrases
    loose: SomePhrases
    counted: Phrases


class NamePhrases(Part):
    """How a name is given: words that ``leads`` to it, that say there is none (``unknown``, alone) or to skip it
    (``skipped``, anywhere), and words of ``talk`` that make a text doubtful as a name. Small words may stand
    ``inside`` a name; ``tails`` trail behind it, and words ``against`` begin what it is told instead of. Of
    ``made_of`` names are often made, so that one may be heard that nobody told before. ``places`` lead to where
    something stands; words of a ``sentence`` stand in no name and in no description; ``dashes`` are how the mark
    between digits is said, with small words ``between``; what a letter is ``likened`` to tells it ("C as in
    Charlie"), and words say that a digit is ``repeated`` so often. ``choices`` stand in lists, though in no name.
    Words are ``abbreviated`` with a dot that ends no clause, ``titles`` stand before a person's name; ``whiles`` at
    the end say only until when, ``waits`` that the answer comes later, ``quits`` that all of it is given up, and
    ``questions`` begin one where a name is asked for.
    """

    leads: Phrases
    unknown: Phrases
    skipped: Phrases
    talk: Folded
    inside: Folded
    articles: Folded
    against: tuple[str, ...]
    tails: tuple[str, ...]
    kinds: Folded
    generic: Folded
    does: tuple[str, ...]
    made_of: tuple[str, ...]
    places: Phrases
    sentence: Folded
    dashes: Folded
    between: Folded
    likened: Phrases
    choices: Folded
    repeated: dict[Annotated[str, Field(pattern=r"^[2-4]$")], tuple[str, ...]]
    abbreviated: tuple[str, ...]
    titles: Folded
    whiles: tuple[str, ...]
    waits: Phrases
    quits: Phrases
    questions: Phrases


class ValuePhrases(Part):
    """The orders in which a row, a slot's name and a value may be said; ``apart`` with a comma between them."""

    rows: Phrases
    apart: Phrases
    corrected: Phrases
    named: Phrases
    renamed: Phrases
    bare: Phrases
    replaced: Phrases
    again: Phrases


class AnswerPhrases(Part):
    yes: Phrases
    no: Phrases
    neither: Phrases
    chosen: tuple[Phrases, ...]


class FreeWords(Part):
    """Words by which people's own sentences are taken apart.

    ``every`` and ``rest`` are ways to say rows, ``ordinals`` of one row (-1 is the last), ``owners`` endings by
    which a row's number is said to have something ("row 2's full"), ``determiners`` only point at one and words
    ``toward`` it stand before them, ``run_on`` words lead to rows that they belong with, ``relatives`` begin what
    is said of the rows right before. ``except_words`` and ``range_words`` stand between rows; ``weak_except`` are
    among them what means something else as well. ``on_words`` lead from a value to its row.

    ``repairs`` stand between what was said wrongly and what is right, ``told_before`` is the wrong number with the
    words that say it was told earlier, ``contrasts`` and ``concludes`` before what
    is meant after all, ``not_words`` before what is denied; ``unreal`` words tell of what is not so now,
    ``conditions`` of what would have to be, ``doubts`` of what is not sure. ``before_pronoun`` makes "one" no
    number. ``mentions`` are words for a slot by its name where what was told is put right, ``wrong`` says that it
    is not so, ``same_as`` leads to a row whose value is meant once more. ``other_units`` measure what no question
    asks for, ``small_parts`` are counted and no row's number stands before them, ``steps`` are those of a dial or a
    scale in words, ``no_catch`` says that nothing came, ``passes`` go past a question, and who is ``puzzled`` asks
    what it means. ``counts`` are words for a count by its digits, ``days`` stand behind a number of days,
    ``homophones`` behind a number may be its last digit; what is ``also`` said of rows is what was said of those
    before. ``short`` is written for other words, or for none, wherever no name is asked for.
    """

    every: Phrases
    rest: Phrases
    ordinals: dict[Annotated[str, Field(pattern=r"^-?\d+$")], Phrases]
    except_words: tuple[str, ...]
    after_except: tuple[str, ...]
    weak_except: tuple[str, ...]
    range_words: tuple[str, ...]
    on_words: tuple[str, ...]
    repairs: Phrases
    told_before: Phrases
    not_words: tuple[str, ...]
    unreal: Phrases
    conditions: Phrases
    contrasts: Phrases
    concludes: Phrases
    doubts: Phrases
    asking: tuple[str, ...]
    pronouns: tuple[str, ...]
    before_pronoun: tuple[str, ...]
    nouns: tuple[str, ...]
    bags: tuple[str, ...]
    counted: tuple[str, ...]
    vague: Phrases
    also: Folded
    homophones: Phrases
    bounds: tuple[str, ...]
    trouble: tuple[str, ...]
    lot: tuple[str, ...]
    single: tuple[str, ...]
    full: tuple[str, ...]
    spelled: dict[str, str]
    short: dict[str, str]
    whole: Phrases
    sets: dict[Literal["odd", "even", "first", "last", "middle", "outside", "inner"], Phrases]
    ranges: Phrases
    denies: tuple[str, ...]
    denies_all: tuple[str, ...]
    owners: tuple[str, ...]
    copulas: tuple[str, ...]
    per: tuple[str, ...]
    over: dict[str, Phrases]
    minute: Phrases
    compared: Phrases
    articles: tuple[str, ...]
    weak_units: tuple[str, ...]
    after_weak: tuple[str, ...]
    not_first: tuple[str, ...]
    not_all: tuple[str, ...]
    untimely: Phrases
    nothing: Phrases
    no_catch: Phrases
    other_units: tuple[str, ...]
    small_parts: tuple[str, ...]
    steps: dict[Annotated[str, Field(pattern=r"^\d+(\.\d+)?$")], Phrases]
    mentions: dict[str, Phrases]
    wrong: Phrases
    same_as: Phrases
    relatives: tuple[str, ...]
    run_on: tuple[str, ...]
    determiners: tuple[str, ...]
    toward: tuple[str, ...]
    puzzled: Phrases
    passes: Phrases
    counts: dict[Annotated[str, Field(pattern=r"^\d+$")], Phrases]
    days: Phrases


class Danger(Part):
    """Words of exposure, poisoning, fire and spills: ``signs`` and ``spills`` by themselves, ``beings`` beside
    ``harms``; ``innocent`` sayings only sound so."""

    signs: Phrases
    spills: Phrases
    beings: Phrases
    harms: Phrases
    innocent: Phrases
