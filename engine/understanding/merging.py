"""Reports of one breath put together: what is said twice counts once, the same of other rows is one report."""

from __future__ import annotations

from collections.abc import Sequence

from engine.messages import DoubtReason, Entry, Report, Reported


def merged(entries: Sequence[Entry]) -> list[Entry]:
    """The entries with like reports of rows as one, and without one of the whole planter that another says more of."""
    found: list[Entry] = []
    for entry in entries:
        place = next((number for number, one in enumerate(found) if _alike(one, entry)), None)
        if place is None:
            found.append(entry)
        else:
            found[place] = _together(found[place], entry)
    found = [_asked(one) if _is_disputed(one, found) else one for one in found]
    said = [(one.report, one.rows, one.rest) for one in found if isinstance(one, Reported) and one.value is not None]
    return [one for one in found if not _says_less(one, said)]


ONE_AT_A_TIME = frozenset({Report.PLANTED, Report.REMAINING, Report.SPEED, Report.RATE})
"""Reports of which only one can be so."""


def _is_disputed(entry: Entry, entries: Sequence[Entry]) -> bool:
    """Whether another report of the same breath tells another amount."""
    return any(
        isinstance(entry, Reported)
        and isinstance(one, Reported)
        and one is not entry
        and one.report is entry.report
        and one.report in ONE_AT_A_TIME
        and one.value != entry.value
        for one in entries
    )


def _asked(entry: Entry) -> Entry:
    return entry.model_copy(update={"doubt": DoubtReason.INFERRED})


def _alike(one: Entry, other: Entry) -> bool:
    if not (isinstance(one, Reported) and isinstance(other, Reported)) or not (one.rows and other.rows):
        return False
    plain = {"rows": (), "said": "", "doubt": None}
    return one.model_copy(update=plain) == other.model_copy(update=plain)


def _together(one: Entry, other: Entry) -> Entry:
    assert isinstance(one, Reported)
    assert isinstance(other, Reported)
    rows = tuple(sorted({*one.rows, *other.rows}))
    said = f"{one.said}, {other.said}"
    return one.model_copy(update={"rows": rows, "said": said, "doubt": one.doubt or other.doubt})


def _says_less(entry: Entry, said: Sequence[tuple[object, ...]]) -> bool:
    return isinstance(entry, Reported) and entry.value is None and (entry.report, entry.rows, entry.rest) in said
