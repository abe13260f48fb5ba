"""What finished dialogs left for others: the book of a conversation."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from pydantic import AwareDatetime

from engine.dialog.activity import ActivityState, AnyState, KeptReport
from engine.dialog.facts.applied import Applied, renamed
from engine.dialog.facts.book_facts import Filled
from engine.dialog.facts.events import Fact, Kept, Left
from engine.dialog.facts.neighbours import Neighbour
from engine.dialog.facts.register import Register, same_name
from engine.dialog.facts.stock_facts import Stock
from engine.dialog.facts.yearbook import YEARS_KEPT, PastCalibration, Repair, without
from engine.dialog.schema.slot_roles import Records, Role, name_in, names_in
from engine.messages import Message
from engine.quantities import Measure
from engine.values import Rows, Value

MOST_NAMES, MOST_APPLIED = 12, 400
RECALL_DEPTH = 6


class Ended(Message):
    """A finished dialog: the values that stood then, its per-row values run by run, and what its names mean."""

    dialog: str
    values: dict[str, Value]
    runs: tuple[dict[str, Rows], ...]
    records: Records = {}


class Book(Message):
    """What finished dialogs left, and the last per-row values of any: what can be asked at any time."""

    values: dict[str, Value] = {}
    """What was left last, by name."""
    rows: dict[str, Rows] = {}
    """The same for what goes by rows."""
    roles: dict[Role, str] = {}
    """Names under which values were left last, by role."""
    finished: dict[str, str] = {}
    """Hash of the script that each dialog was finished by."""
    ended: tuple[Ended, ...] = ()
    """Dialogs that had runs, oldest first, as far as ``worth_keeping``."""
    learned: dict[str, float] = {}
    """Numbers that an activity begins with next time."""
    times: dict[str, int] = {}
    """How often each dialog was finished."""
    skipped: dict[str, tuple[str, ...]] = {}
    """What each dialog does not ask again."""
    left: dict[str, Left] = {}
    """What each dialog goes on with that was left for another one."""
    names: dict[str, tuple[str, ...]] = {}
    """Words that were given or told, by slot or report, newest last."""
    left_out: dict[int, str] = {}
    """Rows that are done without, each with the reason as it was said."""
    things: Register = Register()
    """What is known by its name."""
    stock: Stock = Stock()
    """What is held of products, as it was told."""
    cautioned: AwareDatetime | None = None
    """When the cautions of the day were said last."""
    past: tuple[PastCalibration, ...] = ()
    """The last calibrations that were finished, oldest first."""
    repairs: tuple[Repair, ...] = ()
    """The last repairs of rows, oldest first."""
    applied: tuple[Applied, ...] = ()
    """What was applied where, newest last."""
    last_applied: int = 0
    """How many of ``applied``, from the last one on, are those of ``watched``."""
    watched: AnyState | None = None
    """The activity that ended last."""
    neighbours: dict[int, Neighbour] = {}
    """The other planters of the farm, by number."""

    @property
    def on_farm(self) -> tuple[Applied, ...]:
        """What was applied here and by the other planters of the farm."""
        return (*self.applied, *(one for other in self.neighbours.values() for one in other.applied))

    def of(self, role: Role) -> Value | Rows | None:
        """What was left last of a role, per row where it is that."""
        name = self.roles.get(role, "")
        return self.rows[name] if name in self.rows else self.values.get(name)

    def having_named(self, key: str, name: str) -> Book:
        """With one more name, known from now on."""
        others = tuple(one for one in self.names.get(key, ()) if one.casefold() != name.casefold())
        return self.model_copy(update={"names": {**self.names, key: (*others, name)[-MOST_NAMES:]}})

    def renaming(self, kind: Role, name: str, to: str, *, here: bool = True) -> Book:
        """With a thing called otherwise, wherever its name may be given again; ``here`` or by another planter."""
        names = {key: tuple(dict.fromkeys(to if one.casefold() == name.casefold() else one for one in held))
                 for key, held in self.names.items()}  # fmt: skip
        things, applied = self.things.renaming(kind, name, to, here=here), renamed(self.applied, kind, name, to)
        values = _called(self.values, self.roles.get(kind), name, to)
        ended = tuple(
            one.model_copy(update={"values": _called(one.values, name_in(one.records, kind), name, to)})
            for one in self.ended
        )
        others = {number: one.renaming(kind, name, to) for number, one in self.neighbours.items()}
        return self.model_copy(
            update={
                "names": names,
                "things": things,
                "applied": applied,
                "neighbours": others,
                "values": values,
                "ended": ended,
            }
        )

    def having_applied(self, watched: ActivityState | None) -> Book:
        """With what was applied in an activity that has ended."""
        new = watched.applied() if watched else ()
        if not new:
            return self
        applied = (*self.applied, *new)[-MOST_APPLIED:]
        return self.model_copy(update={"applied": applied, "last_applied": len(new), "watched": watched})

    def having_put_back(self, put_back: Measure) -> Book:
        """With what was weighed as left after the activity that ended last; what was told of it later stays."""
        if self.watched is None:
            return self
        old, before = self.applied[-self.last_applied :], self.applied[: -self.last_applied]
        named = {one.since: {"field": one.field, "product": one.product} for one in old}
        told = tuple(one.model_copy(update=named.get(one.since, {})) for one in self.watched.applied(put_back))
        return self.model_copy(update={"applied": (*before, *told)})

    def having_told(self, since: datetime, values: Mapping[Role, Value]) -> Book:
        """With what was told later of what was applied from an instant on."""
        applied = tuple(one.told(values) if one.since == since else one for one in self.applied)
        return self.model_copy(update={"applied": applied})

    def leaving_out(self, rows: Collection[int], said: str) -> Book:
        """Without these rows from now on."""
        return self.model_copy(update={"left_out": {**self.left_out, **dict.fromkeys(rows, said)}})

    def taking_in(self, rows: Collection[int], still: Mapping[int, str]) -> Book:
        """With these rows again; those ``still`` out have that reason."""
        left = {row: why for row, why in self.left_out.items() if row not in rows}
        return self.model_copy(update={"left_out": {**left, **still}})

    def repaired(self, repair: Repair) -> Book:
        """With one more repair."""
        return self.model_copy(update={"repairs": (*self.repairs, repair)[-YEARS_KEPT:]})

    def not_repaired(self, rows: Collection[int]) -> Book:
        """Without the newest repair of each of these rows."""
        return self.model_copy(update={"repairs": without(self.repairs, rows)})


def _called(values: Mapping[str, Value], key: str | None, name: str, to: str) -> dict[str, Value]:
    """Values with another name of a thing where its old one stood."""
    found = values.get(key or "")
    return {**values, str(key): to} if isinstance(found, str) and same_name(found, name) else dict(values)


def named_in(book: Book, fact: Fact) -> Book:
    """The book with the word that a fact gave or told, where it is one; what is known by its name was named last."""
    match fact:
        case Kept(slot=key, row=None, value=str(name)):
            return book.having_named(key, name)
        case KeptReport(report=report, value=str(name)):
            return book.having_named(str(report), name)
        case Filled(thing=kind, name=name):
            return book.model_copy(update={"things": book.things.noting(kind, name, {})})
        case _:
            return book


def roles_known(known: Mapping[Role, str], records: Records, left: Collection[str]) -> dict[Role, str]:
    """The names of roles, with those of a dialog that ``left`` values under its own."""
    return {**known, **{role: name for role, name in names_in(records).items() if name in left}}


def worth_keeping(ended: Sequence[Ended]) -> tuple[Ended, ...]:
    """What a later dialog may look back at: of each dialog the last six, and the first since any other last ended.

    So many nights on one calibration push neither the calibration out nor the first night since.
    """
    places: dict[str, list[int]] = {}
    for place, one in enumerate(ended):
        places.setdefault(one.dialog, []).append(place)
    kept = {place for own in places.values() for place in own[-RECALL_DEPTH:]}
    for own in places.values():
        for other in places.values():
            kept.update([place for place in own if place > other[-1]][:1])
    return tuple(ended[place] for place in sorted(kept))
