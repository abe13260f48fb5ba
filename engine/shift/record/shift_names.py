"""What field, product and lot are called in a shift, from which instant on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pydantic import AwareDatetime

from engine.messages import Message

FIELD, PRODUCT, LOT = "field", "product", "lot"
KINDS = (FIELD, PRODUCT, LOT)


class Named(Message):
    """What one of them is called from an instant on; ``value`` None is another one, not named yet."""

    at: AwareDatetime
    name: str
    value: str | None = None


def name_at(names: Sequence[Named], name: str, at: datetime) -> str | None:
    """What something was called at an instant; None where it had no name then."""
    before = [one.value for one in names if one.name == name and one.at <= at]
    return before[-1] if before else None


def called(
    names: Sequence[Named], name: str, at: datetime, value: str | None, *, late: bool = False
) -> tuple[Named, ...]:
    """The names with one more. ``late``: it is the name of what was told without one before."""
    nameless = [one for one in names if one.name == name and one.value is None]
    if late and value is not None and nameless:
        named = nameless[-1].model_copy(update={"value": value})
        return tuple(named if one is nameless[-1] else one for one in names)
    return tuple(sorted([*names, Named(at=at, name=name, value=value)], key=lambda one: one.at))
