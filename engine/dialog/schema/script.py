"""The schema of a dialog file: slots, results and steps. Data only; what it means stands in ``interpreter``.

A script runs from its first step to a ``finish``. Every jump goes forward except ``redo``, which opens another test
run at an ``ask`` or ``collect`` step; so a script cannot run in circles without hearing something new.
"""

from __future__ import annotations

from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import Discriminator, Field, Tag, model_validator

from engine.data.texts import Text, Words
from engine.dialog.schema.slot import Name, Renaming, Result, Slot
from engine.dialog.schema.slot_roles import Phase, Records
from engine.messages import Language, Message

Target = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
NEXT = "next"


class Step(Message):
    """One step. One that has ``then`` goes on at the next step unless it names another."""

    id: Name | None = None
    """Needed where a jump leads to, and where the step says something; other steps are numbered."""


class Say(Step):
    """Says a text."""

    say: Text
    """What is said."""
    daily: bool = False
    """Whether it is a caution, said once a day."""
    then: Target = NEXT


class Ask(Step):
    """Asks for one slot and waits."""

    ask: Name
    """The slot."""
    offered: Text | None = None
    """Asks for a name where one was given before, ``{last}``, which a plain yes keeps."""
    known: bool = False
    """Whether it is asked only where something of its kind is known by name as the dialog begins."""
    then: Target = NEXT


class Collect(Step):
    """One slot for every row, in any order, several in a breath."""

    collect: Name
    """The slot, which is ``per_row``."""
    also: tuple[Name, ...] = ()
    """Further slots taken at the same time."""
    offer: Name | None = None
    """Per-row values that a plain yes keeps for the rows still open."""
    offered: Text | None = None
    """Asks for what is offered; it goes together with ``offer``."""
    spares: dict[Name, str] = Field(default={}, max_length=1)
    """Per-row words of the run before, and the one that lets a row be left out; where given, it is taken."""
    then: Target = NEXT

    @model_validator(mode="after")
    def _asks_for_what_it_offers(self) -> Self:
        if (self.offer is None) != (self.offered is None):
            raise ValueError("offer and offered go together")
        return self


class Compute(Step):
    """Calls a formula of the catalogue."""

    compute: str
    """The formula."""
    with_: dict[str, Name] = Field(default={}, alias="with")
    """Its arguments, each with the name of a value."""
    runs: dict[str, Name] = {}
    """Arguments that take a per-row value of every run so far."""
    into: dict[str, Name] = {}
    """Its results, each with the name under which it is kept."""
    then: dict[str, Target] | None = None
    """A step for each of its outcomes; needed where it has any."""


class Branch(Step):
    """Goes on by the option that was chosen."""

    branch: Name
    """A slot that is a choice."""
    cases: dict[str, Target]
    """A step for every option."""


class Listing(Step):
    """Says one line for each row by the word that a per-row value holds there, from least to most where signed."""

    list_: Name = Field(alias="list")
    """The per-row value."""
    title: Text | None = None
    """Said before the lines."""
    each: dict[str, Text]
    """The line of each case; with ``{rows}`` in it one line for all rows that are told the same."""
    aloud: dict[str, Text] = {}
    """Shorter lines for the ear, in the order in which they are said."""
    rest: dict[str, Text] = {}
    """Says the last case of those without its rows, after others."""
    silent: tuple[str, ...] = ()
    """Cases of which nothing is said."""
    then: Target = NEXT


class Redo(Step):
    """Opens another run at an ``ask`` or ``collect`` step before this one."""

    redo: Name
    """That step."""
    carry: dict[Name, Name] = {}
    """Slots that are filled from per-row values of this run; rows without one keep what the slot held."""
    only: bool = False
    """Whether rows without a carried value are asked again instead."""
    every: bool = False
    """Whether no row is spared in that run."""
    fresh: bool = False
    """Whether it does not count with the runs before it, since something common to all rows has changed."""


LEFT_OVER = "left-over"
"""The formula that a watch ends with."""


class Watch(Step):
    """Lets an activity take reports in any order until it ends; it finds what it needs by ``records``."""

    watch: str
    """The activity."""
    into: dict[str, Name] = {}
    """What it gives at its end, each with the name under which it is kept."""
    then: Target = NEXT


class Refuse(Step):
    """Ends the dialog before anything of it counts."""

    refuse: Text
    """Why, and how to go on."""


class Finish(Step):
    """Ends the dialog; later ones know what it learned."""

    finish: Text
    """The last words."""


_KINDS: dict[str, type[Step]] = {
    "say": Say,
    "ask": Ask,
    "collect": Collect,
    "compute": Compute,
    "branch": Branch,
    "list": Listing,
    "redo": Redo,
    "watch": Watch,
    "refuse": Refuse,
    "finish": Finish,
}


def _kind(data: Any) -> str | None:
    if isinstance(data, dict):
        return next((key for key in _KINDS if key in data), None)
    return next((key for key, kind in _KINDS.items() if type(data) is kind), None)


AnyStep = Annotated[
    Annotated[Say, Tag("say")]
    | Annotated[Ask, Tag("ask")]
    | Annotated[Collect, Tag("collect")]
    | Annotated[Compute, Tag("compute")]
    | Annotated[Branch, Tag("branch")]
    | Annotated[Listing, Tag("list")]
    | Annotated[Redo, Tag("redo")]
    | Annotated[Watch, Tag("watch")]
    | Annotated[Refuse, Tag("refuse")]
    | Annotated[Finish, Tag("finish")],
    Discriminator(
        _kind, custom_error_type="unknown_step", custom_error_message=f"a step is one of {', '.join(_KINDS)}"
    ),
]


class Preset(StrEnum):
    """Values that the settings give to dialogs: the tolerance of a calibration and the rule that judges a run."""

    TOLERANCE = "tolerance"
    RULE = "rule"


class Script(Message):
    """One dialog: what it is called, what it may know already, what it asks and reckons, and in which order."""

    dialog: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    """Its name, that of the file."""
    format: Literal["2"]
    """The format of the file."""
    phase: Phase | None = None
    """What it is for, to those who read its record."""
    records: Records = {}
    """Its names by role; for a yes or no the option that says it, as in ``{of: locked, is: safe}``."""
    opens: Words
    """What opens it."""
    about: Text
    """What it is, in a sentence."""
    after: str | None = None
    """Another dialog that must be finished; it goes together with ``takes`` and ``otherwise``."""
    takes: tuple[Name, ...] = ()
    """Values that the dialog ``after`` must have left."""
    may_take: tuple[Name, ...] = ()
    """Values that are taken where they are known."""
    otherwise: Text | None = None
    """Said when the dialog ``after`` did not leave what this one takes."""
    presets: tuple[Preset, ...] = ()
    """Values that come from the settings."""
    recalls: dict[Name, Name] = {}
    """Names for per-row values of every run of its own finished earlier ones."""
    same: tuple[Name, ...] = ()
    """Values that must be as now in those that ``recalls`` brings back."""
    stood: dict[Name, Name] = {}
    """Names for values as they stood when ``after`` last ended, or slots of this dialog at its first end since then."""
    remembers: tuple[Name, ...] = ()
    """Slots that keep the answer of an earlier time, so they are asked once."""
    carries: tuple[Name, ...] = ()
    """Slots that keep it when the dialog is left for another one and begun again within the night."""
    rows: Name | None = None
    """The count of rows; needed where anything is asked per row."""
    registers: Name | None = None
    """The slot with the name of a thing that is known from then on, with all that this dialog records of it."""
    renames: Renaming | None = None
    """The slots with an old name of such a thing and its new one."""
    stops_at: Target | None = None
    """The step where it goes on when the operator has enough before the end."""
    slots: dict[Name, Slot]
    """What it asks."""
    results: dict[Name, Result] = {}
    """Computed quantities that texts may show."""
    steps: tuple[AnyStep, ...] = Field(min_length=2)
    """What it does, in this order."""

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        if bool(self.after) != bool(self.takes) or bool(self.after) != bool(self.otherwise):
            raise ValueError("after, takes and otherwise go together")
        return self

    def opening(self, language: Language) -> str:
        """The first of the words that open it, by which it is called."""
        return self.opens.of(language)[0]

    def step_id(self, number: int) -> str:
        return self.steps[number].id or f"step_{number + 1}"

    def step(self, name: str) -> AnyStep:
        """The step of this id."""
        return self.steps[self.places[name]]

    @cached_property
    def places(self) -> dict[str, int]:
        """The number of every step by its id."""
        return {self.step_id(number): number for number in range(len(self.steps))}

    @cached_property
    def units(self) -> tuple[str, ...]:
        """The units in which something is asked."""
        return tuple(dict.fromkeys(unit for slot in self.slots.values() for unit in slot.units))

    @cached_property
    def asked_at(self) -> dict[str, int]:
        """The number of the first step that asks for each slot."""
        found: dict[str, int] = {}
        for number, step in enumerate(self.steps):
            for slot in asks(step):
                found.setdefault(slot, number)
        return found


def asks(step: Step) -> tuple[str, ...]:
    """The slots that a step fills."""
    match step:
        case Ask(ask=slot):
            return (slot,)
        case Collect(collect=slot, also=also):
            return (slot, *also)
        case _:
            return ()
