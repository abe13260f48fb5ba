"""Of two values for one question the one that is meant after all: "it was 38 but now 30", "39, no, make it 41"."""

from __future__ import annotations

from collections.abc import Sequence

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.phrase import Phrases
from engine.understanding.scanning.spans import SpanKind, TextSpan

CLOSE = 2
"""Words right before a value, that may be words that conclude."""


def meant_after_all(
    values: Sequence[TextSpan], spans: Sequence[TextSpan], hearing: MatchContext
) -> tuple[list[TextSpan], bool]:
    """The values without those that were said only to be replaced, and whether that is plain: something is taken back
    in so many words, or what was said first is told of another time."""
    if _is_total(values) or is_concluded(values, spans, hearing) or len({*map(_number, values)}) == 1:
        return [values[-1]], True
    loose = hearing.vocabulary.loose
    left: list[TextSpan] = []
    plain = True
    for value in values:
        before = left[-1] if left else None
        past = before is not None and _says(loose.unreal, _between(spans, before, value), hearing)
        if past and before is not None and not _is_past(spans, before, hearing):
            continue
        if before is not None and (between := _between(spans, before, value)) and _turns(between, hearing):
            plain = plain and (_takes_back(between, hearing) or _is_past(spans, before, hearing))
            left.pop()
        left.append(value)
    return left, plain


def _is_total(values: Sequence[TextSpan]) -> bool:
    """Whether the last of several bare numbers is what the others come to: "nine, plus three, twelve all told"."""
    told = [
        span.amount.parts[0][0].value for span in values if span.kind is SpanKind.NUMBER and span.amount is not None
    ]
    return len(told) == len(values) > 2 and sum(told[:-1]) == told[-1]


def is_concluded(values: Sequence[TextSpan], spans: Sequence[TextSpan], hearing: MatchContext) -> bool:
    """Whether the last value stands right behind words that conclude: "20 and two went back, so 18"."""
    before = _between(spans, values[-2], values[-1]) if len(values) > 1 else []
    words = [span for span in before if span.kind is not SpanKind.BREAK]
    return _says(hearing.vocabulary.loose.concludes, words[-CLOSE:], hearing)


def _number(value: TextSpan) -> object:
    """The number that a value tells, whatever its unit; the value itself where it tells several."""
    told = value.amount.parts if value.amount is not None else ()
    return told[0][0].value if len(told) == 1 else value


def _between(spans: Sequence[TextSpan], before: TextSpan, value: TextSpan) -> list[TextSpan]:
    return [span for span in spans if before.end <= span.start < value.start]


def _turns(between: Sequence[TextSpan], hearing: MatchContext) -> bool:
    loose = hearing.vocabulary.loose
    return any(_says(one, between, hearing) for one in (loose.contrasts, loose.repairs, loose.concludes))


def _takes_back(between: Sequence[TextSpan], hearing: MatchContext) -> bool:
    loose = hearing.vocabulary.loose
    return _says(loose.repairs, between, hearing) or _says(loose.concludes, between, hearing)


def _is_past(spans: Sequence[TextSpan], before: TextSpan, hearing: MatchContext) -> bool:
    """Whether the clause of a value tells of another time or of another wish."""
    place = next(number for number, span in enumerate(spans) if span is before)
    first = max((number for number in range(place) if spans[number].kind is SpanKind.BREAK), default=-1)
    after = next((number for number in range(place, len(spans)) if spans[number].kind in _ENDS), len(spans))
    return _says(hearing.vocabulary.loose.unreal, spans[first + 1 : after], hearing)


_ENDS = (SpanKind.BREAK, SpanKind.JOIN)


def _says(phrases: Phrases, spans: Sequence[TextSpan], hearing: MatchContext) -> bool:
    return hearing.says(phrases, (span.start for span in spans))
