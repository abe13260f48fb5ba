"""Names that were given before: how they are said, and the spelling under which they are kept."""

from __future__ import annotations

from collections.abc import Iterable

from engine.entries.matching.numerals import spell
from engine.entries.phrases.pattern import Node, phrase
from engine.entries.phrases.tokens import fold
from engine.expectation import Expectation
from engine.messages import Entry, Given, Language, Report, Reported


def sayings(names: Iterable[str], language: Language) -> list[Node]:
    """A pattern for each name: its words, or its digits one by one."""
    return [phrase(said) for name in names if (said := _said(name, language))]


def _said(name: str, language: Language) -> str:
    if name.isascii() and name.isdigit():
        return " ".join(spell(int(digit), language) for digit in name)
    return name.lower()


def known(text: str, names: Iterable[str]) -> str | None:
    """The name that a text is, as it was given before; None where it is none of them."""
    wanted = _plain(text)
    return next((name for name in names if _plain(name) == wanted), None)


def as_before(entry: Entry, expectation: Expectation) -> Entry:
    """The entry with its name spelled as it was the first time: "north field" is North field."""
    if not isinstance(entry, Given | Reported) or not isinstance(entry.value, str):
        return entry
    name = known(entry.value, names_before(entry, expectation))
    return entry if name is None else entry.model_copy(update={"value": name})


def names_before(entry: Given | Reported, expectation: Expectation) -> tuple[str, ...]:
    """The names that were given before for the same slot, or with the same report."""
    if isinstance(entry, Reported):
        return expectation.names.get(entry.report, ())
    slots = (*expectation.slots, *expectation.known)
    return next((slot.names for slot in slots if slot.name == entry.slot), ())


def named_alone(text: str, report: Report, expectation: Expectation) -> Reported | None:
    """A known name said alone, after what it belongs to was told."""
    name = known(text, expectation.names.get(report, ()))
    return None if name is None else Reported(report=report, value=name, said=text)


def _plain(name: str) -> str:
    return " ".join(fold(name).split())
