"""Values by what they mean, for whoever reads a conversation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from engine.dialog.schema.slot_roles import Records, Role, names_in
from engine.quantities import Measure

V = TypeVar("V")


def by_role(records: Records, values: Mapping[str, V]) -> dict[str, V]:
    """Values under the text of their roles, in the order in which they came; those without a role keep their name.

    A name without a role that is the text of one gets an underscore behind it.
    """
    roles: dict[str, list[Role]] = {}
    for role, name in names_in(records).items():
        roles.setdefault(name, []).append(role)
    taken = {str(role) for role in names_in(records)}
    found: dict[str, V] = {}
    for name, value in values.items():
        plain = f"{name}_" if name in taken else name
        found |= dict.fromkeys(map(str, roles[name]) if name in roles else [plain], value)
    return found


def as_measure(value: object) -> Measure | None:
    """A value where it is one measure."""
    return value if isinstance(value, Measure) else None


def as_word(value: object) -> str | None:
    """A value where it is one word or name."""
    return value if isinstance(value, str) else None
