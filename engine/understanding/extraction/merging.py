"""What is told in one breath put together: clauses of one meaning, and reports: what is said twice counts once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from engine.messages import Entry, Given, Report, Reported
from engine.understanding.scanning.spans import SpanKind, is_amount
from engine.understanding.weighing.clauses import Clause
from engine.understanding.weighing.evidence import doubtful
from engine.understanding.weighing.meaning import VALUE

ONE_AT_A_TIME = frozenset({Report.LOT, Report.PLANTED, Report.REMAINING, Report.SPEED, Report.RATE})
"""Reports of which only one can be so."""
LEFT, REFILLED = "report:left", "report:refilled"
PAIRED = frozenset({"report:left", "report:level", "report:refilled", "report:caught"})
"""Reports of which each may be told of some rows, and the next amount of others."""


def agreed(cut: Sequence[Clause]) -> list[Clause]:
    """Clauses that follow each other with one meaning are as sure as the surest of them."""
    found = list(cut)
    for place in range(len(found) - 1):
        one, other = found[place : place + 2]
        weighs = any(span.kind in (SpanKind.AMOUNT, SpanKind.LEVEL) for span in one.spans)
        if one.meaning == REFILLED and other.meaning == LEFT and not weighs:
            other = replace(other, shares={REFILLED: other.sure})
            found[place + 1] = other
        if one.meaning == other.meaning:
            sure = max(found[place].sure, other.sure)
            found[place] = replace(found[place], shares={**one.shares, one.meaning: sure})
            found[place + 1] = replace(other, shares={**other.shares, other.meaning: sure})
    return found


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


def answers(entries: Sequence[Entry], by_row: bool = False) -> set[tuple[str, str]]:
    """The values among entries, each with its slot; of rows alone where they are told ``by_row``."""
    given = (one for one in entries if isinstance(one, Given) and (one.row is not None or not by_row))
    return {(one.slot, str(one.value)) for one in given}


def and_others(found: Sequence[Entry], entries: Sequence[Entry], group: Sequence[Clause]) -> list[Entry]:
    """All entries; the same of the rest as was said of others is asked about, with these: it would have been said of
    all."""
    told = answers(entries)
    rest = any(span.rest for clause in group for span in clause.spans) and group[0].meaning.startswith("option:")
    if not rest or told.isdisjoint(answers(found, by_row=True)):
        return [*found, *entries]
    return [doubtful(one) if answers([one]) & told else one for one in (*found, *entries)]


def merged(entries: Sequence[Entry]) -> list[Entry]:
    """The entries without doubles, and without a report of the whole planter that another one says more of."""
    found = [one for place, one in enumerate(entries) if not any(_is_same(one, other) for other in entries[:place])]
    found = _with_lot(found)
    found = [doubtful(one) if _is_disputed(one, found) else one for one in found]
    said = [(one.report, one.rows, one.rest) for one in found if isinstance(one, Reported) and one.value is not None]
    plain = [one for one in found if isinstance(one, Reported) and one.value is None]
    return [one for one in found if one not in plain or (one.report, one.rows, one.rest) not in said]


def _with_lot(entries: Sequence[Entry]) -> list[Entry]:
    """A lot told with a refill is what came in with it; one without its number beside other reports tells nothing."""
    told = [one for one in entries if isinstance(one, Reported)]
    lots = [one for one in told if one.report is Report.LOT]
    refills = [one for one in told if one.report is Report.REFILLED]
    if not lots or len(told) == len(lots):
        return list(entries)
    numbers = [one.value for one in lots if isinstance(one.value, str) and one.value]
    if len(refills) == 1 and len(numbers) <= 1:
        lot = numbers[0] if numbers else refills[0].lot
        filled = refills[0].model_copy(update={"lot": lot})
        return [filled if one is refills[0] else one for one in entries if one not in lots]
    return [one for one in entries if one not in lots or (isinstance(one, Reported) and one.value)]


def _is_disputed(entry: Entry, entries: Sequence[Entry]) -> bool:
    """Whether another report of the same breath tells another amount, or another answer of it another value."""
    if isinstance(entry, Given):
        others = (one for one in entries if isinstance(one, Given) and one.slot == entry.slot)
        return entry.row is None and any(one.value != entry.value for one in others)
    if not isinstance(entry, Reported) or entry.report not in ONE_AT_A_TIME:
        return False
    reports = (one for one in entries if isinstance(one, Reported) and one.report is entry.report)
    return any(one.value != entry.value for one in reports)


def _is_same(one: Entry, other: Entry) -> bool:
    if not (isinstance(one, Reported) and isinstance(other, Reported)):
        return False
    plain = {"said": "", "doubt": None}
    return one.model_copy(update=plain) == other.model_copy(update=plain)
