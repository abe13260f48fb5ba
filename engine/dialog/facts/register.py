"""The register: things that were told once and are known by their name from then on, such as fields and products.

Which kinds there are and what is kept of each is said by dialogs with ``registers``; the role of the slot that holds
the name is the kind. What is told again is added to what is known; nothing is ever taken out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from engine.dialog.schema.script import Script
from engine.dialog.schema.slot_roles import Role, names_in, role_of
from engine.document import Document, having
from engine.messages import Message
from engine.values import Value

RESTRICTED_USE = "restricted"
"""The option of ``Role.RESTRICTED`` that says so."""


class RegisterEntry(Message):
    """What is known of one thing by role; ``name`` as it was told last. ``here``: it was told or named in this
    conversation, not by other planters of the farm alone. ``documents`` are kept with it."""

    name: str
    values: dict[Role, Value] = {}
    here: bool = True
    documents: tuple[Document, ...] = ()


class Register(Message):
    """All things by kind, those named here last at the end."""

    entries: dict[Role, tuple[RegisterEntry, ...]] = {}

    def of(self, kind: Role, name: str) -> RegisterEntry | None:
        """What is known under a name, capitals aside."""
        return next((one for one in self.entries.get(kind, ()) if same_name(one.name, name)), None)

    def known(self, kind: Role, name: str | None) -> dict[Role, Value]:
        """What is known under a name by role; nothing where there is no such thing, or no name."""
        found = self.of(kind, name) if name else None
        return found.values if found else {}

    def names(self, kind: Role) -> tuple[str, ...]:
        return tuple(one.name for one in self.entries.get(kind, ()))

    def kinds_of(self, name: str) -> tuple[Role, ...]:
        """The kinds in which something has this name."""
        return tuple(kind for kind in self.entries if self.of(kind, name) is not None)

    def named_here(self, kind: Role) -> tuple[str, ...]:
        """The names that were told or given in this conversation, the last at the end."""
        return tuple(one.name for one in self.entries.get(kind, ()) if one.here)

    def noting(self, kind: Role, name: str, values: Mapping[Role, Value], *, here: bool = True) -> Register:
        """With these values of a thing, new ones over those known; what is not told ``here`` keeps its place."""
        old = self.of(kind, name)
        known = RegisterEntry(name=name, here=here) if old is None else old
        new = known.model_copy(update={"values": {**known.values, **values}, "here": here or known.here})
        return self._placing(kind, new, old, here=here)

    def documenting(self, kind: Role, name: str, document: Document) -> Register:
        """With a document kept with a thing that is known; it keeps its place."""
        old = self.of(kind, name)
        if old is None:
            return self
        new = old.model_copy(update={"documents": having(old.documents, (document,))})
        return self._placing(kind, new, old, here=False)

    def renaming(self, kind: Role, name: str, to: str, *, here: bool = True) -> Register:
        """With a thing called otherwise; where ``to`` is known already they are one, and what ``to`` has stands."""
        old, there = self.of(kind, name), self.of(kind, to)
        if old is None:
            return self
        if there is None or same_name(name, to):
            return self._placing(kind, old.model_copy(update={"name": to}), old, here=here)
        both = RegisterEntry(
            name=there.name,
            values={**old.values, **there.values},
            here=old.here or there.here,
            documents=having(old.documents, there.documents),
        )
        left = [one for one in self.entries[kind] if one is not old]
        return Register(entries={**self.entries, kind: tuple(left)})._placing(kind, both, there, here=here)

    def _placing(self, kind: Role, new: RegisterEntry, old: RegisterEntry | None, *, here: bool) -> Register:
        """With ``new`` in place of ``old``: last where it is told here, else where it was, or first."""
        held = self.entries.get(kind, ())
        others = [one for one in held if one is not old]
        place = len(others) if here else next((at for at, one in enumerate(held) if one is old), 0)
        return Register(entries={**self.entries, kind: (*others[:place], new, *others[place:])})


def kinds(scripts: Iterable[Script]) -> dict[Role, frozenset[Role]]:
    """The kinds of things that dialogs register, and what is kept of each beside its name."""
    found: dict[Role, frozenset[Role]] = {}
    for script in scripts:
        kind = role_of(script.records, script.registers) if script.registers else None
        if kind is not None:
            found[kind] = found.get(kind, frozenset()) | frozenset(names_in(script.records)) - {kind}
    return found


def is_restricted(values: Mapping[Role, Value]) -> bool | None:
    """Whether a product is told to be of restricted use; None where that was not told."""
    told = values.get(Role.RESTRICTED)
    return None if told is None else told == RESTRICTED_USE


def folded_name(name: str | None) -> str | None:
    """A name without what does not tell it from others: capitals, and how many spaces stand in it."""
    return name and " ".join(name.casefold().split())


def named_in(names: Iterable[str], text: str) -> str | None:
    """The name that stands in a text, marks and capitals aside; the longest of several."""
    found = [name for name in names if spaced(name).strip() and spaced(name) in spaced(text)]
    return max(found, key=len, default=None)


def spaced(text: str) -> str:
    """The words of a text with a space around each, without marks and capitals."""
    plain = "".join(mark if mark.isalnum() else " " for mark in text.casefold())
    return f" {' '.join(plain.split())} "


def same_name(one: str | None, other: str | None) -> bool:
    """Whether two names are of one thing; what has no name is nothing else."""
    return one is not None and folded_name(one) == folded_name(other)
