"""Finds the spans of one sentence: amounts, numbers, rows, moments and levels anywhere in it; the rest stays words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.report_parser import ReportParser
from engine.entries.matching.row_numbers import number_of
from engine.expectation import Asking
from engine.quantities import UNITS, Dimension, Measure
from engine.understanding.scanning.amount_spans import AmountSpans
from engine.understanding.scanning.row_spans import RowSpans, exceptions, lists, ranges
from engine.understanding.scanning.spans import SpanKind, TextSpan

FULL = Measure(value=100.0, unit="%")
_RANK = {SpanKind.MOMENT: 5, SpanKind.LEVEL: 4, SpanKind.ROWS: 3, SpanKind.AMOUNT: 2, SpanKind.NUMBER: 1}


class Scanner:
    """Finds the spans of one sentence, from left to right, the longest first."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary
        self.loose = hearing.loose
        self.reporting = hearing.expectation.asking is Asking.REPORT or bool(hearing.expectation.reports)
        self.rows_told = self.reporting or any(slot.per_row for slot in hearing.expectation.slots)
        self.said_of_rows = self.reporting or hearing.expectation.chooses_by_row
        self.clocks = ReportParser(hearing).clocks
        self.rows = RowSpans(hearing, self.reporting)
        self.amounts = AmountSpans(hearing, self.reporting)

    def spans(self) -> tuple[TextSpan, ...]:
        found: list[TextSpan] = []
        place = 0
        while place < len(self.hearing.tokens):
            span = self._longest(place)
            found.append(span)
            place = span.end
        found = list(self._without_determiners(list(self._without_toward(found))))
        ranged = ranges(_half_full(self.amounts.compounds(found)), self.hearing)
        listed = lists(ranged, self.hearing) if self.reporting else ranged
        return tuple(self._parted(exceptions(listed, self.hearing)))

    def _without_toward(self, spans: Sequence[TextSpan]) -> Iterator[TextSpan]:
        """A row that a clause begins with, without the word before it that something is so of: "al 2 y al 7"."""
        for place, span in enumerate(spans):
            begins = not place or spans[place - 1].is_mark
            behind = [one for one in spans[place + 1 : place + 3] if one.key not in self.loose.determiners][:1]
            if self.rows_told and begins and span.key in self.loose.toward and any(map(self._is_row, behind)):
                continue
            yield span

    def _without_determiners(self, spans: Sequence[TextSpan]) -> Iterator[TextSpan]:
        """A row's number with the word before it that only points at it: "la 2"."""
        determiner: TextSpan | None = None
        for place, span in enumerate(spans):
            after = spans[place + 1] if place + 1 < len(spans) else None
            points = after is not None and after.row is not None and self._is_row(after)
            if points and span.key in self.loose.determiners and self.rows_told:
                determiner = span
                continue
            yield span if determiner is None else replace(span, start=determiner.start)
            determiner = None

    def _parted(self, spans: Iterable[TextSpan]) -> Iterator[TextSpan]:
        """What is said of the rows that are taken out stands apart: "all but 8, which is off"."""
        open_list = False
        told = list(spans)
        for place, span in enumerate(told):
            if (open_list and span.key in self.loose.relatives) or self._begins_run_on(told, place):
                yield TextSpan(SpanKind.BREAK, span.start, span.start, ",")
            yield span
            goes_on = span.row is not None or span.key in (*self.loose.except_words, *self.loose.after_except)
            open_list = span.key == "<all-but>" or (open_list and goes_on)

    def _begins_run_on(self, spans: Sequence[TextSpan], place: int) -> bool:
        """Whether other rows begin without a mark before them: "1 2 3 good 4 is high"."""
        if not self.said_of_rows or not self._is_row(spans[place]) or not 0 < place < len(spans) - 1:
            return False
        before, after = spans[place - 1], spans[place + 1]
        leads = (*self.loose.on_words, *self.loose.not_words, *self.loose.range_words, *self.loose.run_on)
        counts = (*self.loose.bags, *self.loose.counted)
        first = max((number for number in range(place) if spans[number].is_mark), default=-1) + 1
        told = any(self._is_row(one) for one in spans[first : place - 1])
        ends = before.kind in (SpanKind.WORD, SpanKind.LEVEL) and before.key not in leads
        return told and ends and after.kind is SpanKind.WORD and after.key not in counts

    def _is_row(self, span: TextSpan) -> bool:
        named = span.kind is SpanKind.ROWS and not span.every
        return named or span.is_one_of(len(self.hearing.every_row))

    def _longest(self, place: int) -> TextSpan:
        token = self.hearing.tokens[place]
        if token.is_break:
            return TextSpan(SpanKind.BREAK, place, place + 1, token.key)
        compared = [end for end in self.hearing.ends(self.loose.compared, place) if not self.hearing.units_at(end)]
        if compared:
            return TextSpan(SpanKind.WORD, place, max(compared), "<compared>")
        found = [*self._moments(place), *self.amounts.lengths(place), *self.rows.spans(place)]
        found += [*self.amounts.spans(place), *self._levels(place)]
        if found:
            return max(found, key=lambda one: (one.end, _RANK[one.kind]))
        joins = self.hearing.ends(self.words.joins, place)
        return TextSpan(SpanKind.JOIN if joins else SpanKind.WORD, place, max(joins, default=place + 1), token.key)

    def _moments(self, place: int) -> Iterator[TextSpan]:
        if not self.reporting or self.hearing.says(self.loose.untimely, (place,)) or self._is_range_of_rows(place):
            return
        for end, moment in self.clocks.moments(place):
            measured = any(later > end for inside in range(place, end) for later in self._measured(inside))
            if not (measured or self._is_row_and_amount(place, end) or self._goes_on_with_rows(end)):
                yield TextSpan(SpanKind.MOMENT, place, end, "<moment>", moment=moment)

    def _goes_on_with_rows(self, end: int) -> bool:
        """Whether more numbers follow what looks like an hour: "a la 1 2 y 3"."""
        return any(token.is_number for token in self.hearing.tokens[end : end + 1])

    def _is_row_and_amount(self, place: int, end: int) -> bool:
        """ "1: 25" with a gap behind the colon is row 1 with 25, not a time."""
        colons = [at for at in range(place, end) if self.hearing.tokens[at].key == ":"]
        return any(at + 1 < end and self.hearing.tokens[at].end < self.hearing.tokens[at + 1].start for at in colons)

    def _is_range_of_rows(self, place: int) -> bool:
        """ "One to three" are rows where there are as many, not three minutes to one."""
        rule = self.hearing.matcher.rule
        lows = (low for low in rule("number", place) if self.hearing.key(low.end) in self.loose.range_words)
        pairs = ((low, high) for low in lows for high in rule("number", low.end + 1))
        return any(0 < number_of(low) < number_of(high) <= len(self.hearing.every_row) for low, high in pairs)

    def _measured(self, place: int) -> Iterator[int]:
        """Where amounts with a unit that begin here end."""
        for end, amount in self.hearing.amounts(place):
            if all(unit is not None and UNITS[unit].dimension is not Dimension.TIME for _, unit in amount.parts):
                yield end

    def _levels(self, place: int) -> Iterator[TextSpan]:
        if not self.reporting:
            return
        for match in self.hearing.matcher.rule("level", place):
            yield TextSpan(SpanKind.LEVEL, place, match.end, self.hearing.key(place), measure=_share(number_of(match)))
        for end, amount in self.hearing.amounts(place):
            written = any(token.key == "/" for token in self.hearing.tokens[place:end])
            if written and amount.parts[0][1] is None and 0 < amount.number < 1:
                yield TextSpan(SpanKind.LEVEL, place, end, "half", measure=_share(amount.number))


def _share(part: float) -> Measure:
    return Measure(value=100 * part, unit="%")


def _half_full(spans: list[TextSpan]) -> list[TextSpan]:
    """ "Half full" is half."""
    found: list[TextSpan] = []
    for span in spans:
        if span.kind is SpanKind.LEVEL and found and found[-1].kind is SpanKind.LEVEL and span.measure == FULL:
            found[-1] = replace(found[-1], end=span.end)
        else:
            found.append(span)
    return found
