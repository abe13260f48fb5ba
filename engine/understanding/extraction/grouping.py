"""Clauses that go together: those of one meaning, whose rows and amounts may belong to each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from engine.understanding.scanning.spans import SpanKind, TextSpan, is_amount
from engine.understanding.weighing.clauses import Clause
from engine.understanding.weighing.meaning import VALUE

LEFT, REFILLED = "report:left", "report:refilled"
PAIRED = frozenset({"report:left", "report:level", "report:refilled", "report:caught"})
"""Reports of which each may be told of some rows, and the next amount of others."""


def agreed(cut: Sequence[Clause]) -> list[Clause]:
    """Clauses that follow each other with one meaning are as sure as the surest of them."""
    found = list(cut)
    for place in range(len(found) - 1):
        one, other = found[place : place + 2]
        if one.meaning == REFILLED and other.meaning == LEFT and not any(map(_weighs, one.spans)):
            other = replace(other, shares={REFILLED: other.sure})
            found[place + 1] = other
        if one.meaning == other.meaning:
            sure = max(found[place].sure, other.sure)
            found[place] = replace(found[place], shares={**one.shares, one.meaning: sure})
            found[place + 1] = replace(other, shares={**other.shares, other.meaning: sure})
    return found


def _weighs(span: TextSpan) -> bool:
    return span.kind in (SpanKind.AMOUNT, SpanKind.LEVEL)


def grouped(cut: Sequence[Clause]) -> list[list[Clause]]:
    """Clauses of one meaning that go together: rows and amounts of one may belong to another."""
    groups: list[list[Clause]] = []
    for clause in cut:
        before = groups[-1][-1] if groups else None
        if before is not None and clause.meaning == before.meaning and _goes_with(before, clause):
            groups[-1].append(clause)
        else:
            groups.append([clause])
    return groups


def _goes_with(before: Clause, clause: Clause) -> bool:
    if clause.meaning == VALUE:
        return True
    if not clause.meaning.startswith("report:"):
        return False
    amounts = [any(is_amount(span) for span in one.spans) for one in (before, clause)]
    return clause.meaning in PAIRED or not all(amounts)
