"""A reply as it is said aloud: numbers with a unit digit by digit, so that fifteen is never heard as fifty."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

from engine.data.forms import load_forms
from engine.data.units import Unit
from engine.entries.matching.numerals import LARGEST_SPELLED, spell, spell_digits
from engine.messages import Language
from engine.quantities import UNITS

_TELEPHONE = re.compile(r"(?<![\w.])\d+(?:-\d+){2,}(?!\w)")
_FOR_THE_EYE = re.compile(r"\s*\([^()]*\)")
_CLOCK = re.compile(r"(?<![\w.:])(\d{1,2}):(\d{2})(?![\w:])")
SURE_BELOW = 13
"""Numbers under this have no sound-alike (thirteen is the first): they are said whole."""


class Unspoken(str):
    """A line of a reply that is shown and not said."""

    __slots__ = ()


class Unshown(str):
    """A line of a reply that is said and not shown."""

    __slots__ = ()


def shown_text(lines: Iterable[str]) -> str:
    """What is shown of the lines of a reply."""
    return "\n".join(line for line in lines if line and not isinstance(line, Unshown))


def spoken_text(lines: Iterable[str], language: Language) -> str:
    """What is said of the lines of a reply."""
    return aloud("\n".join(line for line in lines if line and not isinstance(line, Unspoken)), language)


def aloud(text: str, language: Language) -> str:
    """The text with every number and unit in words, the way the operator can't mishear them; one that is too large to
    be said stays as it is written. What stands in brackets is for the eye: aloud, the rest is on request."""
    text = "\n".join(line for line in _FOR_THE_EYE.sub("", text).split("\n") if line.strip())
    symbols = _symbols(language)
    units = "|".join(re.escape(symbol) for symbol in sorted(symbols, key=len, reverse=True))
    amounts = re.compile(rf"(?<![\w.])(\d+(?:\.\d+)?)(?: ?({units})(?![\w/]))?(?:-(\d+))?(?!\w)")
    text = _TELEPHONE.sub(lambda match: _each_digit(match[0], language), text)
    text = _CLOCK.sub(lambda match: _hour(match, language), text)
    return amounts.sub(lambda match: _amount(match, symbols, language), text)


def _hour(match: re.Match[str], language: Language) -> str:
    hour, minute, clock = int(match[1]), int(match[2]), load_forms(language).clock
    said = clock.inflected(spell(hour, language))
    if minute == 0:
        return f"{said} {clock.sharp}"
    below = f"{clock.below_ten} " if minute < 10 else ""
    return f"{said} {below}{spell(minute, language)}"


def _each_digit(number: str, language: Language) -> str:
    return " ".join(spell(int(digit), language) for digit in number if digit.isdigit())


def _amount(match: re.Match[str], symbols: Mapping[str, Unit], language: Language) -> str:
    number, unit, last = match.groups()
    if any(float(one) > LARGEST_SPELLED for one in (number, last) if one is not None):
        return match[0]
    if last is not None:
        return f"{spell(int(number), language)} {load_forms(language).through} {spell(int(last), language)}"
    if unit is None:
        return _digits(number, language) if "." in number or len(number) > 2 else spell(int(number), language)
    whole = "." not in number and int(number) < SURE_BELOW
    said = spell(int(number), language) if whole else _digits(number, language)
    words = symbols[unit]
    if number == "1" and words.one:
        return words.one.of(language)
    return f"{said} {words.said.of(language)}"


def _digits(number: str, language: Language) -> str:
    """As written: 39.0 loses its zero, which says nothing to an ear."""
    return spell_digits(float(number), language)


@cache
def _symbols(language: Language) -> dict[str, Unit]:
    """The unit of everything that is written for one."""
    single = {unit.single.of(language): unit for unit in UNITS.values() if unit.single}
    return single | {unit.shown.of(language): unit for unit in UNITS.values()}
