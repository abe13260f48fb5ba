"""Row numbers in what was matched: one row, a range of rows, a list of rows."""

from __future__ import annotations

from collections.abc import Iterable

from engine.entries.matching.numeral import Numeral
from engine.entries.phrases.match import Capture, Captures, Match, Matches

MOST_ROWS = 99


def numerals(captures: Captures) -> list[Numeral]:
    """The numbers among captures."""
    return [value for _, value in captures if isinstance(value, Numeral)]


def number_of(match: Match) -> float:
    """The first number of a match."""
    return float(numerals(match.captures)[0].value)


def row_numbers(matches: Iterable[Match]) -> Matches:
    """Matches of a number as matches of a row."""
    return tuple(
        Match(match.end, (Capture("row", int(numeral.value)),))
        for match in matches
        for numeral in numerals(match.captures)
        if numeral.digits.isdigit() and int(numeral.digits) <= MOST_ROWS
    )


def row_range(match: Match) -> Matches:
    """Two row numbers as all rows from one to the other."""
    ends = _row_ends(match)
    if len(ends) != 2:
        return ()
    return (Match(match.end, (Capture("rows", tuple(range(min(ends), max(ends) + 1))),)),)


def row_list(match: Match) -> Matches:
    """Two or more row numbers as just these rows, each once."""
    rows = _row_ends(match)
    return (Match(match.end, (Capture("rows", tuple(sorted(set(rows)))),)),) if len(rows) > 1 else ()


def _row_ends(match: Match) -> list[int]:
    """The row numbers of a match; none where any of them is not one."""
    digits = [numeral.digits for numeral in numerals(match.captures)]
    rows = [int(one) for one in digits if one.isdigit() and int(one) <= MOST_ROWS]
    return rows if len(rows) == len(digits) else []
