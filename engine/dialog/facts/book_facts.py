"""Facts that hold outside any dialog as well: things that are known by name, the stock, repairs, cautions, alarms."""

from __future__ import annotations

from typing import Literal

from pydantic import AwareDatetime

from engine.dialog.facts.stock_facts import Hoppers, Movement
from engine.dialog.schema.slot_roles import Role
from engine.document import Document
from engine.messages import Message
from engine.quantities import Measure
from engine.values import Value


class Registered(Message):
    """Something was told of a thing that is known by name, by role; ``thing`` is its kind."""

    kind: Literal["registered"] = "registered"
    thing: Role
    name: str
    values: dict[Role, Value] = {}


class Renamed(Message):
    """A thing is called otherwise from now on; where ``to`` is known already, both are one thing."""

    kind: Literal["renamed"] = "renamed"
    thing: Role
    name: str
    to: str


class Documented(Message):
    """A document was kept with a thing that is known by name, such as the photo of a label with its product."""

    kind: Literal["documented"] = "documented"
    thing: Role
    name: str
    document: Document


class Filled(Message):
    """What is known of a thing was taken for slots that were open, when its name was given."""

    kind: Literal["filled"] = "filled"
    thing: Role
    name: str
    values: dict[str, Value]


class Stocked(Message):
    """A mass of a lot came in, was loaded or went back; ``weighed`` where that is surely so much of this lot."""

    kind: Literal["stocked"] = "stocked"
    product: str | None = None
    lot: str | None = None
    why: Movement
    mass: Measure
    weighed: bool = True


class HoppersLeft(Message):
    """What a shift left in the hoppers; nothing where they were emptied."""

    kind: Literal["hoppers_left"] = "hoppers_left"
    hoppers: Hoppers | None = None


class Cautioned(Message):
    """The cautions of the day were said at this moment: not again until the next day."""

    kind: Literal["cautioned"] = "cautioned"
    at: AwareDatetime


class Alarmed(Message):
    """Whom to call in an emergency was asked, or words that sound like one were said, at this moment.

    ``product`` and ``registration`` are what was known by then of what was handled.
    """

    kind: Literal["alarmed"] = "alarmed"
    at: AwareDatetime
    product: str | None = None
    registration: str | None = None


class RowsRepaired(Message):
    """Rows were rebuilt or got a new part, ``said`` in these words: what is known of their wear begins anew."""

    kind: Literal["repaired"] = "repaired"
    rows: tuple[int, ...]
    said: str
    at: AwareDatetime


class RepairDropped(Message):
    """The newest repair of these rows was none; ``undone`` where telling it was taken back."""

    kind: Literal["repair_dropped"] = "repair_dropped"
    rows: tuple[int, ...]
    undone: bool = False
