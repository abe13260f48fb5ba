"""What the schema of a vocabulary cannot see: phrases that take what they cannot use, or mean two things at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, islice
from pathlib import Path

from engine.data.definitions import Definition, Place
from engine.data.gathering import languages_here
from engine.entries.phrases.pattern import Node, forms
from engine.entries.phrases.phrase import Phrase, placed
from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import FILE, Vocabulary, load_vocabulary, vocabulary_definition
from engine.errors import DefinitionError
from engine.messages import Command, Language, Report, Topic

MOST_FORMS = 20_000
Meant = tuple[Place, Phrase, str]
"""A phrase at its place, and what it means."""
_SAME_ROWS = {"<row>": "<some>", "<rows>": "<some>"}
_SAME = {"rows": "row", "some": "row", "bags": "number"}


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


@dataclass(frozen=True)
class Takes:
    """``may``: rules that mean something. ``must``: of each of these sets, every way to say a phrase holds one."""

    may: frozenset[str]
    must: tuple[frozenset[str], ...] = ()

    @property
    def mend(self) -> str:
        names = ", ".join(f"<{name}>" for name in sorted(self.may))
        return f"leave it out, or use {names}" if names else "write it in words"


def _takes(may: str = "", *must: str) -> Takes:
    needed = tuple(frozenset(one.split()) for one in must)
    return Takes(frozenset(may.split()).union(*needed), needed)


_ROWS = "row rows some"
_ANY_ROWS = "row rows typed_row"
_CLOCK = "hour typed_clock"
_AROUND_CLOCK = "minute past_hour to_hour half_day"
_REPORTS: Mapping[Report, Takes] = {
    Report.GOOD: _takes(_ROWS),
    Report.HIGH: _takes("", _ROWS),
    Report.STOPPED: _takes("", _ROWS),
    Report.RUNS: _takes("", _ROWS),
    Report.LEFT: _takes(_ROWS, "weight"),
    Report.LEVEL: _takes(_ROWS, "share"),
    Report.REFILLED: _takes(f"{_ROWS} weight number bags each together to_mark on_top topped lot_number"),
    Report.DROPPING: _takes(_ROWS),
    Report.LOOKS: _takes("", "area span length refills_only once_between"),
    Report.DECIDED: _takes("called"),
    Report.CAUGHT: _takes("", _ROWS, "weight"),
    Report.PLANTED: _takes("", "area"),
    Report.REMAINING: _takes("", "area number"),
    Report.HANDED_OVER: _takes("called"),
    Report.SPEED: _takes("", "pace"),
    Report.RATE: _takes("", "dose"),
    Report.PRODUCT: _takes("called"),
    Report.LOT: _takes("", "lot_number"),
    Report.FIELD: _takes("called area"),
    Report.SNOOZED: _takes("span number length clock"),
}
_TOPICS: Mapping[Topic, Takes] = {
    Topic.HOW_MUCH: _takes("", "area"),
    Topic.LAST_CATCH: _takes("row"),
    Topic.SETTING: _takes("row"),
    Topic.WHY: _takes("row"),
    Topic.VERDICT: _takes("row"),
    Topic.HISTORY: _takes("row"),
    Topic.MY_VALUES: _takes("name"),
}
_COMMANDS: Mapping[Command, Takes] = {Command.SKIP: _takes("row"), Command.SCRATCH: _takes("row")}

_WORDS_ALONE = (
    "joins, numbers words, rows all, rows rest, rows counted, link, past, lead, languages, naming leads, "
    "naming unknown, naming skipped, naming waits, naming quits, naming questions, each, together, to_mark, "
    "on_top, topped, refills_only, once_between, ways, stood, times starts, times ends, times lengths, "
    "times halves, answers"
)

TAKES: Mapping[Place, Takes] = {
    **{tuple(place.split()): _takes() for place in _WORDS_ALONE.split(", ")},
    ("amounts",): _takes("measured_in half", "number whole"),
    ("levels",): _takes("", "number"),
    ("rows", "one"): _takes("", "row_number"),
    ("rows", "typed"): _takes("", "written"),
    ("rows", "several"): _takes("", "row_number"),
    ("rows", "listed"): _takes("", "row_number"),
    ("rows", "loose"): _takes("", "row_number"),
    ("given", "rows"): _takes("name link", _ANY_ROWS, "value"),
    ("given", "apart"): _takes("name link", _ANY_ROWS, "value"),
    ("given", "corrected"): _takes("name link past lead", _ANY_ROWS, "value"),
    ("given", "named"): _takes("link", "name", "value"),
    ("given", "renamed"): _takes("link past lead", "name", "value"),
    ("given", "bare"): _takes("link", "value"),
    ("given", "replaced"): _takes("link past lead", "value"),
    ("given", "again"): _takes("lead", "row name"),
    **{
        ("commands", command): _COMMANDS.get(command, _takes())
        for command in Command
        if command is not Command.LANGUAGE
    },
    **{("topics", topic): _TOPICS.get(topic, _takes()) for topic in Topic},
    **{("reports", report): _REPORTS.get(report, _takes()) for report in Report},
    ("left_out",): _takes("called", _ROWS),
    ("taken_in",): _takes("", _ROWS),
    ("repaired",): _takes("", _ROWS),
    ("not_repaired",): _takes("", _ROWS),
    ("was_out",): _takes("", _ROWS),
    ("lent",): _takes("link", "row rows rows_rest", "number"),
    ("times", "clock"): _takes(f"{_AROUND_CLOCK} clock_named", f"{_CLOCK} clock_named"),
    ("times", "said"): _takes(_AROUND_CLOCK, f"clock span length {_CLOCK}"),
    ("times", "within"): _takes(_AROUND_CLOCK, f"clock {_CLOCK}"),
    ("dials", "numbered"): _takes("", "number"),
    ("dials", "lettered"): _takes("", "letter"),
}
"""By the place of the part in the file; what is not named here is checked by the rules it names alone."""


def _placeholder_faults(definition: Definition, vocabulary: Vocabulary) -> Iterator[DefinitionError]:
    for section, takes in TAKES.items():
        for place, one in placed(_part(vocabulary, section), section):
            if strange := sorted(one.rules - takes.may):
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
        said = [tuple(_SAME_ROWS.get(key, key) for key in form) for form in _ways(one.node)]
        if taken := next((form for form in said if known.get(form, meaning) != meaning), None):
            wrong = f"{' '.join(taken)!r} already means {known[taken]}"
            yield definition.error(place, wrong, "use other words for one of them")
        known |= {form: meaning for form in said if form not in known}


def _unsaid_pairs(definition: Definition, vocabulary: Vocabulary) -> Iterator[DefinitionError]:
    """Words that sound alike and are said nowhere guard nothing."""
    phrases = chain(placed(vocabulary), placed(vocabulary.units))
    said = {word for _, one in phrases for word in one.words}
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


def _taken(vocabulary: Vocabulary, section: Place) -> set[str]:
    names = {name for _, one in placed(_part(vocabulary, section)) for name in one.rules}
    return {_SAME.get(name, name) for name in names}
