"""What was applied where: one field with one product, from an instant to another, as an activity has it at its end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from pydantic import AwareDatetime

from engine.dialog.facts.register import same_name
from engine.dialog.schema.slot_roles import Role
from engine.messages import Message
from engine.quantities import Measure
from engine.values import Value


class Open(StrEnum):
    """Why the amount is not known: what was left was not told or weighed, something went in unweighed, two products
    went out between two weighings, or the words of two weighings do not fit."""

    NOT_LEFT = "not_left"
    UNWEIGHED = "unweighed"
    MIXED = "mixed"
    UNFIT = "unfit"


class Applied(Message):
    """One field with one product, without what nobody named; ``since`` and ``until`` are its first and last moment.

    ``by_clock``: the area is that of speed and clock, not of the operator. ``amount`` is product [mass]; ``shared``
    where it is an estimate: a part by area of what was weighed over more, or rests on hoppers taken as full.
    """

    since: AwareDatetime
    until: AwareDatetime
    area: Measure
    rate: Measure
    """The rate that was wanted [area rate]."""
    field: str | None = None
    product: str | None = None
    lots: tuple[str, ...] = ()
    by_clock: bool = False
    amount: Measure | None = None
    shared: bool = False
    open: Open | None = None

    def told(self, values: Mapping[Role, Value]) -> Applied:
        """With the names and the amount that were told of it later, where it has none."""
        field, product, total = values.get(Role.FIELD), values.get(Role.PRODUCT), values.get(Role.TOTAL)
        named = self.model_copy(
            update={
                "field": field if self.field is None and isinstance(field, str) else self.field,
                "product": product if self.product is None and isinstance(product, str) else self.product,
            }
        )
        if self.amount is not None or not isinstance(total, Measure):
            return named
        return named.model_copy(update={"amount": total, "open": None, "shared": False})


def renamed(applied: Iterable[Applied], kind: Role, name: str, to: str) -> tuple[Applied, ...]:
    """The same with a field or a product called otherwise."""
    key = {Role.FIELD: "field", Role.PRODUCT: "product"}.get(kind)
    return tuple(
        one.model_copy(update={key: to}) if key and same_name(getattr(one, key), name) else one for one in applied
    )
