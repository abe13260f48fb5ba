"""Numbers as they were said: digits with a point, and whether the words left open what they mean."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import NamedTuple, assert_never

from engine.entries.phrases.phrase import Meaning


class Numeral(NamedTuple):
    """A number in digits, such as 49.5 or 05. ``unsaid``: whether its decimals were said is a guess, so it is asked."""

    digits: str
    unsaid: bool = False

    @property
    def value(self) -> Decimal:
        return Decimal(self.digits)


MOST_DIGITS = 12
_DENOMINATORS = frozenset({"2", "4", "5", "8", "10", "16"})
_WHOLE = re.compile(r"[0-9]+")
_POINT = re.compile(r"([0-9]*)\.([0-9]+)")
_COMMA = re.compile(r"([0-9]*),([0-9]+)")
_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:([.,])[0-9]{3})(?:\1[0-9]{3})*(?:(?!\1)[.,][0-9]+)?")


def combine(means: Meaning, parts: Sequence[Numeral]) -> list[Numeral]:
    """The numbers that these parts make together; none where they make no number."""
    made = _combined(means, [part.digits for part in parts])
    asked = len(made) > 1 or any(part.unsaid for part in parts)
    return [Numeral(digits, asked) for digits in made if _is_number(digits)]


def _combined(means: Meaning, parts: list[str]) -> list[str]:
    match means:
        case Meaning.SAME:
            return parts[:1]
        case Meaning.SUM:
            return [_added(parts)]
        case Meaning.SCALE:
            return [_added([str(Decimal(parts[0]) * Decimal(parts[1])), *parts[2:]])]
        case Meaning.JOIN:
            return ["".join(parts)]
        case Meaning.POINT:
            return [f"{parts[0]}.{''.join(parts[1:])}"]
        case Meaning.PART:
            return [f"0.{''.join(parts)}"]
        case Meaning.UNSAID:
            return [f"{parts[0]}.{''.join(parts[1:])}", "".join(parts)]
        case Meaning.UNSAID_LAST:
            return [f"{''.join(parts[:-1])}.{parts[-1]}", "".join(parts)]
        case _:
            assert_never(means)


def _added(parts: list[str]) -> str:
    return f"{sum((Decimal(part) for part in parts), Decimal(0)):f}"


def _is_number(digits: str) -> bool:
    try:
        return len(digits) <= MOST_DIGITS and Decimal(digits).is_finite()
    except InvalidOperation:
        return False


def written(text: str, thousands_marks: Sequence[str]) -> list[Numeral]:
    """All numbers that digits with points and commas may mean: 49,5 is one, 1,750 is two and both are asked."""
    if len(text) > MOST_DIGITS:
        return []
    if _WHOLE.fullmatch(text):
        return [Numeral(text)]
    if grouped := _GROUPS.fullmatch(text):
        return _grouped(text, grouped[1], thousands_marks)
    if decimal := _POINT.fullmatch(text) or _COMMA.fullmatch(text):
        return [Numeral(f"{decimal[1] or '0'}.{decimal[2]}")]
    return []


def _grouped(text: str, mark: str, thousands_marks: Sequence[str]) -> list[Numeral]:
    groups = text.count(mark)
    other = "," if mark == "." else "."
    joined = text.replace(mark, "").replace(other, ".")
    if groups > 1 or other in text:
        return [Numeral(joined)]
    decimal = text.replace(mark, ".")
    return [Numeral(joined, True), Numeral(decimal, True)] if mark in thousands_marks else [Numeral(decimal)]


def written_fraction(keys: Sequence[str]) -> tuple[int, Numeral | None]:
    """Read 1 / 2 from three tokens, or the one token ½: how many tokens it takes, and the number."""
    if not keys:
        return 0, None
    parts = keys[0].split("/") if "/" in keys[0][1:] else list(keys[0:3:2])
    length = 1 if "/" in keys[0][1:] else 3
    slashed = length == 1 or (len(keys) == 3 and keys[1] == "/")
    if not slashed or parts[1] not in _DENOMINATORS or not _WHOLE.fullmatch(parts[0]):
        return 0, None
    if len(parts[0]) > 2 or int(parts[0]) >= int(parts[1]):
        return 0, None
    return length, Numeral(f"{Decimal(parts[0]) / Decimal(parts[1]):f}")
