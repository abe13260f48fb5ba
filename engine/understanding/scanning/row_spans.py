"""Rows in a sentence: named, in a range, by their order, odd and even, all of them, all but some, or the rest."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import takewhile

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import numerals
from engine.understanding.scanning.spans import SpanKind, TextSpan

FEWEST = 2
"""So many rows side by side are a list."""
MOST_BETWEEN = 8
"""Spans between "all" and "but"."""
_SAYING = (SpanKind.WORD, SpanKind.LEVEL)
_TELLING = (*_SAYING, SpanKind.AMOUNT)


class RowSpans:
    """Finds the rows that begin at a token; ``reporting`` where reports may be told."""

    def __init__(self, hearing: MatchContext, reporting: bool) -> None:
        self.hearing = hearing
        self.loose = hearing.loose
        self.reporting = reporting

    def spans(self, place: int) -> Iterator[TextSpan]:
        for match in self.hearing.matcher.rule("row", place):
            row = next(value for _, value in match.captures if isinstance(value, int))
            yield TextSpan(SpanKind.ROWS, place, match.end, "<row>", rows=(row,))
        for match in self.hearing.matcher.rule("rows", place):
            rows = next(value for _, value in match.captures if isinstance(value, tuple))
            rest = match.end in self.hearing.ends(self.hearing.vocabulary.rows.rest, place)
            every = not rest and rows == self.hearing.every_row
            key = "<rest>" if rest else "<all>" if every else "<rows>"
            if not (every and self._is_other_all(place, match.end)):
                yield TextSpan(SpanKind.ROWS, place, match.end, key, rows=rows, every=every, rest=rest)
        yield from self._said_of_all(place)
        yield from self._ordinals(place)
        yield from self._sets(place)
        yield from self._ranges(place)

    def _ranges(self, place: int) -> Iterator[TextSpan]:
        """Rows from one to another: "from two to five", "de la seis a la ocho"."""
        count = len(self.hearing.every_row)
        if not self.reporting and not any(slot.per_row for slot in self.hearing.expectation.slots):
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
        for end in self.hearing.ends(self.loose.every, place):
            if not self._is_other_all(place, end):
                yield TextSpan(SpanKind.ROWS, place, end, "<all>", rows=every, every=True)
        for match in self.hearing.find(self.loose.rest, place):
            if not any(one.value >= len(every) for one in numerals(match.captures)):
                yield TextSpan(SpanKind.ROWS, place, match.end, "<rest>", rows=self.hearing.open_rows, rest=True)

    def _is_other_all(self, place: int, end: int) -> bool:
        """Whether a word like "all" is said of something else: "all this mud"."""
        return end == place + 1 and self.hearing.key(end) in self.loose.not_all

    def _ordinals(self, place: int) -> Iterator[TextSpan]:
        rows = len(self.hearing.every_row)
        for number, phrases in self.loose.ordinals.items():
            row = int(number) if int(number) > 0 else rows + 1 + int(number)
            for end in self.hearing.ends(phrases, place) if 0 < row <= rows else ():
                yield TextSpan(SpanKind.ROWS, place, end, "<row>", rows=(row,))


def ranges(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """Numbers after rows with their noun go on with the list: "rows 1, 2 and 4", and "2 through 5" is a range."""
    found: list[TextSpan] = []
    place = 0
    while place < len(spans):
        span, after = spans[place], spans[place + 1 : place + 3]
        low, high = _single(span), _single(after[1]) if len(after) > 1 and _is_range(after[0], hearing) else 0
        if 0 < low < high <= len(hearing.every_row):
            found.append(TextSpan(SpanKind.ROWS, span.start, after[1].end, "<rows>", rows=tuple(range(low, high + 1))))
            place += 3
        else:
            found.append(span)
            place += 1
    return found


def lists(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """Rows told one after another, with marks or joining words between, as one span: "1 2 and 4 thru 6"."""
    found: list[TextSpan] = []
    place, count = 0, len(hearing.every_row)
    while place < len(spans):
        end = _list_end(spans, place, hearing)
        members = [span for span in spans[place:end] if _may_be_row(span, count)]
        if len(members) < FEWEST:
            found.append(spans[place])
            place += 1
            continue
        rows = tuple(sorted({row for span in members for row in span.named}))
        found.append(TextSpan(SpanKind.ROWS, spans[place].start, spans[end - 1].end, "<rows>", rows=rows))
        place = end
    return found


def _may_be_row(span: TextSpan, count: int) -> bool:
    if span.kind is SpanKind.ROWS:
        return bool(span.rows) and not (span.every or span.rest or span.key == "<all-but>")
    return span.is_one_of(count)


def _list_end(spans: list[TextSpan], place: int, hearing: MatchContext) -> int:
    """The span after a list of rows that begins here; where what follows a mark says something of its own, or things
    are counted, it ends."""
    loose, end, at = hearing.loose, place, place
    told = place > 0 and spans[place - 1].kind in _SAYING
    while at < len(spans):
        after = spans[at + 1] if at + 1 < len(spans) else None
        counts = spans[at].kind is SpanKind.NUMBER and after is not None and after.key in (*loose.bags, *loose.counted)
        if _may_be_row(spans[at], len(hearing.every_row)) and not counts:
            own = told and after is not None and after.kind in _SAYING and spans[at - 1].kind is SpanKind.BREAK
            if end > place and (own or _has_rows_behind(spans, at)):
                break
            end = at = at + 1
        elif end > place and spans[at].is_mark and spans[at].key not in (".", *loose.except_words):
            at += 1
        else:
            break
    return end


def _has_rows_behind(spans: list[TextSpan], place: int) -> bool:
    """Whether a number is a value with rows of its own: "and six in the others"."""
    after = spans[place + 1 : place + 3]
    bare = spans[place].kind is SpanKind.NUMBER and len(after) > 1
    return bare and after[0].kind is SpanKind.WORD and (after[1].rest or after[1].every)


def _single(span: TextSpan) -> int:
    """The one row that a span is; 0 where it is none or several."""
    return span.named[0] if len(span.named) == 1 else 0


def _is_range(span: TextSpan, hearing: MatchContext) -> bool:
    return span.kind in (SpanKind.WORD, SpanKind.JOIN) and span.key in hearing.loose.range_words


def exceptions(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """ "All but four" is the other rows; what is said of those goes on behind: "all good but seven's high"."""
    for place, span in enumerate(spans):
        except_at = _excepted_at(spans, place, hearing) if span.every else None
        rows, end = _listed(spans, except_at + 1) if except_at is not None else ((), 0)
        if except_at is None or not rows:
            continue
        others = tuple(row for row in span.rows if row not in rows)
        last = spans[end - 1] if except_at == place + 1 and not _goes_on(spans, end) else span
        changed = replace(span, key="<all-but>", rows=others, every=False, end=last.end)
        return [*spans[:place], changed, *spans[place + 1 : except_at], *_behind(spans, except_at, end)]
    return _without_all(spans, hearing)


def _without_all(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """ "Fine except three": where rows follow a word like "except" and none for all is said, the others are meant."""
    every, strong = hearing.every_row, {*hearing.loose.except_words} - {*hearing.loose.weak_except}
    for place, span in enumerate(spans):
        rows, end = _listed(spans, place + 1) if span.key in strong and place > 0 and every else ((), 0)
        told = any(one.kind is SpanKind.ROWS or one.is_value for one in spans[:place])
        if not rows or told or not set(rows) <= set(every):
            continue
        others = tuple(row for row in every if row not in rows)
        stop = span.start if _goes_on(spans, end) else spans[end - 1].end
        but = TextSpan(SpanKind.ROWS, span.start, stop, "<all-but>", rows=others)
        return [*spans[:place], but, *_behind(spans, place, end)]
    return spans


def _goes_on(spans: list[TextSpan], end: int) -> bool:
    """Whether something is said of rows that end there."""
    return any(not one.is_mark for one in spans[end : end + 1])


def _behind(spans: list[TextSpan], except_at: int, end: int) -> list[TextSpan]:
    """What stands behind rows that are taken out; with these where something is said of them, parted off by the word
    that took them out."""
    if not _goes_on(spans, end):
        return spans[end:]
    return [replace(spans[except_at], kind=SpanKind.JOIN), *spans[except_at + 1 :]]


def _excepted_at(spans: list[TextSpan], place: int, hearing: MatchContext) -> int | None:
    """Where a word like "except" stands behind rows, with nothing but words between."""
    for number in range(place + 1, min(place + MOST_BETWEEN, len(spans))):
        if spans[number].key in hearing.loose.except_words:
            behind = takewhile(lambda one: one.key in hearing.loose.after_except, spans[number + 1 :])
            return number + sum(1 for _ in behind)
        if spans[number].kind not in (*_TELLING, SpanKind.NUMBER, SpanKind.BREAK):
            return None
    return None


def _is_told_of(spans: list[TextSpan], place: int) -> bool:
    """Whether something is said of a row that stands there: it does not go on with a list."""
    return place + 1 < len(spans) and spans[place + 1].kind in _TELLING


def _listed(spans: list[TextSpan], place: int) -> tuple[tuple[int, ...], int]:
    """The rows that begin at a span, named or as bare numbers in a list, and the span after them."""
    rows: list[int] = []
    end = place
    for at, span in enumerate(spans[place:], place):
        if more := () if span.every else span.named:
            rows += more
            end = at + 1
        elif not (rows and span.is_mark) or _is_told_of(spans, at + 1):
            break
    return tuple(rows), end
