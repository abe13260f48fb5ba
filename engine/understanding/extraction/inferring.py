"""What was inferred rather than said carries a doubt, so that it is asked about."""

from __future__ import annotations

from collections.abc import Sequence

from engine.messages import DoubtReason, Entry, Given, Reported
from engine.understanding.scanning.spans import SpanKind
from engine.understanding.weighing.clauses import Clause


def and_others(found: Sequence[Entry], entries: Sequence[Entry], group: Sequence[Clause]) -> list[Entry]:
    """All entries; the same of the rest as was said of others is asked about, with these: it would have been said of
    all."""
    said = [span for clause in group for span in clause.spans if span.kind is SpanKind.ROWS]
    rest = any(span.rest for span in said)
    before = {(one.slot, str(one.value)) for one in found if isinstance(one, Given) and one.row is not None}
    same = any(isinstance(one, Given) and (one.slot, str(one.value)) in before for one in entries)
    asked = rest and same and group[0].meaning.startswith("option:")
    told = {(one.slot, str(one.value)) for one in entries if isinstance(one, Given)}
    alike = [one for one in found if isinstance(one, Given) and (one.slot, str(one.value)) in told]
    beside = [doubtful(one) if asked and one in alike else one for one in found]
    return [*beside, *(doubtful(one) if asked and isinstance(one, Given) else one for one in entries)]


def doubtful(entry: Entry) -> Entry:
    """A value or a report with a doubt; anything else as it is."""
    if not isinstance(entry, Given | Reported) or entry.doubt is not None:
        return entry
    return entry.model_copy(update={"doubt": DoubtReason.INFERRED})
