"""Self-repairs and denials.

"seven, no, eight" says eight, "48 not 84" says 48, "no, it was 48" corrects the last one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.entries.hearing import Hearing
from engine.understanding.spans import SpanKind, TextSpan

_ALIKE = {SpanKind.AMOUNT: "value", SpanKind.NUMBER: "value", SpanKind.ROWS: "rows", SpanKind.LEVEL: "value"}


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


def repaired(spans: Sequence[TextSpan], hearing: Hearing) -> Repaired:
    """The sentence as it was meant in the end."""
    left = list(spans)
    correcting = denied = False
    dropped: list[TextSpan] = []
    place = 0
    while place < len(left):
        end = _repair_end(left, place, hearing)
        if end is None:
            place += 1
            continue
        before = _last_of(left, place)
        after = next((one for one in left[end:] if _kind(one)), None)
        if before is not None and after is not None and _kind(left[before]) == _kind(after):
            dropped += left[before:end]
            left, place = left[:before] + left[end:], before
        elif before is None and after is not None and not any(_kind(one) for one in left[:place]):
            correcting = True
            left = left[:place] + left[end:]
        else:
            place = end
    place = 0
    while place < len(left):
        before = _denial(left, place, hearing) if _kind(left[place]) else None
        if before is not None:
            others = [one for number, one in enumerate(left) if number != place and _kind(one) == _kind(left[place])]
            if others:
                dropped += left[before : place + 1]
                left, place = left[:before] + left[place + 1 :], before
                continue
            denied = denied or _kind(left[place]) == "value"
        place += 1
    return Repaired(tuple(left), correcting, denied, tuple(dropped))


def _denial(spans: list[TextSpan], place: int, hearing: Hearing) -> int | None:
    """Where a word that denies a value stands, right before it or with one word between: "it wasn't 5", "no eran 5"."""
    for number in range(place - 1, max(place - 4, -1), -1):
        if spans[number].key in hearing.vocabulary.loose.denies or (
            spans[number].key in hearing.vocabulary.loose.not_words and spans[place].kind is not SpanKind.ROWS
        ):
            return number
        of_rows = spans[place].kind is SpanKind.ROWS and spans[number].key not in hearing.vocabulary.loose.copulas
        if spans[number].kind is not SpanKind.WORD or of_rows or spans[number].key in hearing.vocabulary.loose.bounds:
            return None
    return None


def _kind(span: TextSpan) -> str | None:
    return _ALIKE.get(span.kind)


def _last_of(spans: list[TextSpan], place: int) -> int | None:
    """The value or rows right before a place, with nothing but marks and at most a word between."""
    words = 0
    for number in range(place - 1, -1, -1):
        if _kind(spans[number]):
            return number
        if spans[number].kind is not SpanKind.BREAK:
            words += 1
        if words > 1:
            return None
    return None


def _repair_end(spans: list[TextSpan], place: int, hearing: Hearing) -> int | None:
    """The span after words that take something back, which begin at a span."""
    if spans[place].kind not in (SpanKind.WORD, SpanKind.JOIN):
        return None
    ends = [match.end for match in hearing.find(hearing.vocabulary.loose.repairs, spans[place].start)]
    if not ends:
        return None
    end = place
    while end < len(spans) and spans[end].start < max(ends):
        end += 1
    alone = end == place + 1 and spans[place].key in hearing.vocabulary.loose.not_words
    denies = spans[place].key in hearing.vocabulary.loose.denies
    after = spans[end] if end < len(spans) else None
    parted = after is not None and (after.kind is SpanKind.BREAK or (not denies and _kind(after) is not None))
    return end if parted or not alone else None
