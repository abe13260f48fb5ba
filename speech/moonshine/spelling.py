"""How spoken words are written by a recogniser that learnt from print: "row three forty nine" is "Row 3, 49" there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_UNITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
_TEENS = ["ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
UNIT = {word: value for value, word in enumerate(_UNITS)} | {"oh": 0, "o": 0, "nought": 0}
SMALL = UNIT | {word: value for value, word in enumerate(_TEENS, 10)}
TENS = {word: value for value, word in enumerate(_TENS, 2)}
HUNDRED, POINT, AND = "hundred", "point", "and"
NUMBER_WORDS = frozenset((*SMALL, *TENS, HUNDRED, POINT))


@dataclass(frozen=True, slots=True)
class SpokenPart:
    """One number with its figures, or one other word."""

    words: tuple[str, ...]
    figures: str | None

    def spelt(self) -> str:
        """In words, as print has them: "forty-nine"."""
        text = " ".join(self.words)
        for tens in TENS:
            for unit in _UNITS[1:]:
                text = text.replace(f"{tens} {unit}", f"{tens}-{unit}") if tens in self.words else text
        return text

    def short(self) -> str:
        """In words up to nine, in figures from ten on."""
        return self.spelt() if self.figures is None or len(self.figures) == 1 else self.figures


def is_number(words: Sequence[str]) -> bool:
    """Whether a number is said among these words."""
    return not NUMBER_WORDS.isdisjoint(words)


def pieces(words: Sequence[str]) -> list[SpokenPart]:
    """The words with their numbers put together, each as long as it can be."""
    found, at = [], 0
    while at < len(words):
        end, figures = _number(words, at)
        end = max(end, at + 1)
        found.append(SpokenPart(tuple(words[at:end]), figures))
        at = end
    return found


def written(text: str) -> tuple[str, ...]:
    """The ways in which the words may be written, without what ends a sentence; at most seven, all different."""
    parts = pieces(text.split())
    plain, spelt = [" ".join(part.words) for part in parts], [part.spelt() for part in parts]
    ways = [" ".join(plain)]
    if any(part.figures for part in parts):
        figures = [part.figures or part.words[0] for part in parts]
        ways += [_listed(way, parts, gap) for way in (figures, spelt) for gap in (" ", ", ")]
        ways.append(_listed([part.short() for part in parts], parts, ", "))
        if all(part.figures and part.figures.isdigit() for part in parts[1:]):
            ways.append(_listed(figures, parts, ""))
    return tuple(dict.fromkeys(way[:1].upper() + way[1:] for way in ways))


def _listed(texts: Sequence[str], parts: Sequence[SpokenPart], gap: str) -> str:
    """The texts in a line, numbers that follow each other with a gap of their own."""
    line = texts[0]
    for at in range(1, len(texts)):
        both = parts[at - 1].figures is not None and parts[at].figures is not None
        line += (gap if both else " ") + texts[at]
    return line


def _number(words: Sequence[str], at: int) -> tuple[int, str | None]:
    """Where the number that begins here ends, and its figures; the place itself and None where none begins."""
    whole, end = _whole(words, at)
    decimals, after = _decimals(words, end)
    if decimals:
        return after, f"{whole or 0}.{decimals}"
    return (end, str(whole)) if whole is not None else (at, None)


def _whole(words: Sequence[str], at: int) -> tuple[int | None, int]:
    value, end = _pair(words, at)
    if not value or _word(words, end) != HUNDRED:
        return value, end
    value, end = value * 100, end + 1
    rest, after = _pair(words, end + 1 if _word(words, end) == AND else end)
    return (value + rest, after) if rest else (value, end)


def _pair(words: Sequence[str], at: int) -> tuple[int | None, int]:
    """A number below a hundred."""
    word = _word(words, at)
    if word in TENS:
        unit = UNIT.get(_word(words, at + 1), 0)
        return TENS[word] * 10 + unit, at + (2 if unit else 1)
    return (SMALL[word], at + 1) if word in SMALL else (None, at)


def _decimals(words: Sequence[str], at: int) -> tuple[str, int]:
    """The figures after a point that is said here, and where they end."""
    if _word(words, at) != POINT:
        return "", at
    figures, end = "", at + 1
    while (found := _pair(words, end))[0] is not None:
        figures, end = f"{figures}{found[0]}", found[1]
    return figures, end


def _word(words: Sequence[str], at: int) -> str:
    return words[at] if at < len(words) else ""
