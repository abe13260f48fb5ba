"""A value for many rows with an exception in the same breath: what is said of fewer rows goes before what is said of
more, as in "all at twelve, row three thirteen"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from engine.messages import Entry, Given, Unclear


def with_exceptions(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """The entries without those values that another one of this utterance, for fewer rows, takes the row out of."""
    groups = [list(group) for _, group in groupby(entries, key=_together)]
    sizes = [(entry, len(group)) for group in groups for entry in group]
    return tuple(entry for entry, size in sizes if not any(_excepts(other, few, entry, size) for other, few in sizes))


def _together(entry: Entry) -> object:
    """Alike for values that one phrase gives to several rows."""
    if not isinstance(entry, Given) or entry.row is None:
        return id(entry)
    return entry.slot, entry.said, str(entry.value), entry.correcting


def _excepts(other: Entry, few: int, entry: Entry, size: int) -> bool:
    """A row that is named alone, its value still to be said, is excepted as well."""
    if not isinstance(other, Given | Unclear) or not isinstance(entry, Given) or entry.row is None:
        return False
    return few < size and (other.slot, other.row) == (entry.slot, entry.row)
