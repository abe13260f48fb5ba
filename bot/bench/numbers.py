"""The plain numbers of a language, as sets of recordings have them: digit by digit, below a thousand, side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from engine.errors import InputError


@dataclass(frozen=True, slots=True)
class PlainNumbers:
    """``words`` are all that stand in numbers; ``forms`` are grammar rules, of which a set has the first that fits."""

    words: frozenset[str]
    forms: tuple[str, ...]


def _any(words: Iterable[str]) -> str:
    return f"({' | '.join(words)})"


def _english() -> PlainNumbers:
    small = "one two three four five six seven eight nine".split()  # noqa: SIM905
    teens = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()  # noqa: SIM905
    tens = "twenty thirty forty fifty sixty seventy eighty ninety".split()  # noqa: SIM905
    words = frozenset([*small, *teens, *tens, "zero", "oh", "and", "hundred", "thousand"])
    below = f"({_any(small)} | {_any(teens)} | {_any(tens)} [{_any(small)}])"
    digits = _any(sorted([*small, "zero", "oh"]))
    return PlainNumbers(
        words, (f"{digits}+", f"({below} | {_any(small)} hundred [[and] {below}])", f"{_any(sorted(words))}+")
    )


def _spanish() -> PlainNumbers:
    small = "uno dos tres cuatro cinco seis siete ocho nueve".split()  # noqa: SIM905
    teens = "diez once doce trece catorce quince dieciséis diecisiete dieciocho diecinueve veinte".split()  # noqa: SIM905
    twenties = "veintiuno veintidós veintitrés veinticuatro veinticinco veintiséis veintisiete veintiocho veintinueve"
    tens = "treinta cuarenta cincuenta sesenta setenta ochenta noventa".split()  # noqa: SIM905
    hundreds = "ciento doscientos trescientos cuatrocientos quinientos seiscientos setecientos ochocientos novecientos"
    fixed = [*teens, *twenties.split()]
    words = frozenset([*small, *fixed, *tens, *hundreds.split(), "cero", "y", "cien", "mil"])
    below = f"({_any(small)} | {_any(fixed)} | {_any(tens)} [y {_any(small)}])"
    digits = _any(sorted([*small, "cero"]))
    thousand = f"(cero | {below} | cien | mil | {_any(hundreds.split())} [{below}])"
    return PlainNumbers(words, (f"{digits}+", thousand, f"{_any(sorted(words))}+"))


_PLAIN = {"en": _english(), "es": _spanish()}


def plain_numbers(language: str) -> PlainNumbers:
    """The plain numbers of a language; InputError where nobody wrote them down."""
    if language not in _PLAIN:
        raise InputError(f"the plain numbers of {language!r} are not known to the bench")
    return _PLAIN[language]
