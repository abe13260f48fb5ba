"""What finished dialogs left for others: the book of a conversation."""

from __future__ import annotations

from engine.dialog.events import Left
from engine.messages import Message
from engine.values import Rows, Value


class Ended(Message):
    """A finished dialog: the values that stood then, and its per-row values run by run."""

    dialog: str
    values: dict[str, Value]
    runs: tuple[dict[str, Rows], ...]


class Book(Message):
    """What finished dialogs left, and the last per-row values of any: what can be asked at any time.

    ``ended`` are the last dialogs that had runs, oldest first; ``efficiency`` is the field efficiency last learned.
    ``skipped`` is what each dialog does not ask again, ``left`` what one goes on with that was left for another.
    """

    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    finished: dict[str, str] = {}
    ended: tuple[Ended, ...] = ()
    efficiency: float | None = None
    skipped: dict[str, tuple[str, ...]] = {}
    left: dict[str, Left] = {}
