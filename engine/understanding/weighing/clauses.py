"""A sentence in clauses, each of one meaning: the way to cut it that makes the meanings likeliest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

from engine.understanding.scanning.spans import SpanKind, TextSpan

MOST_PIECES = 12
"""More pieces are taken as one clause: nobody says so much in one breath that can be told apart."""
CUT = 0.4
"""What a cut costs, as a logarithm of a share: two clauses must be that much clearer than one."""
MOST_TOGETHER = 6
CUT_ROWS = 0.1
"""What it costs between two clauses that each name rows and say something of them."""
LEAST = 1e-6


@dataclass(frozen=True)
class Clause:
    """Spans that mean one thing, with how likely each meaning of them is."""

    spans: tuple[TextSpan, ...]
    shares: dict[str, float]

    @property
    def meaning(self) -> str:
        return max(self.shares, key=lambda one: self.shares[one])

    @property
    def sure(self) -> float:
        return self.shares[self.meaning]


_TELLING = frozenset({"<area>", "<speed>", "<row_rate>", "<area_rate>"})
"""Amounts that are told by themselves; weights belong to what is said beside them."""

Weigh = Callable[[Sequence[TextSpan]], dict[str, float]]


def clauses(spans: Sequence[TextSpan], weigh: Weigh) -> list[Clause]:
    """The clauses of a sentence, in the order they were said."""
    parts = pieces(spans)
    if not parts:
        return []
    if len(parts) > MOST_PIECES:
        return [Clause(tuple(spans), weigh(spans))]
    must = [_must_cut(parts, place) for place in range(len(parts))]
    best: list[tuple[float, list[Clause]]] = [(0.0, [])]
    for end in range(1, len(parts) + 1):
        options = []
        for start in range(max(0, end - MOST_TOGETHER), end):
            inside = [span for piece in parts[start:end] for span in piece]
            if any(must[start + 1 : end]) or (end - start < len(parts) and not says_something(inside)):
                continue
            clause = Clause(tuple(inside), weigh(inside))
            cost, before = best[start]
            options.append((cost - log(max(clause.sure, LEAST)) + _cut(before, clause), [*before, clause]))
        best.append(min(options, key=lambda one: one[0]) if options else (float("inf"), []))
    return best[-1][1] or [Clause(tuple(spans), weigh(spans))]


def _must_cut(pieces: Sequence[Sequence[TextSpan]], place: int) -> bool:
    """Whether a piece begins a clause of its own: it names rows or an amount with words about them, as what is before
    it does."""
    if place == 0:
        return False
    if any(span.key == "<all-but>" for span in pieces[place - 1]) and pieces[place - 1][-1].kind is SpanKind.BREAK:
        return any(span.kind is SpanKind.WORD for span in pieces[place])
    measured = {span.key for span in pieces[place] if span.kind is SpanKind.AMOUNT}
    before_that = {span.key for span in pieces[place - 1] if span.kind is SpanKind.AMOUNT}
    if measured and before_that and not measured & before_that:
        return True
    if not _is_told(pieces[place]):
        return False
    before: list[TextSpan] = []
    for piece in reversed(pieces[:place]):
        before += piece
        if _is_told(before):
            return True
        if any(span.kind is SpanKind.WORD for span in piece):
            return False
    return False


def _is_told(spans: Sequence[TextSpan]) -> bool:
    """Whether something is said of rows or amounts."""
    if any(span.key in _TELLING for span in spans):
        return True
    words = sum(span.kind in (SpanKind.WORD, SpanKind.LEVEL) for span in spans)
    return bool(words) and any(span.kind in (SpanKind.ROWS, SpanKind.LEVEL) or span.row is not None for span in spans)


def _cut(before: Sequence[Clause], clause: Clause) -> float:
    if not before:
        return 0.0
    return CUT_ROWS if _names_rows(before[-1].spans) and _names_rows(clause.spans) else CUT


def _names_rows(spans: Sequence[TextSpan]) -> bool:
    return any(span.may_be_row for span in spans)


def pieces(spans: Sequence[TextSpan]) -> list[list[TextSpan]]:
    """The pieces between marks and joining words, each mark with the piece before it and each word with that after."""
    found: list[list[TextSpan]] = [[]]
    for place, span in enumerate(spans):
        joins = span.kind is SpanKind.JOIN and _has_words(found[-1]) and not _ends_rows(spans, place)
        if joins or _begins_anew(spans, place, found[-1]):
            found.append([span])
        elif span.kind is SpanKind.BREAK:
            found[-1].append(span)
            if _has_words(found[-1]):
                found.append([])
        else:
            found[-1].append(span)
    if len(found) > 1 and not _has_words(found[-1]):
        found[-2:] = [found[-2] + found[-1]]
    return _joined([piece for piece in found if piece])


def _joined(pieces: list[list[TextSpan]]) -> list[list[TextSpan]]:
    """Bare lists of rows or numbers with the words that they belong to: those before after a joining word, else those
    that follow."""
    found: list[list[TextSpan]] = []
    waiting: list[TextSpan] = []
    for place, piece in enumerate(pieces):
        said = any(span.kind in (SpanKind.WORD, SpanKind.LEVEL, SpanKind.MOMENT, SpanKind.AMOUNT) for span in piece)
        said = said or any(_ends_rows(piece, number) for number in range(1, len(piece)))
        bare = not said and not any(span.key == "<all-but>" for span in piece)
        follows = bool(found) and piece[0].kind is SpanKind.JOIN and not waiting
        if bare and follows and (place + 1 == len(pieces) or pieces[place + 1][0].kind is not SpanKind.JOIN):
            found[-1] += piece
        elif bare and place + 1 < len(pieces):
            waiting += piece
        else:
            found.append([*waiting, *piece])
            waiting = []
    if waiting:
        found.append(waiting)
    return found


def _ends_rows(spans: Sequence[TextSpan], place: int) -> bool:
    """Whether a joining word stands right behind rows and before a mark, so that it says something of them: "two
    also, three is loose"."""
    after = spans[place + 1] if place + 1 < len(spans) else None
    joins = spans[place].kind is SpanKind.JOIN and place > 0 and spans[place - 1].may_be_row
    return joins and (after is None or after.kind is SpanKind.BREAK)


def _begins_anew(spans: Sequence[TextSpan], place: int, piece: Sequence[TextSpan]) -> bool:
    """Whether other rows begin here without a mark before them: "seven is high rest are fine"."""
    if not spans[place].may_be_row or not piece or piece[-1].kind not in (SpanKind.WORD, SpanKind.LEVEL):
        return False
    after = spans[place + 1] if place + 1 < len(spans) else None
    if not _names_rows(piece) or after is None or after.kind is not SpanKind.WORD:
        return False
    return spans[place].rest or after.key in {span.key for span in piece[1:]} or _repeats(spans)


def _repeats(spans: Sequence[TextSpan]) -> bool:
    """Whether a word is said of one row after another, as in "one good two good three high"."""
    said = [after.key for row, after in pairwise(spans) if row.may_be_row and after.kind is SpanKind.WORD]
    return len(said) > len(set(said))


def _has_words(piece: Sequence[TextSpan]) -> bool:
    return any(not span.is_mark for span in piece)


def says_something(piece: Sequence[TextSpan]) -> bool:
    """Whether a piece is more than numbers or rows: those alone belong to a neighbour."""
    return any(
        span.kind not in (SpanKind.JOIN, SpanKind.BREAK, SpanKind.NUMBER, SpanKind.ROWS) or span.key == "<all-but>"
        for span in piece
    )
