"""What the schema of a vocabulary cannot see: phrases that take what they cannot use, or mean two things at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import chain, islice
from pathlib import Path

from engine.data.definitions import Definition, Place
from engine.data.gathering import languages_here
from engine.entries.phrases.pattern import Node, Word, forms, walk
from engine.entries.phrases.phrase import Phrase, placed, rules_of
from engine.entries.phrases.placeholders import TAKES, Takes
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import FILE, Vocabulary, load_vocabulary, vocabulary_definition
from engine.errors import DefinitionError
from engine.messages import Language

MOST_FORMS = 20_000
Meant = tuple[Place, Phrase, str]
"""A phrase at its place, and what it means."""


def problems(directory: Path) -> tuple[DefinitionError, ...]:
    """All that is wrong with the vocabularies of a folder of dialogs; languages are compared where each is sound."""
    read: dict[Language, tuple[Definition, Vocabulary]] = {}
    found: list[DefinitionError] = []
    for language in languages_here(directory):
        try:
            vocabulary = load_vocabulary(language, directory)
            read[language] = (vocabulary_definition(language, directory), vocabulary)
        except DefinitionError as error:
            found.append(error)
    for definition, vocabulary in read.values():
        found += _proofread(definition, vocabulary)
    if not found:
        found += chain.from_iterable(_compare(read, language) for language in read)
    return tuple(found)


def _proofread(definition: Definition, vocabulary: Vocabulary) -> Iterator[DefinitionError]:
    for place, one in placed(vocabulary):
        if len(_ways(one.node)) > MOST_FORMS:
            yield definition.error(place, f"can be said in more than {MOST_FORMS} ways", "make several phrases of it")
            return
    yield from _placeholder_faults(definition, vocabulary)
    for group in _groups(vocabulary):
        yield from _shared(definition, group)
    yield from _unsaid_pairs(definition, vocabulary)


@lru_cache(maxsize=4096)
def _ways(node: Node) -> tuple[tuple[str, ...], ...]:
    """The ways to say a pattern, one more than are allowed at most."""
    return tuple(islice(forms(node), MOST_FORMS + 1))


# ---------------------------------------------------------------- what a phrase takes


def _placeholder_faults(definition: Definition, vocabulary: Vocabulary) -> Iterator[DefinitionError]:
    for section, takes in TAKES.items():
        for place, one in placed(_part(vocabulary, section), section):
            if strange := sorted(rules_of(one) - takes.may):
                yield definition.error(place, f"{one.say!r}: <{strange[0]}> means nothing here", takes.mend)
            elif (lacking := _lacking(one, takes)) is not None:
                yield definition.error(place, f"{one.say!r} can be said without {lacking}", "add it to every way")


def _lacking(one: Phrase, takes: Takes) -> str | None:
    """The first thing that a way to say a phrase leaves out although nothing can be done without it."""
    said = [set(form) for form in _ways(one.node)]
    for needed in takes.must:
        if any(not needed & {key.strip("<>") for key in form} for form in said):
            return " or ".join(f"<{name}>" for name in sorted(needed))
    return None


def _part(vocabulary: Vocabulary, section: Place) -> object:
    part: object = vocabulary
    for name in section:
        part = part[name] if isinstance(part, Mapping) else getattr(part, str(name))
    return part


# ---------------------------------------------------------------- words that mean two things


def _groups(vocabulary: Vocabulary) -> Iterator[list[Meant]]:
    """Phrases that are looked for at the same time, with what each means."""
    whole = ("commands", "languages", "topics", "reports", "answers")
    yield [(place, one, _named(place)) for part in whole for place, one in placed(_part(vocabulary, (part,)), (part,))]
    for name, table in vocabulary.numbers.words.items():
        section = ("numbers", "words", name)
        yield [(place, one, str(place[3])) for place, one in placed(table, section)]
    for name in ("lengths", "halves"):
        times = placed(_part(vocabulary, ("times", name)), ("times", name))
        yield [(place, one, str(place[2])) for place, one in times]


def _named(place: Place) -> str:
    """What an answer, a command, a question or a report means: its key, and of the answers to choose from which."""
    return ".".join(str(part) for part in place[: 3 if place[:2] == ("answers", "chosen") else 2])


def _shared(definition: Definition, group: list[Meant]) -> Iterator[DefinitionError]:
    """The first way to say each phrase that already means something else."""
    known: dict[tuple[str, ...], str] = {}
    for place, one, meaning in group:
        said = [tuple(_ROWS.get(key, key) for key in form) for form in _ways(one.node)]
        if taken := next((form for form in said if known.get(form, meaning) != meaning), None):
            wrong = f"{' '.join(taken)!r} already means {known[taken]}"
            yield definition.error(place, wrong, "use other words for one of them")
        known |= {form: meaning for form in said if form not in known}


_ROWS = {"<row>": "<some>", "<rows>": "<some>"}


def _unsaid_pairs(definition: Definition, vocabulary: Vocabulary) -> Iterator[DefinitionError]:
    """Words that sound alike and are said nowhere guard nothing."""
    phrases = chain(placed(vocabulary), placed(vocabulary.units))
    said = {part.key for _, one in phrases for part in walk(one.node) if isinstance(part, Word)}
    for number, pair in enumerate(vocabulary.sound_alikes):
        if lost := [word for word in pair if fold(word) not in said]:
            mend = "write it as in the phrases"
            yield definition.error(("sound_alikes", number), f"{lost[0]!r} is said nowhere", mend)


# ---------------------------------------------------------------- both languages


def _compare(read: Mapping[Language, tuple[Definition, Vocabulary]], language: Language) -> Iterator[DefinitionError]:
    """What can be told in another language and not in this one."""
    definition, vocabulary = read[language]
    for other, (_, theirs) in read.items():
        for section in TAKES:
            if section[0] not in ("commands", "topics", "reports"):
                continue
            lacking = _taken(theirs, section) - _taken(vocabulary, section)
            for name in sorted(lacking):
                wrong = f"no phrase takes <{name}>, as in {other}/{FILE}"
                yield definition.error(section, wrong, "add one, or take it out there")
        if len(theirs.answers.chosen) > len(vocabulary.answers.chosen):
            yield definition.error(("answers", "chosen"), f"has fewer answers than {other}/{FILE}", "add the others")


_SAME = {"rows": "row", "some": "row", "bags": "number"}


def _taken(vocabulary: Vocabulary, section: Place) -> set[str]:
    names = {name for _, one in placed(_part(vocabulary, section)) for name in rules_of(one)}
    return {_SAME.get(name, name) for name in names}
