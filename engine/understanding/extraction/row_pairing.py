"""Which value is said of which rows: "row one had 64 and two was 66", "all but four are 68", "60 on row one"."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from engine.understanding.scanning.spans import SpanKind, TextSpan


@dataclass(frozen=True)
class Pair:
    """A value with the rows it is said of; none where it names no row. ``rest`` where it is said of all others."""

    value: TextSpan
    rows: tuple[int, ...] = ()
    every: bool = False
    rest: bool = False
    spans: tuple[TextSpan, ...] = ()


@dataclass
class Pairing:
    """What was paired; ``lost`` are rows for which no value was said."""

    pairs: list[Pair] = field(default_factory=list)
    lost: tuple[int, ...] = ()


def paired(
    spans: Sequence[TextSpan], is_value: Callable[[TextSpan], bool], on_words: Sequence[str], rows: int
) -> Pairing:
    """Every value of a sentence with its rows, from left to right."""
    found = Pairing()
    held: list[TextSpan] = []
    loose: TextSpan | None = None
    led_to: TextSpan | None = None
    for place, span in enumerate(spans):
        led = loose is not None and _follows(spans, place, loose, rows, on_words)
        if led and loose is not None:
            found.pairs[-1] = _pair(loose, [span])
            loose, held, led_to = None, [], span
        elif led_to is not None and _continues(spans, place, led_to, rows, on_words):
            before = found.pairs[-1]
            more = _pair(before.value, [span]).rows
            found.pairs[-1] = replace(before, rows=tuple(sorted({*before.rows, *more})), spans=(*before.spans, span))
            led_to = span
        elif span.every and any(one.rest for one in held):
            continue
        elif span.kind is SpanKind.ROWS or (_is_row(spans, place, is_value, rows) and not held):
            if held and _touches(spans, held[-1], place):
                held.append(span)
            else:
                found.lost += _rows(held)
                held = [span]
        elif held and span.kind is SpanKind.NUMBER and _goes_on(spans, place, held, is_value, rows):
            held.append(span)
        elif is_value(span):
            found.pairs.append(_pair(span, held))
            loose = span if not held else None
            held = []
    found.lost += _rows(held)
    return found


def _has_rows_of_its_own(spans: Sequence[TextSpan], place: int, on_words: Sequence[str]) -> bool:
    """Whether a number is a value with rows behind it: "and six in the others"."""
    after = spans[place + 1 : place + 3]
    return len(after) > 1 and after[0].key in on_words and after[1].kind is SpanKind.ROWS


def _continues(spans: Sequence[TextSpan], place: int, before: TextSpan, rows: int, on_words: Sequence[str]) -> bool:
    """Whether rows go on a list behind a value: "15 pounds in 5 and 6"."""
    span = spans[place]
    is_row = span.kind is SpanKind.ROWS or (span.row is not None and span.row <= rows)
    if _has_rows_of_its_own(spans, place, on_words):
        return False
    after = [one for one in spans[place + 1 :] if one.kind is not SpanKind.WORD]
    ends = not after or after[0].kind in (SpanKind.BREAK, SpanKind.JOIN)
    return (
        is_row
        and not (span.every or span.rest)
        and _touches(spans, before, place)
        and ends
        and spans[place - 1] is not before
    )


def _pair(value: TextSpan, held: Sequence[TextSpan]) -> Pair:
    every, rest = any(one.every for one in held), any(one.rest for one in held)
    return Pair(value, tuple(sorted(set(_rows(held)))), every, rest, (*held, value))


def _rows(held: Sequence[TextSpan]) -> tuple[int, ...]:
    return tuple(
        row for one in held for row in (one.rows if one.kind is SpanKind.ROWS else (one.row,) if one.row else ())
    )


def _is_row(spans: Sequence[TextSpan], place: int, is_value: Callable[[TextSpan], bool], rows: int) -> bool:
    """Whether a bare number is a row: it may be one, and a value follows it in the same clause."""
    row = spans[place].row
    if row is None or row > rows:
        return False
    for span in spans[place + 1 :]:
        if span.kind is SpanKind.BREAK and span.key not in (":", "="):
            return _is_alone(spans, place, span, is_value)
        if span.kind is SpanKind.JOIN:
            return _list_leads_to_value(spans, place, is_value, rows)
        if span.kind is SpanKind.ROWS:
            return False
        if is_value(span):
            return True
    return False


def _is_alone(spans: Sequence[TextSpan], place: int, mark: TextSpan, is_value: Callable[[TextSpan], bool]) -> bool:
    """Whether behind what is said of a row only its value stands: "8 come up light. 59"."""
    end = next(number for number, span in enumerate(spans) if span is mark)
    after = [span for span in spans[end + 1 :] if span.kind is not SpanKind.BREAK]
    values = [span for span in after if span.kind is not SpanKind.WORD]
    few = len(after) - len(values) <= 1 and after[-1:] == values
    return end > place + 1 and len(values) == 1 and few and is_value(values[0])


def _list_leads_to_value(
    spans: Sequence[TextSpan], place: int, is_value: Callable[[TextSpan], bool], rows: int
) -> bool:
    """ "Two and three are 66": the number after the joining word is a row as well, with a value behind it."""
    after = [span for span in spans[place + 1 :] if span.kind is not SpanKind.JOIN]
    if not after or after[0].row is None or after[0].row > rows:
        return False
    words = [span for span in after[1:] if span.kind is not SpanKind.WORD]
    return bool(words) and is_value(words[0]) and len(after) > 1 and not is_value(after[1])


def _goes_on(
    spans: Sequence[TextSpan], place: int, held: Sequence[TextSpan], is_value: Callable[[TextSpan], bool], rows: int
) -> bool:
    """Whether a number goes on with a list of rows: "2, 4 and 6 had 60"."""
    row = spans[place].row
    if row is None or row > rows or not _touches(spans, held[-1], place) or spans[place - 1] is held[-1]:
        return False
    return any(is_value(span) for span in spans[place + 1 :]) and _next_is_word(spans, place)


def _next_is_word(spans: Sequence[TextSpan], place: int) -> bool:
    after = spans[place + 1] if place + 1 < len(spans) else None
    return after is not None and (after.kind is not SpanKind.BREAK or _more(spans, place + 2))


def _more(spans: Sequence[TextSpan], place: int) -> bool:
    return place < len(spans) and spans[place].row is not None


def _touches(spans: Sequence[TextSpan], before: TextSpan, place: int) -> bool:
    """Whether only marks and joining words stand between."""
    first = next(number for number, span in enumerate(spans) if span is before)
    return all(span.kind in (SpanKind.JOIN, SpanKind.BREAK) for span in spans[first + 1 : place])


def _follows(spans: Sequence[TextSpan], place: int, value: TextSpan, rows: int, on_words: Sequence[str]) -> bool:
    """Whether rows belong to the value before them: led by a word like "on", or the end of what is said of it."""
    span = spans[place]
    first = next(number for number, one in enumerate(spans) if one is value)
    between = spans[first + 1 : place]
    if any(one.kind is not SpanKind.WORD for one in between):
        return False
    led = any(one.key in on_words for one in between[-2:])
    after = next((one for one in spans[place + 1 :] if one.kind is not SpanKind.WORD), None)
    ends = after is None or after.kind in (SpanKind.BREAK, SpanKind.JOIN)
    if span.key == "<all-but>":
        return True
    if span.kind is SpanKind.ROWS:
        return ends or (led and not after.is_value if after is not None else led)
    return span.row is not None and span.row <= rows and led
