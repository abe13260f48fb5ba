"""Rows told one after another, in ranges, and all but some, put together from the spans of a sentence."""

from __future__ import annotations

from dataclasses import replace

from engine.entries.matching.match_context import MatchContext
from engine.understanding.scanning.spans import SpanKind, TextSpan

FEWEST = 2
"""So many rows side by side are a list."""
MOST_BETWEEN = 8
"""Spans between "all" and "but"."""


def ranges(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """Numbers after rows with their noun go on with the list: "rows 1, 2 and 4", and "2 through 5" is a range."""
    found: list[TextSpan] = []
    place = 0
    while place < len(spans):
        span = spans[place]
        low, high = span.row if span.kind is SpanKind.NUMBER else _single(span), None
        if low is not None and place + 2 < len(spans) and _is_range(spans[place + 1], hearing):
            high = spans[place + 2].row or _single(spans[place + 2])
        if low is not None and high is not None and low < high <= len(hearing.every_row):
            rows = tuple(range(low, high + 1))
            found.append(TextSpan(SpanKind.ROWS, span.start, spans[place + 2].end, "<rows>", rows=rows))
            place += 3
            continue
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
        rows = tuple(sorted({row for span in members for row in (span.rows or (span.row or 0,))}))
        found.append(TextSpan(SpanKind.ROWS, spans[place].start, spans[end - 1].end, "<rows>", rows=rows))
        place = end
    return found


def _may_be_row(span: TextSpan, count: int) -> bool:
    if span.kind is SpanKind.ROWS:
        return bool(span.rows) and not span.every and not span.rest and span.key != "<all-but>"
    return span.row is not None and span.row <= count


def _list_end(spans: list[TextSpan], place: int, hearing: MatchContext) -> int:
    """The span after a list of rows that begins here; where what follows a mark says something of its own, or things
    are counted, it ends."""
    end, place_of_next = place, place
    loose = hearing.vocabulary.loose
    while place_of_next < len(spans):
        after = spans[place_of_next + 1].key if place_of_next + 1 < len(spans) else ""
        counts = spans[place_of_next].kind is SpanKind.NUMBER and after in (*loose.bags, *loose.counted)
        if _may_be_row(spans[place_of_next], len(hearing.every_row)) and not counts:
            own = place_of_next + 1 < len(spans) and spans[place_of_next + 1].kind in (SpanKind.WORD, SpanKind.LEVEL)
            told = place > 0 and spans[place - 1].kind in (SpanKind.WORD, SpanKind.LEVEL)
            if own and told and end > place and spans[place_of_next - 1].kind is SpanKind.BREAK:
                break
            if end > place and _has_rows_behind(spans, place_of_next):
                break
            end = place_of_next = place_of_next + 1
        elif (
            end > place
            and spans[place_of_next].kind in (SpanKind.JOIN, SpanKind.BREAK)
            and spans[place_of_next].key not in (".", *loose.except_words)
        ):
            place_of_next += 1
        else:
            break
    return end


def _has_rows_behind(spans: list[TextSpan], place: int) -> bool:
    """Whether a number is a value with rows of its own: "and six in the others"."""
    after = spans[place + 1 : place + 3]
    bare = spans[place].kind is SpanKind.NUMBER and len(after) > 1
    return bare and after[0].kind is SpanKind.WORD and (after[1].rest or after[1].every)


def _single(span: TextSpan) -> int | None:
    return span.rows[0] if span.kind is SpanKind.ROWS and len(span.rows) == 1 else None


def _is_range(span: TextSpan, hearing: MatchContext) -> bool:
    return span.kind in (SpanKind.WORD, SpanKind.JOIN) and span.key in hearing.vocabulary.loose.range_words


def exceptions(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """ "All but four" is the other rows; what is said of those goes on behind: "all good but seven's high"."""
    for place, span in enumerate(spans):
        if not span.every:
            continue
        except_at = _excepted_at(spans, place, hearing)
        rows, end = _listed(spans, except_at + 1) if except_at is not None else ((), 0)
        if except_at is None or not rows:
            continue
        others = tuple(row for row in span.rows if row not in rows)
        changed = replace(span, key="<all-but>", rows=others, every=False)
        goes_on = any(one.kind not in (SpanKind.BREAK, SpanKind.JOIN) for one in spans[end : end + 1])
        if goes_on:
            cut = replace(spans[except_at], kind=SpanKind.JOIN)
            return [*spans[:place], changed, *spans[place + 1 : except_at], cut, *spans[except_at + 1 :]]
        if except_at == place + 1:
            changed = replace(changed, end=spans[end - 1].end)
        return [*spans[:place], changed, *spans[place + 1 : except_at], *spans[end:]]
    return _without_all(spans, hearing)


def _without_all(spans: list[TextSpan], hearing: MatchContext) -> list[TextSpan]:
    """ "Fine except three": where rows follow a word like "except" and none for all is said, the others are meant."""
    every = hearing.every_row
    for place, span in enumerate(spans):
        strong = (
            span.key in hearing.vocabulary.loose.except_words and span.key not in hearing.vocabulary.loose.weak_except
        )
        rows, end = _listed(spans, place + 1) if strong and place > 0 and every else ((), 0)
        before = spans[:place]
        if not rows or any(one.kind is SpanKind.ROWS or one.is_value for one in before) or not set(rows) <= set(every):
            continue
        others = tuple(row for row in every if row not in rows)
        but = TextSpan(SpanKind.ROWS, span.start, span.start, "<all-but>", rows=others)
        if any(one.kind not in (SpanKind.BREAK, SpanKind.JOIN) for one in spans[end : end + 1]):
            return [*before, but, replace(span, kind=SpanKind.JOIN), *spans[place + 1 :]]
        return [*before, replace(but, end=spans[end - 1].end), *spans[end:]]
    return spans


def _excepted_at(spans: list[TextSpan], place: int, hearing: MatchContext) -> int | None:
    """Where a word like "except" stands behind rows, with nothing but words between."""
    for number in range(place + 1, min(place + MOST_BETWEEN, len(spans))):
        if spans[number].key in hearing.vocabulary.loose.except_words:
            last = number
            while last + 1 < len(spans) and spans[last + 1].key in hearing.vocabulary.loose.after_except:
                last += 1
            return last
        if spans[number].kind not in (SpanKind.WORD, SpanKind.AMOUNT, SpanKind.NUMBER, SpanKind.LEVEL, SpanKind.BREAK):
            return None
    return None


def _is_told_of(spans: list[TextSpan], place: int) -> bool:
    """Whether something is said of a row that stands there: it does not go on with a list."""
    return place + 1 < len(spans) and spans[place + 1].kind in (SpanKind.WORD, SpanKind.LEVEL, SpanKind.AMOUNT)


def _listed(spans: list[TextSpan], place: int) -> tuple[tuple[int, ...], int]:
    """The rows that begin at a span, named or as bare numbers in a list, and the span after them."""
    rows: list[int] = []
    end = place
    while place < len(spans):
        span = spans[place]
        more = span.rows if span.kind is SpanKind.ROWS and not span.every else (span.row,) if span.row else ()
        if more:
            rows += more
            place += 1
            end = place
        elif rows and span.kind in (SpanKind.JOIN, SpanKind.BREAK) and not _is_told_of(spans, place + 1):
            place += 1
        else:
            break
    return tuple(rows), end
