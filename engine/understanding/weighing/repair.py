"""Self-repairs and denials, and which of two values is meant after all.

"seven, no, eight" says eight, "48 not 84" says 48, "no, it was 48" corrects the last one, and "it was 38 but now 30"
says 30.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.phrase import Phrases
from engine.understanding.scanning.spans import SpanKind, TextSpan

_ALIKE = {SpanKind.AMOUNT: "value", SpanKind.NUMBER: "value", SpanKind.ROWS: "rows", SpanKind.LEVEL: "value"}
CLOSE = 2
"""Words right before a value, that may be words that conclude."""


@dataclass(frozen=True)
class Repaired:
    """A sentence without what was taken back in it. ``correcting`` where it begins by taking something back,
    ``denied`` where a value stands in it that is said not to be so, ``dropped`` what was taken back."""

    spans: tuple[TextSpan, ...]
    correcting: bool = False
    denied: bool = False
    dropped: tuple[TextSpan, ...] = ()

    @property
    def mended(self) -> bool:
        return bool(self.dropped)

    @property
    def takes_back(self) -> bool:
        """Whether something is taken back, in this sentence or of what was told before."""
        return self.correcting or self.mended


def repaired(spans: Sequence[TextSpan], hearing: MatchContext) -> Repaired:
    """The sentence as it was meant in the end."""
    left = list(spans)
    correcting = False
    dropped: list[TextSpan] = []
    place = 0
    while place < len(left):
        end = _repair_end(left, place, hearing)
        if end is None:
            place += 1
            continue
        before = _last_of(left, place, anywhere=_ends_with_repair(left, place, end))
        after = next((one for one in left[end:] if _kind(one)), None)
        begins = before is None and not any(map(_kind, left[:place]))
        if after is not None and (begins or (before is not None and _is_row_of(left[before], after, hearing))):
            correcting = True
            left = left[:place] + left[end:]
        elif before is not None and _is_put_right_behind(left, before, place, end, hearing):
            dropped += [left[before], *left[place:end]]
            left = [*left[:before], *left[before + 1 : place], *left[end:]]
        elif before is not None and after is not None and _kind(left[before]) == _kind(after):
            dropped += left[before:end]
            left, place = left[:before] + left[end:], before
        else:
            place = end
    _without_told_before(left, dropped, hearing)
    denied = _without_denied(left, dropped, hearing)
    correcting = correcting or (bool(dropped) and bool(spans) and spans[0].key in hearing.loose.denies_all)
    return Repaired(tuple(left), correcting, denied, tuple(dropped))


def _is_put_right_behind(spans: Sequence[TextSpan], before: int, place: int, end: int, hearing: MatchContext) -> bool:
    """Whether a report is told of rows and the right ones stand alone behind it: "5 stopped, no, 6"."""
    words = any(span.kind is SpanKind.WORD for span in spans[before + 1 : place])
    said = next((at for at in range(end, len(spans)) if spans[at].kind is not SpanKind.BREAK), end)
    after, rest = spans[said : said + 1], spans[said + 1 : said + 2]
    alone = all(span.kind is SpanKind.BREAK for span in rest)
    rows = after and after[0].may_be_row and spans[before].may_be_row and _kind(after[0]) == _kind(spans[before])
    return bool(hearing.expectation.reports and words and alone and rows)


def _without_told_before(left: list[TextSpan], dropped: list[TextSpan], hearing: MatchContext) -> None:
    """Drop a number that is only said to have been told earlier, where another one stands beside it: "it was 48, I said
    4 before"."""
    for first in tuple(left):
        end = max(hearing.ends(hearing.loose.told_before, first.start), default=0)
        inside = [one for one in left if first.start <= one.start < end]
        if inside and any(_kind(one) == "value" for one in left if one not in inside):
            dropped += inside
            left[:] = [one for one in left if one not in inside]


def _without_denied(left: list[TextSpan], dropped: list[TextSpan], hearing: MatchContext) -> bool:
    """Drop what is said not to be so where something else is said beside it; whether anything else was denied."""
    denied, place = _denies_a_row(left, hearing), 0
    while place < len(left):
        before = _denial(left, place, hearing) if _kind(left[place]) else None
        others = [one for one in left if one is not left[place] and _kind(one) == _kind(left[place])]
        row_of = any(_is_row_of(left[place], one, hearing) for one in left[place + 1 : place + 4])
        if before is not None and others and not row_of:
            dropped += left[before : place + 1]
            left[before : place + 1] = []
            place = before
            continue
        denied = denied or (before is not None and not others and _kind(left[place]) == "value")
        place += 1
    return denied


def _denies_a_row(spans: Sequence[TextSpan], hearing: MatchContext) -> bool:
    """Whether a row is said not to be so: "one good, three no, four good"."""
    return any(
        _is_plain_no(spans, place, hearing) and (spans[place - 1].kind is SpanKind.ROWS or spans[place - 1].row)
        for place in range(1, len(spans))
    )


def _is_plain_no(spans: Sequence[TextSpan], place: int, hearing: MatchContext) -> bool:
    """Whether "no" ends what is said of the rows right before it, where reports are told."""
    if not hearing.expectation.reports or spans[place].key not in hearing.loose.not_words:
        return False
    words = any(span.kind is SpanKind.WORD for span in spans[:place])
    ends = place + 1 == len(spans) or spans[place + 1].kind is SpanKind.BREAK
    return words and ends and spans[place - 1].kind is not SpanKind.BREAK


def _is_row_of(span: TextSpan, value: TextSpan, hearing: MatchContext) -> bool:
    """Whether a bare number is the row of a value that was wrong: "seven, I misread it, is 63"."""
    slot, rows = hearing.expectation.asked, len(hearing.every_row)
    by_row = slot is not None and slot.per_row
    return by_row and value.is_value and span.is_one_of(rows) and not value.is_one_of(rows)


def _denial(spans: list[TextSpan], place: int, hearing: MatchContext) -> int | None:
    """Where a word that denies a value stands, right before it or with one word between: "it wasn't 5", "no eran 5"."""
    kind, loose = spans[place].kind, hearing.loose
    for number in range(place - 1, max(place - 4, -1), -1):
        key = spans[number].key
        if key in loose.denies or (key in loose.not_words and kind is not SpanKind.ROWS):
            return number
        of_rows = kind is SpanKind.ROWS and key not in loose.copulas
        if kind is SpanKind.LEVEL or spans[number].kind is not SpanKind.WORD or of_rows or key in loose.bounds:
            return None
    return None


def _kind(span: TextSpan) -> str | None:
    return _ALIKE.get(span.kind)


def _ends_with_repair(spans: Sequence[TextSpan], place: int, end: int) -> bool:
    """Whether a sentence ends with what should have been said: "3 had 28 pounds when I looked, no, 27"."""
    after = [span for span in spans[end:] if span.kind is not SpanKind.BREAK]
    parted = place > 0 and spans[place - 1].kind is SpanKind.BREAK
    return parted and len(after) == 1 and after[0].is_value


def _last_of(spans: list[TextSpan], place: int, anywhere: bool = False) -> int | None:
    """The value or rows right before a place, with nothing but marks and at most a word between; or ``anywhere``."""
    words = 0
    for number in range(place - 1, -1, -1):
        if _kind(spans[number]):
            return number
        if spans[number].kind is not SpanKind.BREAK:
            words += 1
        if words > 1 and not anywhere:
            return None
    return None


def _repair_end(spans: list[TextSpan], place: int, hearing: MatchContext) -> int | None:
    """The span after words that take something back, which begin at a span."""
    if spans[place].kind not in (SpanKind.WORD, SpanKind.JOIN) or (place and _is_plain_no(spans, place, hearing)):
        return None
    ends = hearing.ends(hearing.loose.repairs, spans[place].start)
    if not ends:
        return None
    end = place + sum(span.start < max(ends) for span in spans[place:])
    alone = end == place + 1 and spans[place].key in hearing.loose.not_words
    denies = spans[place].key in hearing.loose.denies
    after = spans[end] if end < len(spans) else None
    parted = after is not None and (after.kind is SpanKind.BREAK or (not denies and _kind(after) is not None))
    return end if parted or not alone else None


def meant_after_all(
    values: Sequence[TextSpan], spans: Sequence[TextSpan], hearing: MatchContext
) -> tuple[list[TextSpan], bool]:
    """The values without those that were said only to be replaced, and whether that is plain: something is taken back
    in so many words, or what was said first is told of another time."""
    if _is_total(values) or is_concluded(values, spans, hearing) or len({*map(_number, values)}) == 1:
        return [values[-1]], True
    loose = hearing.loose
    left: list[TextSpan] = []
    plain = True
    for value in values:
        between = _between(spans, left[-1], value) if left else []
        past = bool(left) and _is_past(spans, left[-1], hearing)
        if _says(loose.unreal, between, hearing) and not past:
            continue
        takes_back = _says((*loose.repairs, *loose.concludes), between, hearing)
        if takes_back or _says(loose.contrasts, between, hearing):
            plain = plain and (takes_back or past)
            left.pop()
        left.append(value)
    return left, plain


def _is_total(values: Sequence[TextSpan]) -> bool:
    """Whether the last of several bare numbers is what the others come to: "nine, plus three, twelve all told"."""
    numbers = [span.amount for span in values if span.kind is SpanKind.NUMBER and span.amount is not None]
    told = [amount.parts[0][0].value for amount in numbers]
    return len(told) == len(values) > 2 and sum(told[:-1]) == told[-1]


def is_concluded(values: Sequence[TextSpan], spans: Sequence[TextSpan], hearing: MatchContext) -> bool:
    """Whether the last value stands right behind words that conclude: "20 and two went back, so 18"."""
    before = _between(spans, values[-2], values[-1]) if len(values) > 1 else []
    words = [span for span in before if span.kind is not SpanKind.BREAK]
    return _says(hearing.loose.concludes, words[-CLOSE:], hearing)


def _number(value: TextSpan) -> object:
    """The number that a value tells, whatever its unit; the value itself where it tells several."""
    told = value.amount.parts if value.amount is not None else ()
    return told[0][0].value if len(told) == 1 else value


def _between(spans: Sequence[TextSpan], before: TextSpan, value: TextSpan) -> list[TextSpan]:
    return [span for span in spans if before.end <= span.start < value.start]


def _is_past(spans: Sequence[TextSpan], before: TextSpan, hearing: MatchContext) -> bool:
    """Whether the clause of a value tells of another time or of another wish."""
    place = next(number for number, span in enumerate(spans) if span is before)
    first = max((number for number in range(place) if spans[number].kind is SpanKind.BREAK), default=-1)
    after = next((number for number in range(place, len(spans)) if spans[number].is_mark), len(spans))
    return _says(hearing.loose.unreal, spans[first + 1 : after], hearing)


def _says(phrases: Phrases, spans: Sequence[TextSpan], hearing: MatchContext) -> bool:
    return hearing.says(phrases, (span.start for span in spans))
