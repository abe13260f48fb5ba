"""What was told of products, fields and applicators, and when: for records that hold what was true of their day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from engine.dialog.facts.book_facts import Registered, Renamed
from engine.dialog.facts.events import Fact
from engine.dialog.facts.neighbours import FarmTold
from engine.dialog.facts.register import same_name
from engine.dialog.schema.slot_roles import Phase, Role
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending, Segment, segments
from engine.history.store.turn_facts import facts_of
from engine.values import Value

CORRECTED_WITHIN = timedelta(days=90)
"""What is told so long after an application still corrects its record (own decision): a label or a certificate of
another year does not."""


@dataclass(frozen=True)
class _Told:
    at: datetime
    fact: Registered


@dataclass(frozen=True)
class ToldLater:
    """What a dialog about one application told of it: ``since`` is the first moment of that."""

    since: datetime
    values: dict[Role, Value]


@dataclass(frozen=True)
class Registry:
    """Everything that was told, in order."""

    told: tuple[_Told, ...]
    renamed: tuple[Renamed, ...]
    people: tuple[tuple[datetime, str], ...]
    later: tuple[ToldLater, ...]

    def name(self, kind: Role, name: str) -> str:
        """What something is called now that had this name once."""
        for one in self.renamed:
            if one.thing is kind and same_name(one.name, name):
                name = one.to
        return name

    def values(self, kind: Role, name: str | None, at: datetime) -> dict[Role, Value]:
        """What counts of a thing for an application at a moment: what was told last by the end of its time to be
        corrected, and what was told first after that where nothing was."""
        if name is None:
            return {}
        called, by = self.name(kind, name), at + CORRECTED_WITHIN
        mine = [
            one for one in self.told if one.fact.thing is kind and same_name(self.name(kind, one.fact.name), called)
        ]
        found: dict[Role, Value] = {}
        for one in mine:
            found |= {role: value for role, value in one.fact.values.items() if one.at <= by or role not in found}
        return found

    def applicator(self, at: datetime) -> str | None:
        """Who was told last to be the certified applicator by that time, else who was told first after it."""
        by = at + CORRECTED_WITHIN
        names = [name for when, name in self.people if when <= by][-1:] or [name for _, name in self.people][:1]
        return self.name(Role.APPLICATOR, names[0]) if names else None


def registry(turns: Sequence[StoredTurn]) -> Registry:
    """All of it in the turns of one conversation, given from its first turn on."""
    facts = [one for turn in turns for fact in facts_of(turn) for one in _said(fact, turn.said_at)]
    ended = [one for phase in (Phase.REGISTER, Phase.RECORD) for one in segments(turns, phase)]
    finished = sorted((one for one in ended if one.ending is Ending.FINISHED), key=lambda one: one.last.seq)
    return Registry(
        told=tuple(_Told(at, fact) for at, fact in facts if isinstance(fact, Registered)),
        renamed=tuple(fact for _, fact in facts if isinstance(fact, Renamed)),
        people=tuple(
            (one.last.said_at, name) for one in finished if isinstance(name := _of(one, Role.APPLICATOR), str)
        ),
        later=tuple(_later(finished)),
    )


def _said(fact: Fact, at: datetime) -> Iterator[tuple[datetime, Fact]]:
    """A fact and when it was said; what other planters of the farm told, each when it was said there."""
    if isinstance(fact, FarmTold):
        yield from ((one.at, one.fact) for one in fact.told)
    else:
        yield at, fact


def _later(finished: Iterable[Segment]) -> list[ToldLater]:
    roles = (Role.FIELD, Role.PRODUCT, Role.TOTAL)
    about = [one for one in finished if one.state.applied is not None]
    return [
        ToldLater(one.state.applied, {role: value for role in roles if (value := _of(one, role)) is not None})
        for one in about
        if one.state.applied is not None
    ]


def _of(found: Segment, role: Role) -> Value | None:
    value = found.state.of(role)
    return None if isinstance(value, dict) else value
