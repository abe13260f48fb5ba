"""The schema of a dialog file: slots, results and steps. Data only; what it means stands in ``interpreter``.

A script runs from its first step to a ``finish``. Every jump goes forward except ``redo``, which opens another test
run at an ``ask`` or ``collect`` step; so a script cannot run in circles without hearing something new.
"""

from __future__ import annotations

from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any, Literal, Self

from pydantic import Discriminator, Field, Tag, model_validator

from engine.dialog.roles import Phase, Records
from engine.dialog.slot import Name, Result, Slot
from engine.messages import Message
from engine.texts import Text, Words

Target = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]
NEXT = "next"


# ---------------------------------------------------------------- steps


class Step(Message):
    """``id`` is needed where a jump leads to; other steps are numbered."""

    id: Name | None = None


class Say(Step):
    """A text; one that is ``daily`` is a caution, said once a day."""

    say: Text
    daily: bool = False
    then: Target = NEXT


class Ask(Step):
    """One slot. ``offered`` asks for a name where one was given before, ``{last}``, which a plain yes keeps. One that
    is ``known`` is asked only where something of its kind is known by name as the dialog begins."""

    ask: Name
    offered: Text | None = None
    known: bool = False
    then: Target = NEXT


class Collect(Step):
    """One slot for every row, in any order; ``also`` are further slots taken at the same time.

    ``offer`` names per-row values that a plain yes keeps for the rows still open; ``offered`` asks for it then.
    ``spares`` names per-row words of the run before, and which of them leaves a row out of what is waited for: it is
    taken where it is given all the same.
    """

    collect: Name
    also: tuple[Name, ...] = ()
    offer: Name | None = None
    offered: Text | None = None
    spares: dict[Name, str] = Field(default={}, max_length=1)
    then: Target = NEXT

    @model_validator(mode="after")
    def _asks_for_what_it_offers(self) -> Self:
        if (self.offer is None) != (self.offered is None):
            raise ValueError("offer and offered go together")
        return self


class Compute(Step):
    """A formula of the catalogue; ``runs`` passes a per-row value of every run so far."""

    compute: str
    with_: dict[str, Name] = Field(default={}, alias="with")
    runs: dict[str, Name] = {}
    into: dict[str, Name] = {}
    then: dict[str, Target] | None = None


class Branch(Step):
    """Go on by the option that was chosen."""

    branch: Name
    cases: dict[str, Target]


class Listing(Step):
    """One line for each row by the word that a per-row value holds there.

    ``{rows}`` joins the rows of one case for which the text says the same; signed results are told from least to most.
    Of the cases that are ``silent`` nothing is said. ``aloud`` are shorter texts for the ear, in the order in which
    they are said; ``rest`` says the last case of them without its rows, after others.
    """

    list_: Name = Field(alias="list")
    title: Text | None = None
    each: dict[str, Text]
    aloud: dict[str, Text] = {}
    rest: dict[str, Text] = {}
    silent: tuple[str, ...] = ()
    then: Target = NEXT


class Redo(Step):
    """Open another run at an ``ask`` or ``collect`` step; ``carry`` fills slots from per-row values of this run.

    Rows without such a value keep what the slot held, or are asked again where ``only`` what is carried stays.
    In a run for ``every`` row none is spared. A ``fresh`` one does not count with the runs before it: something common
    to all of them has changed.
    """

    redo: Name
    carry: dict[Name, Name] = {}
    only: bool = False
    every: bool = False
    fresh: bool = False


LEFT_OVER = "left-over"
"""The formula that a watch ends with."""


class Watch(Step):
    """Let an activity of this name watch, in any order, until it ends; ``into`` names what it gives then."""

    watch: str
    into: dict[str, Name] = {}
    then: Target = NEXT


class Refuse(Step):
    """End the dialog before anything of it counts, saying why and how to go on."""

    refuse: Text


class Finish(Step):
    finish: Text


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
        _kind,
        custom_error_type="unknown_step",
        custom_error_message=f"a step is one of {', '.join(_KINDS)}",
    ),
]


class Preset(StrEnum):
    """Values that the settings give to dialogs: the tolerance of a calibration and the rule that judges a run."""

    TOLERANCE = "tolerance"
    RULE = "rule"


class Renaming(Message):
    """The slots with the old and the new name of a thing."""

    old: Name
    new: Name


class Script(Message):
    """One dialog. ``phase`` is what it is to those who read its record, ``records`` its names by role.

    ``takes`` are values that a finished dialog ``after`` must have left, ``otherwise`` is said when it did not;
    ``may_take`` are taken where they are known; ``presets`` are values that come from the settings.
    ``recalls`` brings back per-row values of every run of this dialog's finished earlier ones, under names of their
    own, from those in which the values ``same`` were as they are now. ``stood`` are values as they stood when the
    dialog ``after`` last ended, or for slots of this one when it first ended since then, under names of their own.
    ``remembers`` are slots that keep the answer of an earlier time, ``carries`` slots that keep it when the dialog is
    left for another one and begun again soon. ``rows`` names the count of rows where anything is
    asked per row. ``registers`` names the slot with the name of a thing that is known from then on, with all that this
    dialog records of it; ``renames`` the slots with an old name of such a thing and its new one. ``stops_at`` is the
    step where it goes on when the operator has enough before the end.
    """

    dialog: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    format: Literal["2"]
    phase: Phase | None = None
    records: Records = {}
    opens: Words
    about: Text
    after: str | None = None
    takes: tuple[Name, ...] = ()
    may_take: tuple[Name, ...] = ()
    otherwise: Text | None = None
    presets: tuple[Preset, ...] = ()
    recalls: dict[Name, Name] = {}
    same: tuple[Name, ...] = ()
    stood: dict[Name, Name] = {}
    remembers: tuple[Name, ...] = ()
    carries: tuple[Name, ...] = ()
    rows: Name | None = None
    registers: Name | None = None
    renames: Renaming | None = None
    stops_at: Target | None = None
    slots: dict[Name, Slot]
    results: dict[Name, Result] = {}
    steps: tuple[AnyStep, ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        if bool(self.after) != bool(self.takes) or bool(self.after) != bool(self.otherwise):
            raise ValueError("after, takes and otherwise go together")
        return self

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
