"""How a dial is marked, in people's own words: lowest, highest and step of its numbers, or its letters."""

from __future__ import annotations

from collections.abc import Sequence

from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import numerals
from engine.entries.matching.slot_fit import Place
from engine.expectation import ExpectedSlot
from engine.messages import Given
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.values import Dial

ENDS, WITH_STEP = 2, 3
"""Numbers of a scale: its ends, and its step beside them."""


def dial_in(hearing: MatchContext, spans: Sequence[TextSpan], slot: ExpectedSlot) -> tuple[Given, bool] | None:
    """The dial that a sentence tells, and whether all of it was said: a step that was not is one."""
    place = Place(slot, None, hearing.text.strip())
    letters = _letters(hearing)
    if len(set(letters)) == len(letters) > 1:
        return place.given(Dial.marked(letters)), True
    numbers = _once_more(
        [
            float(span.amount.parts[0][0].value)
            for span in spans
            if span.amount is not None and (span.kind is SpanKind.NUMBER or _counted(span))
        ]
    )
    if len(numbers) not in (ENDS, WITH_STEP) or numbers[0] >= numbers[1]:
        return None
    steps = [*numbers[ENDS:], *_fractions(hearing), *_in_words(hearing)]
    step = (*steps, 1.0)[0]
    if not 0 < step <= numbers[1] - numbers[0]:
        return None
    return place.given(Dial.numbered(numbers[0], numbers[1], step)), len(set(steps)) == 1


def _letters(hearing: MatchContext) -> tuple[str, ...]:
    """The letters of a dial, those between two ends as well."""
    letters = [token.text.upper() for token in hearing.tokens if len(token.text) == 1 and token.text.isupper()]
    ranged = any(token.key in hearing.vocabulary.loose.range_words for token in hearing.tokens)
    if len(letters) == ENDS and letters[0] < letters[1] and ranged:
        return tuple(chr(code) for code in range(ord(letters[0]), ord(letters[1]) + 1))
    return tuple(letters)


def _once_more(numbers: list[float]) -> list[float]:
    """ "De cinco en cinco" says a step twice."""
    same = len(numbers) > WITH_STEP and len(set(numbers[ENDS:])) == 1
    return numbers[:WITH_STEP] if same else numbers


def _counted(span: TextSpan) -> bool:
    """Whether an amount is a number with an ending: "by 2s" are no seconds."""
    return span.amount is not None and [unit for _, unit in span.amount.parts] == ["s"]


def _in_words(hearing: MatchContext) -> list[float]:
    return [float(step) for step, phrases in hearing.vocabulary.loose.steps.items() if hearing.says(phrases)]


def _fractions(hearing: MatchContext) -> list[float]:
    """Fractions in words, as in "with half marks between"."""
    found = (one for place in range(len(hearing.tokens)) for one in hearing.matcher.rule("fraction", place))
    return [float(numerals(one.captures)[0].value) for one in found]
