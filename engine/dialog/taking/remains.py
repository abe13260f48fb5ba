"""What in words that were not understood has a meaning of its own: rows and amounts."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from engine.dialog.facts.waiting import row_count
from engine.dialog.schema.slot_roles import Role, name_in
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.phrases.tokens import MOST_CHARACTERS, MOST_TOKENS
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Expectation
from engine.quantities import Measure
from engine.values import Value

MOST_NAMED = 3
LEAST, MOST = Decimal("0.01"), 99_999
"""Other numbers are none that anybody weighs, counts or measures here."""


def heard_in(said: str, walk: TurnBuilder) -> str:
    """Rows and amounts in a text, as they are told; empty where there are none, or more than anybody wants to hear."""
    if len(said) > MOST_CHARACTERS or said.endswith("…"):
        return ""
    language = walk.state.language
    expected = Expectation(language=language, rows=_rows(walk))
    hearing = MatchContext(said, expected, load_vocabulary(language))
    found = list(dict.fromkeys(_found(hearing, walk))) if len(hearing.tokens) <= MOST_TOKENS else []
    return ", ".join(found) if len(found) <= MOST_NAMED else ""


def _rows(walk: TurnBuilder) -> int | None:
    dialog = walk.state.dialog
    count = _told_rows(walk) if dialog is not None else walk.state.book.of(Role.ROWS)
    return count if isinstance(count, int) and count else None


def _told_rows(walk: TurnBuilder) -> Value | None:
    """How many rows this dialog counts, or was told."""
    name = name_in(walk.script.records, Role.ROWS)
    return row_count(walk.script, walk.dialog) or (walk.dialog.values.get(name) if name else None)


def _found(hearing: MatchContext, walk: TurnBuilder) -> Iterator[str]:
    place = 0
    while place < len(hearing.tokens):
        rows = _rows_at(hearing, place)
        amounts = [(end, amount) for end, amount in hearing.amounts(place) if _is_told(hearing, place, amount)]
        if rows:
            place, row = max(rows)
            if row in hearing.every_row:
                yield walk.wording.row_names([row])
        elif amounts:
            place, amount = max(amounts, key=lambda one: one[0])
            yield " ".join(_amount(walk, amount))
        else:
            place += 1


def _rows_at(hearing: MatchContext, place: int) -> list[tuple[int, int]]:
    """The rows that the words there may be, each with where it ends; those of the planter where there are any."""
    rows = [
        (match.end, one.value)
        for match in hearing.matcher.rule("row", place)
        for one in match.captures
        if isinstance(one.value, int)
    ]
    return [one for one in rows if one[1] in hearing.every_row] or rows


def _is_told(hearing: MatchContext, place: int, amount: Amount) -> bool:
    """Whether a number was meant: the word for one, or for a half, stands in much talk."""
    if any(numeral.unsaid or not LEAST <= numeral.value <= MOST for numeral, _ in amount.parts):
        return False
    bare = all(unit is None for _, unit in amount.parts)
    return not bare or hearing.tokens[place].is_number or all(numeral.value >= 2 for numeral, _ in amount.parts)


def _amount(walk: TurnBuilder, amount: Amount) -> Iterator[str]:
    for numeral, unit in amount.parts:
        number = float(numeral.value)
        yield walk.wording.amount(Measure(value=number, unit=unit)) if unit else f"{number:g}"
