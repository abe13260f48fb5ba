"""What may be said now: the dialog tells the ears, the reader and the buttons."""

from __future__ import annotations

from enum import StrEnum

from engine.messages import Language, Message, Report, Reported
from engine.quantities import Dimension, Measure
from engine.values import Dial, Value


class SlotKind(StrEnum):
    MEASURE = "measure"
    COUNT = "count"
    CHOICE = "choice"
    TEXT = "text"
    SETTING = "setting"
    DIAL = "dial"


class Range(Message):
    """Lowest and highest value, both allowed, in the unit named (None for a count or a dial)."""

    low: float
    high: float
    unit: str | None = None


class Option(Message):
    """One closed answer: its key, the word on its button, and the words a person may use for it."""

    key: str
    label: str
    words: tuple[str, ...]


class ExpectedSlot(Message):
    """One slot that can be filled now; what goes by rows is empty for a slot that does not."""

    name: str
    """The slot, by its name in the dialog."""
    kind: SlotKind
    """What kind of value it takes."""
    called: tuple[str, ...] = ()
    """Words for the slot itself, by which its value is told or corrected in passing."""
    declined: tuple[str, ...] = ()
    """Words that leave it open."""
    dimensions: tuple[Dimension, ...] = ()
    """Dimensions that its units may have."""
    units: tuple[str, ...] = ()
    """Units that it may be told in."""
    default_unit: str | None = None
    """Unit of a value that is told without one."""
    decimals: int = 0
    """Decimals that are shown."""
    hard: Range | None = None
    """Outside it a value is refused."""
    usual: Range | None = None
    """Outside it a value is asked about."""
    options: tuple[Option, ...] = ()
    """Its closed answers."""
    dial: Dial | None = None
    """The scale of the dial it is a setting of."""
    per_row: bool = False
    """Whether each row has a value of its own."""
    open_rows: tuple[int, ...] = ()
    """Rows that have none yet."""
    next_row: int | None = None
    """The row just asked for: a bare value is its."""
    next_rows: tuple[int, ...] = ()
    """The rows, where several are asked about together."""
    role: str | None = None
    """What it means to whoever reads the record."""
    names: tuple[str, ...] = ()
    """Words that were given for a TEXT before."""
    told: dict[int, Value] = {}
    """Values that stand, by row; by 0 where it does not go by rows."""
    any_words: bool = False
    """Whether a TEXT is no name but a list or a description, kept as it was typed."""
    offered: str | None = None
    """Name that a plain yes keeps."""
    mark: Measure | None = None
    """How much lies between two marks of what it is read from, where that is known."""
    step: Measure | None = None
    """The smallest that its scale shows, where that is known."""

    @property
    def asked_rows(self) -> tuple[int, ...]:
        """The rows that a bare value is for."""
        return self.next_rows or ((self.next_row,) if self.next_row is not None else ())


class Asking(StrEnum):
    """What kind of answer is waited for."""

    NOTHING = "nothing"
    SLOT = "slot"
    CONFIRM = "confirm"
    CHOOSE = "choose"
    REPORT = "report"


CLOSED = frozenset({Asking.CONFIRM, Asking.CHOOSE})
"""Questions of few answers. By voice these and the values are listened for, with commands and an emergency and no more,
as each phrase is one more that a yes in noise can be taken for; and a value that is unusual there is rather one."""


class Latest(Message):
    """The place of the value that was kept last, which "no, it was 48" is about."""

    slot: str
    row: int | None = None


class Expectation(Message):
    """What may be answered now: to guide the ears, to read the words, to draw the buttons.

    ``slots`` can be filled now (the first is the one asked for); ``known`` were filled before and can be corrected
    by name. ``rows`` is the planter's row count where it is known. ``candidates`` are the texts to choose from when
    ``asking`` is CHOOSE, and the single doubtful one when it is CONFIRM; ``ways`` names those that a report may be
    meant in. ``dialogs`` maps a dialog's name to the words that open it. ``reports`` may be told, in any order; of
    ``naming`` the name was not said, so that words which mean nothing else are it. ``names`` are those told before with
    each report. ``latest`` is where the last value was kept, ``latest_report`` the last report; ``down`` are rows told
    as stopped or high. ``units`` are those of amounts that are told without one, one a dimension. ``ahead`` are slots
    that will be asked later on: they can be filled now as well. ``elsewhere`` are units of what the dialogs ask at
    other places: what is told in them is heard as what it is.
    """

    language: Language
    asking: Asking = Asking.NOTHING
    slots: tuple[ExpectedSlot, ...] = ()
    known: tuple[ExpectedSlot, ...] = ()
    rows: int | None = None
    candidates: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()
    dialogs: dict[str, tuple[str, ...]] = {}
    reports: tuple[Report, ...] = ()
    naming: Report | None = None
    names: dict[Report, tuple[str, ...]] = {}
    latest: Latest | None = None
    down: tuple[int, ...] = ()
    latest_report: Reported | None = None
    units: tuple[str, ...] = ()
    ahead: tuple[ExpectedSlot, ...] = ()
    elsewhere: tuple[str, ...] = ()

    @property
    def asked(self) -> ExpectedSlot | None:
        """The slot that is asked for; None where none is open."""
        return self.slots[0] if self.slots else None

    @property
    def every_slot(self) -> tuple[ExpectedSlot, ...]:
        """The slots that are open, those filled before, and those ahead."""
        return (*self.slots, *self.known, *self.ahead)

    def only(self, slot: ExpectedSlot) -> Expectation:
        """The same, with one slot asked for alone."""
        return self.model_copy(update={"slots": (slot,), "known": (), "ahead": (), "latest": None})

    def slot(self, name: str) -> ExpectedSlot | None:
        """The slot of a name, an open one before any other."""
        return next((one for one in self.every_slot if one.name == name), None)

    @property
    def anywhere(self) -> tuple[ExpectedSlot, ...]:
        """Slots ahead whose values may be told anywhere in a sentence: no names, nothing that is told row by row."""
        return tuple(slot for slot in self.ahead if not slot.per_row and slot.kind is not SlotKind.TEXT)

    @property
    def declined(self) -> tuple[str, ...]:
        """Words that leave open what is asked for."""
        return self.asked.declined if self.asking is Asking.SLOT and self.asked else ()

    @property
    def asks_name(self) -> bool:
        """Whether a name is asked for, so that almost any words may be the answer."""
        return self.asking is Asking.SLOT and self.slots[0].kind is SlotKind.TEXT

    @property
    def chooses_by_row(self) -> bool:
        """Whether closed answers are told row by row."""
        return any(slot.per_row and slot.options for slot in self.slots)
