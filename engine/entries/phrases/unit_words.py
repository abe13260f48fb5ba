"""The words for units, which stand in the table of units: each a pattern that can be read, and of one unit alone."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from engine.data.definitions import Definition, Place, dialogs_directory
from engine.data.languages import Language
from engine.data.units import Dimension, UnitTable, gathered_units, read_units, unit_table
from engine.entries.phrases.pattern import Node, Rule, forms, openings, parse_pattern, walk
from engine.errors import DefinitionError

MOST_FORMS = 200
"""The ways to say one pattern; more are a slip of the pen."""


def prove_words(language: Language) -> None:
    """DefinitionError where a pattern of the table that comes with the package cannot be read."""
    for place, said in _placed(unit_table(), language):
        if wrong := _fault(said):
            raise gathered_units(dialogs_directory()).error(place, wrong, "mend the pattern")


def problems(directory: Path) -> tuple[DefinitionError, ...]:
    """All that is wrong with the table of units of a dialogs folder, its words with it."""
    try:
        table = read_units(directory)
    except DefinitionError as error:
        return (error,)
    definition = gathered_units(directory)
    faults = [
        definition.error(place, wrong, "mend the pattern")
        for language in definition.languages
        for place, said in _placed(table, language)
        if (wrong := _fault(said))
    ]
    return tuple(faults) or tuple(
        error for language in definition.languages for error in _shared(definition, table, language)
    )


def _placed(table: UnitTable, language: Language) -> Iterator[tuple[Place, str]]:
    for symbol, unit in table.units.items():
        for number, said in enumerate(unit.words.of(language)):
            yield ("units", symbol, "words", language, number), said


def _fault(said: str) -> str | None:
    """What is wrong with one pattern."""
    try:
        node: Node = parse_pattern(said)
    except ValueError as error:
        return str(error)
    if any(isinstance(part, Rule) for part in walk(node)):
        return f"{said!r}: a unit is words alone"
    if openings(node) is None:
        return f"{said!r}: a unit begins with a word"
    if next(islice(forms(node), MOST_FORMS, None), None) is not None:
        return f"{said!r} can be said in more than {MOST_FORMS} ways"
    return None


def _shared(definition: Definition, table: UnitTable, language: Language) -> Iterator[DefinitionError]:
    """Words that mean two units of the same dimension."""
    known: dict[tuple[Dimension, tuple[str, ...]], str] = {}
    for place, said in _placed(table, language):
        symbol = str(place[1])
        for form in map(tuple, forms(parse_pattern(said))):
            if (other := known.setdefault((table.units[symbol].dimension, form), symbol)) != symbol:
                wrong = f"{' '.join(form)!r} already means {other}"
                yield definition.error(place, wrong, "use other words for one of them")
