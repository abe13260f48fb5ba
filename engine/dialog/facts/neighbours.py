"""What the other planters of the same farm told: taken into a conversation as a fact, so that its fold needs no other.

A neighbour is another conversation of the farm. It is known here by the number of its first turn, which never changes
and tells nothing of a person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import timedelta
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from engine.dialog.facts.applied import Applied, renamed
from engine.dialog.facts.book_facts import Documented, Registered, Renamed
from engine.dialog.schema.slot_roles import Role
from engine.messages import Message

LOOK_BACK = timedelta(days=400)
"""What a neighbour applied so long before the last is not taken over (own decision): a season total is of one year."""


class Neighbour(Message):
    """Another planter of the farm as it is known here: up to its turn ``seq``, and what it ``applied``."""

    seq: int = 0
    applied: tuple[Applied, ...] = ()

    def renaming(self, kind: Role, name: str, to: str) -> Neighbour:
        """With a field or a product called otherwise."""
        return self.model_copy(update={"applied": renamed(self.applied, kind, name, to)})


class FarmEntry(Message):
    """What was told of a thing that is known by name, and when it was said there."""

    at: AwareDatetime
    fact: Annotated[Registered | Renamed | Documented, Field(discriminator="kind")]


class FarmTold(Message):
    """What neighbours told since they were last looked at: ``until`` is the newest turn of each that counts in it.

    ``told`` are things by name, in the order in which they were told. Of what a neighbour applied, ``applied`` are
    those that are new or changed, and those that began at the moments ``gone`` are no longer there.
    """

    kind: Literal["farm_told"] = "farm_told"
    until: dict[int, int]
    told: tuple[FarmEntry, ...] = ()
    applied: dict[int, tuple[Applied, ...]] = {}
    gone: dict[int, tuple[AwareDatetime, ...]] = {}


def farm_told(
    known: Mapping[int, Neighbour], now: Mapping[int, Neighbour], told: Iterable[FarmEntry]
) -> FarmTold | None:
    """What is new of neighbours as they stand ``now``, beside what is ``known`` here; None where nothing is."""
    new = {one: there for one, there in now.items() if there.seq > known.get(one, Neighbour()).seq}
    if not new:
        return None
    changed = {one: _changed(known.get(one, Neighbour()).applied, there.applied) for one, there in new.items()}
    gone = {one: _gone(known.get(one, Neighbour()).applied, there.applied) for one, there in new.items()}
    return FarmTold(
        until={one: there.seq for one, there in new.items()},
        told=tuple(told),
        applied={one: some for one, some in changed.items() if some},
        gone={one: some for one, some in gone.items() if some},
    )


def neighbours_after(known: Mapping[int, Neighbour], fact: FarmTold) -> dict[int, Neighbour]:
    """The neighbours once that was taken over."""
    return {**known, **{one: _after(known.get(one, Neighbour()), one, fact) for one in fact.until}}


def _after(known: Neighbour, number: int, fact: FarmTold) -> Neighbour:
    new = {one.since: one for one in fact.applied.get(number, ())}
    out = {*new, *fact.gone.get(number, ())}
    kept = [one for one in known.applied if one.since not in out]
    applied = sorted((*kept, *new.values()), key=lambda one: one.since)
    return Neighbour(seq=fact.until[number], applied=_recent(tuple(applied)))


def _changed(known: tuple[Applied, ...], now: tuple[Applied, ...]) -> tuple[Applied, ...]:
    held = {one.since: one for one in known}
    return tuple(one for one in counted(now) if held.get(one.since) != one)


def _gone(known: tuple[Applied, ...], now: tuple[Applied, ...]) -> tuple[AwareDatetime, ...]:
    there = {one.since for one in counted(now)}
    return tuple(one.since for one in known if one.since not in there)


def counted(applied: tuple[Applied, ...]) -> tuple[Applied, ...]:
    """What may count in a season total of the farm: what has a field and a product, of about a year."""
    return _recent(tuple(one for one in applied if one.field is not None and one.product is not None))


def _recent(applied: tuple[Applied, ...]) -> tuple[Applied, ...]:
    newest = max((one.since for one in applied), default=None)
    return tuple(one for one in applied if newest is not None and newest - one.since <= LOOK_BACK)


def renamings(facts: Iterable[object], kind: Role) -> Iterator[tuple[str, str]]:
    """Old and new names of things of a kind that were renamed, here or by a neighbour."""
    for fact in facts:
        told = [one.fact for one in fact.told] if isinstance(fact, FarmTold) else [fact]
        yield from ((one.name, one.to) for one in told if isinstance(one, Renamed) and one.thing is kind)
