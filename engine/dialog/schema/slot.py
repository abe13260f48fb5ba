"""The schema of what a dialog asks and shows: slots with their units, ranges and texts, and computed results."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from engine.data.texts import Text, Words
from engine.errors import InputError
from engine.expectation import Range, SlotKind
from engine.messages import Message, System
from engine.quantities import UNITS, Dimension, read_measure

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]


class Shown(Message):
    """The unit in which each system of units shows a quantity."""

    us: str
    """Shown where US units are."""
    metric: str
    """Shown where metric units are."""

    def unit(self, system: System) -> str:
        return self.us if system is System.US else self.metric

    @model_validator(mode="after")
    def _known_units(self) -> Self:
        for symbol in (self.us, self.metric):
            if symbol not in UNITS:
                raise ValueError(f"{symbol} is not a unit Rowhand knows")
        return self


class SlotOption(Message):
    """One option of a choice."""

    label: Text
    """The word on its button."""
    words: Words
    """What a person may say for it."""
    together: Text | None = None
    """The word for it where it is said of all rows at once, if that is not the first of its words."""


class Around(Message):
    """A usual range around a value that is known by then; else the slot has a ``usual`` range of its own as well."""

    value: Name
    """The value in its middle."""
    plus: Name | None = None
    """A value that comes on top of it."""
    within: float = Field(gt=0, lt=10)
    """The share by which it may be off, such as 0.5."""


class Check(Message):
    """A formula that looks at a value before it is kept. An outcome in neither ``refuse`` nor ``confirm`` is fine."""

    formula: str
    """The formula of the catalogue."""
    with_: dict[str, str] = Field(alias="with")
    """Its arguments, each with the name of a value; ``this`` is the one just given."""
    into: dict[str, Name] = {}
    """Its results, each with the name under which the texts of the check show it."""
    refuse: dict[str, Text] = {}
    """What is said on an outcome with which the value is not kept."""
    confirm: dict[str, Text] = {}
    """What is asked on an outcome with which the value is kept after a yes."""


class Slot(Message):
    """One thing to be asked."""

    kind: SlotKind
    """What sort of value it is."""
    name: Text
    """What it is called in read-backs."""
    called: Words | None = None
    """What a person may call it."""
    declined: Words | None = None
    """Words that leave it open; only of an ``optional`` slot that is not ``per_row``."""
    ask: Text
    """The question."""
    hint: Text | None = None
    """How to answer, said when help is asked for."""
    dimension: tuple[Dimension, ...] = ()
    """What a measure measures: one dimension, or a list of them."""
    units: tuple[str, ...] = ()
    """The units in which a measure may be said."""
    default: Shown | None = None
    """The units of a measure that is said without one, before it was given in another."""
    decimals: int = Field(default=0, ge=0, le=4)
    """Decimals that are shown of a measure, 0 to 4."""
    per_row: bool = False
    """Whether every row has its own."""
    optional: bool = False
    """Whether it may be skipped."""
    any_words: bool = False
    """Whether a text may be a whole list or a description, and so is kept as it was typed."""
    hard: Range | None = None
    """Outside of it a value is refused."""
    usual: Range | None = None
    """Outside of it a value is asked about before it is kept."""
    around: Around | None = None
    """A usual range around another value."""
    options: dict[Name, SlotOption] = {}
    """The answers of a choice, two or more."""
    at_once: Name | None = None
    """The answer of a choice ``per_row`` that one button gives to all rows."""
    dial: Name | None = None
    """The slot that holds the dial of a setting."""
    checks: tuple[Check, ...] = ()
    """Formulas that look at a value before it is kept."""

    @model_validator(mode="before")
    @classmethod
    def _ranges(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        given = {key: _range(data[key]) for key in ("hard", "usual") if isinstance(data.get(key), list)}
        single = data.get("dimension")
        return {**data, **given, **({"dimension": [single]} if isinstance(single, str) else {})}

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        measured = self.kind is SlotKind.MEASURE
        wrong = {
            "a measure needs a dimension, units and a default unit": measured
            and not (self.dimension and self.units and self.default),
            "only a measure has a dimension or units": not measured and bool(self.dimension or self.units),
            "a choice needs at least two options": self.kind is SlotKind.CHOICE and len(self.options) < 2,
            "only a choice has options": self.kind is not SlotKind.CHOICE and bool(self.options),
            "at_once is an option of a choice per_row": self.at_once is not None
            and not (self.per_row and self.at_once in self.options),
            "only a text is in any words": self.any_words and self.kind is not SlotKind.TEXT,
            "only an optional slot can be declined": bool(self.declined) and (not self.optional or self.per_row),
            "a setting names its dial": (self.kind is SlotKind.SETTING) != bool(self.dial),
            "the default unit is one of the units": measured
            and bool(self.default)
            and not {self.default.us, self.default.metric} <= set(self.units),  # type: ignore[union-attr]
        }
        for message, is_wrong in wrong.items():
            if is_wrong:
                raise ValueError(message)
        self._check_units()
        return self

    def _check_units(self) -> None:
        for symbol in self.units:
            if symbol not in UNITS or UNITS[symbol].dimension not in self.dimension:
                raise ValueError(f"{symbol} is not a unit of {' or '.join(self.dimension)}")
        for limits in (self.hard, self.usual):
            if limits and limits.unit and UNITS[limits.unit].dimension not in self.dimension:
                raise ValueError(f"the range in {limits.unit} is not one of {' or '.join(self.dimension)}")


def _range(pair: list[str]) -> dict[str, object]:
    """Read ["10 in", "60 in"] or ["1", "48"]."""
    if len(pair) != 2 or not all(isinstance(end, str) for end in pair):
        raise ValueError("a range is a lowest and a highest value")
    if all(end.replace(".", "", 1).isdigit() for end in pair):
        low, high, unit = float(pair[0]), float(pair[1]), None
    else:
        try:
            first, last = read_measure(pair[0]), read_measure(pair[1])
            low, high, unit = first.value, last.to(first.unit).value, first.unit
        except InputError as error:
            raise ValueError(str(error)) from error
    if not low < high:
        raise ValueError("a range runs from lower to higher")
    return {"low": low, "high": high, "unit": unit}


class Result(Message):
    """A computed quantity that texts may show."""

    name: Text
    """What it is called."""
    shown: Shown
    """The units in which it is shown."""
    decimals: int = Field(default=1, ge=0, le=4)
    """Decimals that are shown, 0 to 4."""
    signed: bool = False
    """Whether it is told as so much high or low."""


class Renaming(Message):
    """The slots with the old and the new name of a thing."""

    old: Name
    """The slot with the name of before."""
    new: Name
    """The slot with the name from now on."""
