"""Rows in a sentence: named, in a range, by their order, odd and even, all of them or the rest."""

from __future__ import annotations

from collections.abc import Iterator

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import numerals
from engine.understanding.scanning.spans import SpanKind, TextSpan


class RowSpans:
    """Finds the rows that begin at a token; ``reporting`` where reports may be told."""

    def __init__(self, hearing: MatchContext, reporting: bool) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary
        self.loose = hearing.vocabulary.loose
        self.reporting = reporting

    def spans(self, place: int) -> Iterator[TextSpan]:
        for match in self.hearing.matcher.rule("row", place):
            row = next(value for _, value in match.captures if isinstance(value, int))
            yield TextSpan(SpanKind.ROWS, place, match.end, "<row>", rows=(row,))
        for match in self.hearing.matcher.rule("rows", place):
            rows = next(value for _, value in match.captures if isinstance(value, tuple))
            rest = any(one.end == match.end for one in self.hearing.find(self.words.rows.rest, place))
            every = not rest and rows == self.hearing.every_row
            if every and match.end == place + 1 and self._is_other_all(match.end):
                continue
            key = "<rest>" if rest else "<all>" if every else "<rows>"
            yield TextSpan(SpanKind.ROWS, place, match.end, key, rows=rows, every=every, rest=rest)
        yield from self._said_of_all(place)
        yield from self._ordinals(place)
        yield from self._sets(place)
        yield from self._ranges(place)

    def _ranges(self, place: int) -> Iterator[TextSpan]:
        """Rows from one to another: "from two to five", "de la seis a la ocho"."""
        count = len(self.hearing.every_row)
        slots = self.hearing.expectation.slots
        if not self.reporting and not any(slot.per_row for slot in slots):
            return
        for match in self.hearing.find(self.loose.ranges, place):
            ends = [int(one.value) for one in numerals(match.captures) if one.value == one.value.to_integral_value()]
            if len(ends) == len(numerals(match.captures)) and 0 < ends[0] < ends[-1] <= count:
                yield TextSpan(SpanKind.ROWS, place, match.end, "<rows>", rows=tuple(range(ends[0], ends[-1] + 1)))

    def _sets(self, place: int) -> Iterator[TextSpan]:
        every = self.hearing.every_row
        for match in self.hearing.find(self.loose.whole, place):
            if any(int(one.value) == len(every) for one in numerals(match.captures)):
                yield TextSpan(SpanKind.ROWS, place, match.end, "<all>", rows=every, every=True)
        for name, phrases in self.loose.sets.items():
            for match in self.hearing.find(phrases, place):
                count = next((int(one.value) for one in numerals(match.captures)), 0)
                side = (len(every) - count) // 2
                picked = {
                    "odd": every[::2],
                    "even": every[1::2],
                    "first": every[:count],
                    "last": every[-count:],
                    "middle": every[side : len(every) - side],
                    "outside": (*every[:1], *every[-1:]),
                    "inner": every[1:-1],
                }
                counted = name not in ("first", "last", "middle") or count > 1
                if every and count <= len(every) and counted:
                    yield TextSpan(SpanKind.ROWS, place, match.end, "<rows>", rows=picked[name])

    def _said_of_all(self, place: int) -> Iterator[TextSpan]:
        every = self.hearing.every_row
        for match in self.hearing.find(self.loose.every, place):
            if match.end == place + 1 and self._is_other_all(match.end):
                continue
            yield TextSpan(SpanKind.ROWS, place, match.end, "<all>", rows=every, every=True)
        for match in self.hearing.find(self.loose.rest, place):
            if any(one.value >= len(every) for one in numerals(match.captures)):
                continue
            yield TextSpan(SpanKind.ROWS, place, match.end, "<rest>", rows=self.hearing.open_rows, rest=True)

    def _is_other_all(self, end: int) -> bool:
        """Whether a word like "all" is said of something else: "all this mud"."""
        return end < len(self.hearing.tokens) and self.hearing.tokens[end].key in self.loose.not_all

    def _ordinals(self, place: int) -> Iterator[TextSpan]:
        for number, phrases in self.loose.ordinals.items():
            rows = self.hearing.every_row
            row = int(number) if int(number) > 0 else len(rows) + 1 + int(number)
            for match in self.hearing.find(phrases, place):
                if rows and 0 < row <= len(rows):
                    yield TextSpan(SpanKind.ROWS, place, match.end, "<row>", rows=(row,))
