"""What an activity needs to know of the dialog that hands over to it: which roles must be filled, and with what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from engine.calculations.catalogue import ValueType
from engine.definitions import Place
from engine.dialog.fault import Fault, nearest
from engine.dialog.script import Role, Watch


@dataclass(frozen=True)
class Requirements:
    """``needed`` roles must be filled; ``types`` says with what each may be, ``words`` which options a choice has."""

    needed: frozenset[Role]
    types: Mapping[Role, ValueType]
    words: Mapping[Role, frozenset[str]] = field(default_factory=dict)

    def faults(self, step: Watch, place: Place, types: Mapping[str, ValueType]) -> Iterator[Fault]:
        """Roles that are missing, or filled with something else."""
        for role in sorted(self.needed - step.watch.keys()):
            yield Fault((*place, "watch"), f"a watch needs {role}", f"add {role}, {self.types[role]}")
        for role, name in step.watch.items():
            found, wanted, where = types.get(name), self.types[role], (*place, "watch", role)
            if found and not (found.shape is wanted.shape and wanted.accepts(found)):
                mend = nearest(role, types, "name another value")
                yield Fault(where, f"{role} is {wanted}, but {name} is {found}", mend)
            elif found and role in self.words and set(found.words) != self.words[role]:
                words = ", ".join(sorted(self.words[role]))
                yield Fault(where, f"{role} has the options {words}", "give the choice these options")


REQUIREMENTS: dict[str, Requirements] = {}
"""What each activity needs, by the name that dialog files have for it."""
