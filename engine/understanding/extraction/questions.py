"""Questions about a row or an area, and rows that are done without, from the clauses that say so."""

from __future__ import annotations

from engine.entries.matching.match_context import MatchContext, total
from engine.intents import Topic
from engine.messages import Asked, Entry, LeavingOut, Unclear, UnclearReason
from engine.quantities import Dimension
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.weighing.clauses import Clause

MOST_SAID = 60


def asked(hearing: MatchContext, topic: Topic, clause: Clause) -> tuple[Entry, ...]:
    """A question, with the row or the area that stands in it."""
    rows = [span.rows[0] for span in clause.spans if span.kind is SpanKind.ROWS and len(span.rows) == 1]
    bare = [span.row for span in clause.spans if span.row is not None and span.row in hearing.every_row]
    row = rows[0] if len(rows) == 1 else bare[0] if len(bare) == 1 and not rows else None
    if row is not None and hearing.every_row and row not in hearing.every_row:
        return (Unclear(reason=UnclearReason.NO_SUCH_ROW, said=hearing.text[:MOST_SAID], row=row),)
    found = (
        total(span.amount, (Dimension.AREA,)) for span in clause.spans if span.kind is SpanKind.AMOUNT and span.amount
    )
    area = next((one for one in found if one is not None), None)
    return (Asked(topic=topic, row=row, amount=area if topic is Topic.HOW_MUCH else None),)


def left_out(hearing: MatchContext, clause: Clause, back: bool) -> tuple[Entry, ...] | None:
    """The rows that a clause names, to be done without or taken in again; None where it names none."""
    named = [row for span in clause.spans if span.kind is SpanKind.ROWS and not span.every for row in span.rows]
    named += [span.row for span in clause.spans if span.row is not None]
    rows = tuple(sorted(set(named)))
    if not rows or any(span.rest for span in clause.spans) or any(row not in hearing.every_row for row in rows):
        return None
    return (LeavingOut(rows=rows, back=back, said=hearing.text[:MOST_SAID]),)
