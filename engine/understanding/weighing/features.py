"""What is seen of a clause when its meaning is weighed: its words and spans, in pairs, and what was asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from engine.expectation import Asking, Expectation
from engine.understanding.scanning.spans import SpanKind, TextSpan

PIECE = 4
"""Letters of a run."""
STEM = 5
"""Letters of a longer word that stand for all its endings, and for slips of the thumb behind them."""


def features(spans: Sequence[TextSpan], expectation: Expectation) -> tuple[str, ...]:
    """The features of a clause, each once."""
    keys = [span.key for span in spans if span.kind is not SpanKind.BREAK or span.key == "?"]
    return tuple(dict.fromkeys((*_words(keys), *_placed(spans, keys, expectation))))


def _words(keys: Sequence[str]) -> Iterator[str]:
    stems = [_stem(key) for key in keys]
    edged = ["^", *stems, "$"]
    for key, stem in zip(keys, stems, strict=True):
        yield f"w {key}"
        if stem != key:
            yield f"s {stem}"
    yield from (f"c {piece}" for key in keys for piece in _pieces(key))
    yield from (f"b {one} {two}" for one, two in pairwise(edged))
    yield from (f"k {one} {two}" for one, two in zip(stems, stems[2:], strict=False))
    yield from (f"t {one} {two} {three}" for one, two, three in zip(edged, edged[1:], edged[2:], strict=False))


def _pieces(key: str) -> Iterator[str]:
    """Runs of letters of a word with its edges: they outlast slips and endings."""
    if key.isalpha() and len(key) > PIECE:
        edged = f"<{key}>"
        yield from (edged[place : place + PIECE] for place in range(len(edged) - PIECE + 1))


def _stem(key: str) -> str:
    return key[:STEM] if key.isalpha() else key


def _placed(spans: Sequence[TextSpan], keys: Sequence[str], expectation: Expectation) -> Iterator[str]:
    """The same words where this is asked, and what was asked itself."""
    group = _question(expectation)
    yield f"@ {group}"
    yield from (f"@ {group} {_stem(key)}" for key in keys)
    values = sum(span.is_value for span in spans)
    rows = sum(span.kind is SpanKind.ROWS for span in spans)
    yield f"# {min(len(keys), 6)}"
    yield f"@ {group} values {min(values, 3)} rows {min(rows, 2)}"
    if values and any(_fits(span, expectation) for span in spans):
        yield "fits"
    if not values and not rows:
        yield "all words"


def _question(expectation: Expectation) -> str:
    """What kind of question is open."""
    if expectation.asking is Asking.SLOT:
        slot = expectation.slots[0]
        return f"{slot.kind}" + (f".{slot.name}" if slot.options else "")
    return str(expectation.asking)


def _fits(span: TextSpan, expectation: Expectation) -> bool:
    """Whether an amount has a unit of what is asked."""
    if span.kind is not SpanKind.AMOUNT or not expectation.slots:
        return False
    return any(span.key == f"<{dimension}>" for dimension in expectation.slots[0].dimensions)
