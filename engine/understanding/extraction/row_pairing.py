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

    @property
    def bare(self) -> bool:
        """Whether no rows are said with it."""
        return not (self.rows or self.every or self.rest)


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
        if loose is not None and _follows(spans, place, loose, rows, on_words):
            found.pairs[-1] = _pair(loose, [span])
            loose, held, led_to = None, [], span
        elif led_to is not None and _continues(spans, place, led_to, rows, on_words):
            before = found.pairs[-1]
            listed = tuple(sorted({*before.rows, *span.named}))
            found.pairs[-1] = replace(before, rows=listed, spans=(*before.spans, span))
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
    is_row = (span.kind is SpanKind.ROWS or span.is_one_of(rows)) and not (span.every or span.rest)
    listed = _touches(spans, before, place) and spans[place - 1] is not before and _ends(spans, place)
    return is_row and listed and not _has_rows_of_its_own(spans, place, on_words)


def _ends(spans: Sequence[TextSpan], place: int) -> bool:
    """Whether nothing but words follows up to the next mark."""
    after = next((one for one in spans[place + 1 :] if one.kind is not SpanKind.WORD), None)
    return after is None or after.is_mark


def _pair(value: TextSpan, held: Sequence[TextSpan]) -> Pair:
    every, rest = any(one.every for one in held), any(one.rest for one in held)
    return Pair(value, tuple(sorted(set(_rows(held)))), every, rest, (*held, value))


def _rows(held: Sequence[TextSpan]) -> tuple[int, ...]:
    return tuple(row for one in held for row in one.named)


def _is_row(spans: Sequence[TextSpan], place: int, is_value: Callable[[TextSpan], bool], rows: int) -> bool:
    """Whether a bare number is a row: it may be one, and a value follows it in the same clause."""
    if not spans[place].is_one_of(rows):
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
    if len(after) < 2 or not after[0].is_one_of(rows):
        return False
    told = next((span for span in after[1:] if span.kind is not SpanKind.WORD), None)
    return told is not None and is_value(told) and not is_value(after[1])


def _goes_on(
    spans: Sequence[TextSpan], place: int, held: Sequence[TextSpan], is_value: Callable[[TextSpan], bool], rows: int
) -> bool:
    """Whether a number goes on with a list of rows: "2, 4 and 6 had 60"."""
    touches = _touches(spans, held[-1], place) and spans[place - 1] is not held[-1]
    if not spans[place].is_one_of(rows) or not touches or not any(map(is_value, spans[place + 1 :])):
        return False
    mark, *after = spans[place + 1 : place + 3]
    return mark.kind is not SpanKind.BREAK or any(one.row is not None for one in after)


def _touches(spans: Sequence[TextSpan], before: TextSpan, place: int) -> bool:
    """Whether only marks and joining words stand between."""
    first = next(number for number, span in enumerate(spans) if span is before)
    return all(span.is_mark for span in spans[first + 1 : place])


def _follows(spans: Sequence[TextSpan], place: int, value: TextSpan, rows: int, on_words: Sequence[str]) -> bool:
    """Whether rows belong to the value before them: led by a word like "on", or the end of what is said of it."""
    span = spans[place]
    first = next(number for number, one in enumerate(spans) if one is value)
    between = spans[first + 1 : place]
    if any(one.kind is not SpanKind.WORD for one in between):
        return False
    led = any(one.key in on_words for one in between[-2:])
    if span.key == "<all-but>":
        return True
    if span.kind is SpanKind.ROWS:
        after = next((one for one in spans[place + 1 :] if one.kind is not SpanKind.WORD), None)
        return after is None or after.is_mark or (led and not after.is_value)
    return span.is_one_of(rows) and led
