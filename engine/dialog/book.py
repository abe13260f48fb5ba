"""What finished dialogs left for others: the book of a conversation."""

from __future__ import annotations

from collections.abc import Sequence

from engine.dialog.events import Left
from engine.messages import Message
from engine.values import Rows, Value

MOST_NAMES = 12
RECALL_DEPTH = 6


class Ended(Message):
    """A finished dialog: the values that stood then, and its per-row values run by run."""

    dialog: str
    values: dict[str, Value]
    runs: tuple[dict[str, Rows], ...]


class Book(Message):
    """What finished dialogs left, and the last per-row values of any: what can be asked at any time.

    ``ended`` are dialogs that had runs, oldest first, as far as ``worth_keeping``; ``learned`` are numbers that an
    activity begins with next time, ``times`` how often each dialog was finished.
    ``skipped`` is what each dialog does not ask again, ``left`` what one goes on with that was left for another.
    ``names`` are words that were given or told, by slot or report, newest last.
    """

    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    finished: dict[str, str] = {}
    ended: tuple[Ended, ...] = ()
    learned: dict[str, float] = {}
    times: dict[str, int] = {}
    skipped: dict[str, tuple[str, ...]] = {}
    left: dict[str, Left] = {}
    names: dict[str, tuple[str, ...]] = {}

    def having_named(self, key: str, name: str) -> Book:
        """With one more name, known from now on."""
        others = tuple(one for one in self.names.get(key, ()) if one.casefold() != name.casefold())
        return self.model_copy(update={"names": {**self.names, key: (*others, name)[-MOST_NAMES:]}})


def worth_keeping(ended: Sequence[Ended]) -> tuple[Ended, ...]:
    """What a later dialog may look back at: of each dialog the last six, and the first since any other last ended.

    So many nights on one calibration push neither the calibration out nor the first night since.
    """
    places: dict[str, list[int]] = {}
    for place, one in enumerate(ended):
        places.setdefault(one.dialog, []).append(place)
    kept = {place for own in places.values() for place in own[-RECALL_DEPTH:]}
    for own in places.values():
        for other in places.values():
            kept.update([place for place in own if place > other[-1]][:1])
    return tuple(ended[place] for place in sorted(kept))
