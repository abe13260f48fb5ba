"""What a member can reach: the planters, people and turns of one farm. Every look at a farm goes through here.

Somebody alone on an open record reaches their own conversation and nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from typing import TypeVar

from sqlalchemy import ColumnElement, Connection, func, insert, or_, select, true, update

from engine.crew.people import LONGEST_NAME, Member, begin, member_of
from engine.database import Database
from engine.dialog.facts.book_facts import Documented, Registered, Renamed
from engine.dialog.facts.neighbours import FarmEntry, FarmTold, Neighbour, farm_told
from engine.dialog.facts.register import same_name
from engine.dialog.schema.slot_roles import Phase
from engine.dialog.turns.elements import RecordTime
from engine.document import Document
from engine.facts import read_fact
from engine.history.alarms import EmergencyAsked, alarms
from engine.history.application import Application, applications
from engine.history.conversion import held_in
from engine.history.records import Calibration, calibrations
from engine.history.shifts import ShiftRecord, shifts
from engine.history.stock import StockChange, stock_changes
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.tables import conversation, fact, person, speaker, turn
from engine.messages import System

Recorded = TypeVar("Recorded", Calibration, ShiftRecord, Application)


@dataclass(frozen=True)
class FarmPlanter:
    """A planter of the farm: the conversation about it, and what it is called."""

    conversation: str
    name: str | None


def every_planter(database: Database) -> tuple[FarmPlanter, ...]:
    """All planters of a record, the oldest first: for who has the record itself in hand."""
    return _planters(database, true())


def _planters(database: Database, reached: ColumnElement[bool]) -> tuple[FarmPlanter, ...]:
    every = select(conversation).where(reached).order_by(conversation.c.created, conversation.c.id)
    with database.read() as connection:
        return tuple(FarmPlanter(row.id, row.planter) for row in connection.execute(every))


def called(planters: Sequence[FarmPlanter], numbered: Callable[[int], str]) -> dict[str, str]:
    """What the planter of each conversation is called: by name or as its number says, never after a chat."""
    return {one.conversation: one.name or numbered(number) for number, one in enumerate(planters, 1)}


def of_planter(record: Recorded, name: str) -> Recorded:
    """A record of a conversation under the name of its planter: the one it was told with, else that of the whole."""
    return replace(record, conversation=record.planter or name)


@dataclass(frozen=True)
class PlanterRecord:
    """What the record holds of one planter, under its name and in its units."""

    name: str
    turns: tuple[StoredTurn, ...]
    system: System

    def other(self, planter: str | None) -> str | None:
        """The name of a planter, where it is not the one that all of this stands under."""
        return None if same_name(planter, self.name) else planter

    @property
    def calibrations(self) -> tuple[Calibration, ...]:
        return self._mine(calibrations(self.turns))

    @property
    def shifts(self) -> tuple[ShiftRecord, ...]:
        return self._mine(shifts(self.turns))

    def applications(self, zone: tzinfo, within: RecordTime) -> tuple[Application, ...]:
        return self._mine(applications(self.turns, zone, within))

    @property
    def stock(self) -> tuple[StockChange, ...]:
        return tuple(replace(one, conversation=self.name, system=self.system) for one in stock_changes(self.turns))

    @property
    def alarms(self) -> tuple[EmergencyAsked, ...]:
        return tuple(replace(one, conversation=self.name) for one in alarms(self.turns))

    def _mine(self, records: Iterable[Recorded]) -> tuple[Recorded, ...]:
        return tuple(of_planter(replace(one, system=self.system), self.name) for one in records)


@dataclass(frozen=True)
class Handover:
    """From when on somebody spoke in a conversation."""

    name: str
    since: datetime


@dataclass(frozen=True)
class Farm:
    """The farm of ``member``."""

    database: Database
    member: Member

    def _mine(self) -> ColumnElement[bool]:
        """The one condition under which a conversation is reached."""
        if self.member.farm is None:
            return conversation.c.id == self.member.conversation
        return conversation.c.farm == self.member.farm

    def _reaches(self, connection: Connection, talk: str) -> bool:
        return (
            connection.execute(select(conversation.c.id).where(self._mine(), conversation.c.id == talk)).first()
            is not None
        )

    def planters(self) -> tuple[FarmPlanter, ...]:
        """All planters of the farm, the oldest first."""
        return _planters(self.database, self._mine())

    def planter_of(self, talk: str) -> str | None:
        """What the planter of a conversation is called; None where it has no name or is not of the farm."""
        return next((one.name for one in self.planters() if one.conversation == talk), None)

    def planter(self) -> FarmPlanter:
        """The one that the member works with."""
        own = self.member.conversation
        return next((one for one in self.planters() if one.conversation == own), FarmPlanter(own, None))

    def turns(self, talk: str) -> tuple[StoredTurn, ...]:
        """The turns of a conversation of the farm; none of any other."""
        with self.database.read() as connection:
            if not self._reaches(connection, talk):
                return ()
        return Journal(self.database).turns(talk)

    def records(self, numbered: Callable[[int], str], units: System) -> tuple[PlanterRecord, ...]:
        """What every planter holds, the oldest first, each in the units in which it is held; ``units`` are those it
        began in, ``numbered`` says what one without a name is called."""
        read = [(name, self.turns(talk)) for talk, name in called(self.planters(), numbered).items()]
        return tuple(PlanterRecord(name, turns, held_in(turns, units)) for name, turns in read)

    def calibrations(
        self, talk: str, until: int | None = None, phase: Phase = Phase.CALIBRATION
    ) -> tuple[Calibration, ...]:
        """The calibrations in a conversation of the farm, oldest first, as they stood after the turn ``until``."""
        return calibrations((one for one in self.turns(talk) if until is None or one.seq <= until), phase)

    def shifts(self, talk: str, until: int | None = None) -> tuple[ShiftRecord, ...]:
        """The shifts in a conversation of the farm, oldest first, as they stood after the turn ``until``."""
        return shifts(one for one in self.turns(talk) if until is None or one.seq <= until)

    def applications(self, talk: str, zone: tzinfo, within: RecordTime) -> tuple[Application, ...]:
        """The application records in a conversation of the farm, oldest first, by the calendar of ``zone``."""
        return applications(self.turns(talk), zone, within)

    def people(self) -> tuple[Member, ...]:
        """Everybody of the farm, in the order in which they joined."""
        mine = (
            select(person).where(person.c.farm == self.member.farm).order_by(person.c.joined_at, person.c.conversation)
        )
        with self.database.read() as connection:
            return tuple(map(member_of, connection.execute(mine)))

    def work_with(self, name: str, now: datetime) -> FarmPlanter:
        """Work with the planter of this name from now on.

        Where the farm has none, the member's own nameless one gets the name, else a new one begins.
        """
        wanted = " ".join(name.split())[:LONGEST_NAME]
        with self.database.begin() as connection:
            rows = connection.execute(select(conversation).where(self._mine())).all()
            same = next((row.id for row in rows if (row.planter or "").casefold() == wanted.casefold()), None)
            own = next((row for row in rows if row.id == self.member.conversation), None)
            if same is None and (self.member.farm is None or (own is not None and own.planter is None)):
                same = self.member.conversation
                self._call(connection, same, wanted, now, known=own is not None)
            elif same is None:
                assert self.member.farm is not None
                same = begin(connection, self.member.chat, self.member.farm, now, wanted)
            connection.execute(update(person).where(person.c.conversation == self.member.chat).values(talk=same))
        return FarmPlanter(same, wanted)

    def _call(self, connection: Connection, talk: str, name: str, now: datetime, *, known: bool) -> None:
        if known:
            connection.execute(update(conversation).where(conversation.c.id == talk).values(planter=name))
        else:
            new = {"id": talk, "farm": self.member.farm, "created": now, "planter": name}
            connection.execute(insert(conversation).values(new))

    def hand_over(self, name: str, now: datetime) -> Handover:
        """Note that somebody else speaks in this chat from now on."""
        wanted = " ".join(name.split())[:LONGEST_NAME]
        new = {"talk": self.member.conversation, "chat": self.member.chat, "name": wanted, "since": now}
        with self.database.begin() as connection:
            connection.execute(insert(speaker).values(new))
        return Handover(wanted, now)

    def speakers(self, talk: str) -> tuple[Handover, ...]:
        """Who spoke in a conversation of the farm, in order, as it was said; none of any other."""
        with self.database.read() as connection:
            if not self._reaches(connection, talk):
                return ()
            rows = connection.execute(select(speaker).where(speaker.c.talk == talk).order_by(speaker.c.id)).all()
        return tuple(Handover(row.name, row.since) for row in rows)


def told_on_farm(
    database: Database, talk: str, known: Mapping[int, Neighbour], stand: Callable[[str], Neighbour | None]
) -> FarmTold | None:
    """What the other planters of the farm of a conversation told that is not ``known`` there; None where nothing is
    new, or it belongs to no farm. ``stand`` says how one of them stands, None where that cannot be read."""
    with database.read() as connection:
        moved = {
            number: other
            for number, other, newest in _neighbours(connection, talk)
            if newest > known.get(number, Neighbour()).seq
        }
    now = {number: there for number, other in moved.items() if (there := stand(other)) is not None}
    if not now:
        return None
    spans = [(moved[number], known.get(number, Neighbour()).seq, there.seq) for number, there in now.items()]
    with database.read() as connection:
        return farm_told(known, now, tuple(_told(connection, spans)))


def labels(database: Database) -> Iterator[tuple[str, Document]]:
    """Every document that was kept with a product, under its name of then, in order: for who has the record in hand."""
    rows = select(fact.c.body).where(fact.c.kind == Documented.model_fields["kind"].default)
    with database.read() as connection:
        found = [read_fact(body) for body in connection.execute(rows.order_by(fact.c.id)).scalars()]
    told = [(one.name, one.document) for one in found if isinstance(one, Documented)]
    return iter(dict.fromkeys(told))


def _neighbours(connection: Connection, talk: str) -> list[tuple[int, str, int]]:
    """The other conversations of the farm in which anything was said: number of the first turn, name, newest turn."""
    farm = connection.execute(select(conversation.c.farm).where(conversation.c.id == talk)).scalar()
    if farm is None:
        return []
    later = turn.alias()
    newest = select(func.max(later.c.seq)).where(later.c.conversation == turn.c.conversation).scalar_subquery()
    others = select(turn.c.id, turn.c.conversation, newest).join(conversation, conversation.c.id == turn.c.conversation)
    mine = others.where(conversation.c.farm == farm, conversation.c.id != talk, turn.c.seq == 1).order_by(turn.c.id)
    return [(row[0], row[1], row[2]) for row in connection.execute(mine)]


def _told(connection: Connection, spans: Sequence[tuple[str, int, int]]) -> Iterator[FarmEntry]:
    """What was told of things by name in the turns after one and up to another of some conversations, in order."""
    told = [
        (turn.c.conversation == other) & (turn.c.seq > after) & (turn.c.seq <= until) for other, after, until in spans
    ]
    kinds = [one.model_fields["kind"].default for one in (Registered, Renamed, Documented)]
    rows = (
        select(turn.c.said_at, fact.c.body)
        .join(fact, fact.c.turn == turn.c.id)
        .where(fact.c.kind.in_(kinds), or_(*told))
        .order_by(turn.c.id, fact.c.ordinal)
    )
    for said_at, body in connection.execute(rows):
        found = read_fact(body)
        assert isinstance(found, Registered | Renamed | Documented)
        yield FarmEntry(at=said_at, fact=found)
