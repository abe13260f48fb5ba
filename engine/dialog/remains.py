"""What in words that were not understood has a meaning of its own: rows and amounts."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from engine.dialog.roles import Role
from engine.dialog.waiting import row_count
from engine.dialog.walk import Walk
from engine.entries.hearing import Amount, Hearing
from engine.entries.tokens import MOST_CHARACTERS, MOST_TOKENS
from engine.entries.vocabulary import load_vocabulary
from engine.expectation import Expectation
from engine.quantities import Measure

MOST_NAMED = 3
LEAST, MOST = Decimal("0.01"), 99_999
"""Other numbers are none that anybody weighs, counts or measures here."""


def heard_in(said: str, walk: Walk) -> str:
    """Rows and amounts in a text, as they are told; empty where there are none, or more than anybody wants to hear."""
    if len(said) > MOST_CHARACTERS or said.endswith("…"):
        return ""
    language = walk.state.language
    expected = Expectation(language=language, rows=_rows(walk))
    hearing = Hearing(said, expected, load_vocabulary(language))
    found = list(dict.fromkeys(_found(hearing, walk))) if len(hearing.tokens) <= MOST_TOKENS else []
    return ", ".join(found) if len(found) <= MOST_NAMED else ""


def _rows(walk: Walk) -> int | None:
    dialog = walk.state.dialog
    count = row_count(walk.script, walk.dialog) if dialog is not None else walk.state.book.of(Role.ROWS)
    return count if isinstance(count, int) and count else None


def _found(hearing: Hearing, walk: Walk) -> Iterator[str]:
    place = 0
    while place < len(hearing.tokens):
        rows = [(one.end, one.captures) for one in hearing.matcher.rule("row", place)]
        amounts = [(end, amount) for end, amount in hearing.amounts(place) if _is_told(hearing, place, amount)]
        if rows:
            end, captures = max(rows, key=lambda one: one[0])
            numbers = [one.value for one in captures if isinstance(one.value, int)]
            if all(number in hearing.every_row for number in numbers):
                yield walk.wording.row_names(numbers)
            place = end
        elif amounts:
            place, amount = max(amounts, key=lambda one: one[0])
            yield " ".join(_amount(walk, amount))
        else:
            place += 1


def _is_told(hearing: Hearing, place: int, amount: Amount) -> bool:
    """Whether a number was meant: the word for one, or for a half, stands in much talk."""
    if any(numeral.unsaid or not LEAST <= numeral.value <= MOST for numeral, _ in amount.parts):
        return False
    bare = all(unit is None for _, unit in amount.parts)
    return not bare or hearing.tokens[place].is_number or all(numeral.value >= 2 for numeral, _ in amount.parts)


def _amount(walk: Walk, amount: Amount) -> Iterator[str]:
    for numeral, unit in amount.parts:
        number = float(numeral.value)
        yield walk.wording.amount(Measure(value=number, unit=unit)) if unit else f"{number:g}"
