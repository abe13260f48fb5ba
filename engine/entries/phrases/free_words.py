"""Words by which a typed sentence is read that fits no known pattern, as data: parts of a vocabulary."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from engine.entries.phrases.number_words import Part
from engine.entries.phrases.phrase import Phrases


class Loose(Part):
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
    also: tuple[str, ...]
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
