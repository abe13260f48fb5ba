"""The schema of what a dialog asks and shows: slots with their units, ranges and texts, and computed results."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from engine.errors import InputError
from engine.expectation import Range, SlotKind
from engine.messages import Message, System
from engine.quantities import UNITS, Dimension, read_measure
from engine.texts import Text, Words

Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$")]


class Shown(Message):
    """The unit in which each system of units shows a quantity."""

    us: str
    metric: str

    def unit(self, system: System) -> str:
        return self.us if system is System.US else self.metric

    @model_validator(mode="after")
    def _known_units(self) -> Self:
        for symbol in (self.us, self.metric):
            if symbol not in UNITS:
                raise ValueError(f"{symbol} is not a unit Rowhand knows")
        return self


class Choice(Message):
    """One option of a choice: the word on its button and the words a person may use."""

    label: Text
    words: Words


class Around(Message):
    """A usual range around a value: ``within`` is a share such as 0.5, ``plus`` comes on top of it.

    The value is known by then, or the slot has a ``usual`` range of its own for where it is not.
    """

    value: Name
    plus: Name | None = None
    within: float = Field(gt=0, lt=10)


class Check(Message):
    """A formula that looks at a value before it is kept; ``this`` names the value just given.

    ``refuse`` and ``confirm`` say what happens on an outcome; outcomes in neither are fine.
    """

    formula: str
    with_: dict[str, str] = Field(alias="with")
    into: dict[str, Name] = {}
    refuse: dict[str, Text] = {}
    confirm: dict[str, Text] = {}


class Slot(Message):
    """One thing to be asked: its kind, units, ranges and texts; ``any_words`` is a text that may be a whole list or a
    description, and so is kept as it was typed. ``declined`` are words that leave it open."""

    kind: SlotKind
    name: Text
    called: Words | None = None
    declined: Words | None = None
    ask: Text
    hint: Text | None = None
    dimension: tuple[Dimension, ...] = ()
    units: tuple[str, ...] = ()
    default: Shown | None = None
    decimals: int = Field(default=0, ge=0, le=4)
    per_row: bool = False
    optional: bool = False
    any_words: bool = False
    hard: Range | None = None
    usual: Range | None = None
    around: Around | None = None
    options: dict[Name, Choice] = {}
    dial: Name | None = None
    checks: tuple[Check, ...] = ()

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
    if all(_is_number(end) for end in pair):
        low, high, unit = float(pair[0]), float(pair[1]), None
    else:
        low, high, unit = _measured(*pair)
    if not low < high:
        raise ValueError("a range runs from lower to higher")
    return {"low": low, "high": high, "unit": unit}


def _measured(lowest: str, highest: str) -> tuple[float, float, str]:
    try:
        first, last = read_measure(lowest), read_measure(highest)
        return first.value, last.to(first.unit).value, first.unit
    except InputError as error:
        raise ValueError(str(error)) from error


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


class Result(Message):
    """A computed quantity that texts may show; ``signed`` ones are told as so much high or low."""

    name: Text
    shown: Shown
    decimals: int = Field(default=1, ge=0, le=4)
    signed: bool = False
