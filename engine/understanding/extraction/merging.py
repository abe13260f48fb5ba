"""Reports of one breath put together: what is said twice counts once."""

from __future__ import annotations

from collections.abc import Sequence

from engine.messages import Entry, Given, Report, Reported
from engine.understanding.extraction.inferring import doubtful


def merged(entries: Sequence[Entry]) -> list[Entry]:
    """The entries without doubles, and without a report of the whole planter that another one says more of."""
    found = [one for place, one in enumerate(entries) if not any(_is_same(one, other) for other in entries[:place])]
    found = _with_lot(found)
    found = [doubtful(one) if _is_disputed(one, found) else one for one in found]
    said = [(one.report, one.rows, one.rest) for one in found if isinstance(one, Reported) and one.value is not None]
    return [one for one in found if not _says_less(one, said)]


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


ONE_AT_A_TIME = frozenset({Report.LOT, Report.PLANTED, Report.REMAINING, Report.SPEED, Report.RATE})
"""Reports of which only one can be so."""


def _is_disputed(entry: Entry, entries: Sequence[Entry]) -> bool:
    """Whether another report of the same breath tells another amount, or another answer of it another value."""
    if isinstance(entry, Given):
        others = (one for one in entries if isinstance(one, Given) and one.slot == entry.slot)
        return entry.row is None and any(one.value != entry.value for one in others)
    return any(
        isinstance(entry, Reported)
        and isinstance(one, Reported)
        and one is not entry
        and one.report is entry.report
        and one.report in ONE_AT_A_TIME
        and one.value != entry.value
        for one in entries
    )


def _is_same(one: Entry, other: Entry) -> bool:
    if not (isinstance(one, Reported) and isinstance(other, Reported)):
        return False
    plain = {"said": "", "doubt": None}
    return one.model_copy(update=plain) == other.model_copy(update=plain)


def _says_less(entry: Entry, said: Sequence[tuple[object, ...]]) -> bool:
    return isinstance(entry, Reported) and entry.value is None and (entry.report, entry.rows, entry.rest) in said
