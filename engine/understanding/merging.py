"""Reports of one breath put together: what is said twice counts once, the same of other rows is one report."""

from __future__ import annotations

from collections.abc import Sequence

from engine.messages import Entry, Reported


def merged(entries: Sequence[Entry]) -> list[Entry]:
    """The entries with like reports of rows as one, and without one of the whole planter that another says more of."""
    found: list[Entry] = []
    for entry in entries:
        place = next((number for number, one in enumerate(found) if _alike(one, entry)), None)
        if place is None:
            found.append(entry)
        else:
            found[place] = _together(found[place], entry)
    said = [(one.report, one.rows, one.rest) for one in found if isinstance(one, Reported) and one.value is not None]
    return [one for one in found if not _says_less(one, said)]


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
