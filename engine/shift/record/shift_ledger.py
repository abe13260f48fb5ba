"""The ledger of the hoppers: what was loaded and added, what was left, and so what was used in between.

loaded + added - left = used, row by row and over all. Between two levels that somebody told, what was used is known;
nothing that was only reckoned is ever booked. Several hoppers that were filled from bags together are known together
alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import StrEnum

from pydantic import AwareDatetime

from engine.messages import Message
from engine.quantities import Measure

POUNDS = "lb"


class Basis(StrEnum):
    """What a figure rests on: a weight; a level, a mark or a count that was told; speed, width and clock; or what is
    usual where nobody said."""

    MEASURED = "measured"
    TOLD = "told"
    RECKONED = "reckoned"
    ASSUMED = "assumed"


class HopperLevel(Message):
    """What one hopper held at an instant. ``own`` where it was told of this row, not of all of them in one word."""

    mass: Measure
    at: AwareDatetime
    basis: Basis = Basis.MEASURED
    own: bool = True


class Interval(Message):
    """One hopper from a level to a later one, with what was ``added`` in between; ``shared`` where some of what was
    added is known for several rows together alone, ``gap`` where something was added that nobody weighed."""

    start: HopperLevel
    end: HopperLevel
    added: Measure = Measure(value=0.0, unit=POUNDS)
    shared: bool = False
    gap: bool = False

    @property
    def used(self) -> Measure:
        """What left the hopper, without what was added for several rows together; below nothing where the words of
        two moments do not fit."""
        return pounds(in_pounds(self.start.mass) + in_pounds(self.added) - in_pounds(self.end.mass))

    @property
    def is_own(self) -> bool:
        """Whether it says something of this row beside the others."""
        return self.start.own and self.end.own and not self.shared and not self.gap

    def then(self, later: Interval) -> Interval:
        """This interval and the one that follows it as one."""
        return Interval(
            start=self.start,
            end=later.end,
            added=pounds(in_pounds(self.added) + in_pounds(later.added)),
            shared=self.shared or later.shared,
            gap=self.gap or later.gap,
        )


class HopperAccount(Message):
    """One hopper since its last known ``level``: what was ``added`` to it, its ``share`` of what went into several
    rows together, and whether something was added that nobody weighed."""

    level: HopperLevel
    added: Measure = Measure(value=0.0, unit=POUNDS)
    share: Measure = Measure(value=0.0, unit=POUNDS)
    gap: bool = False

    def read(self, level: HopperLevel) -> Interval:
        """The interval that a new level ends."""
        shared = in_pounds(self.share) > 0
        return Interval(start=self.level, end=level, added=self.added, shared=shared, gap=self.gap)


class Round(Message):
    """Every hopper from one known level to the next, and what was ``poured`` into several together meanwhile."""

    intervals: dict[int, Interval]
    poured: Measure = Measure(value=0.0, unit=POUNDS)

    @property
    def used(self) -> Measure | None:
        """What left all hoppers; None where something was added that nobody weighed."""
        if any(one.gap for one in self.intervals.values()):
            return None
        return pounds(sum(in_pounds(one.used) for one in self.intervals.values()) + in_pounds(self.poured))

    @property
    def added(self) -> Measure:
        """What was put in, as far as it was weighed."""
        return pounds(sum(in_pounds(one.added) for one in self.intervals.values()) + in_pounds(self.poured))

    @property
    def own(self) -> dict[int, Measure]:
        """What each row used, of those that were told by themselves."""
        return {row: one.used for row, one in self.intervals.items() if one.is_own}

    def over(self, between: Callable[[AwareDatetime, AwareDatetime], Measure]) -> Measure:
        """The area that was planted meanwhile, the mean of all hoppers, as ``between`` has it."""
        areas = [between(one.start.at, one.end.at).to("acre").value for one in self.intervals.values()]
        return Measure(value=sum(areas) / len(areas), unit="acre")

    def then(self, later: Round) -> Round:
        """This round and the one that follows it as one."""
        intervals = {row: one.then(later.intervals[row]) for row, one in self.intervals.items()}
        return Round(intervals=intervals, poured=pounds(in_pounds(self.poured) + in_pounds(later.poured)))


class HopperLedger(Message):
    """All hoppers in use. ``read`` are the intervals of rows whose level was told since the last round, ``poured`` what
    went into several rows together since then; ``rounds`` are those that were closed, oldest first."""

    accounts: dict[int, HopperAccount]
    read: dict[int, Interval] = {}
    poured: Measure = Measure(value=0.0, unit=POUNDS)
    rounds: tuple[Round, ...] = ()

    @classmethod
    def of(cls, loaded: Mapping[int, Measure], at: AwareDatetime) -> HopperLedger:
        """The ledger at the beginning, every hopper with what was put in."""
        return cls(accounts={row: HopperAccount(level=HopperLevel(mass=mass, at=at)) for row, mass in loaded.items()})

    # ---- what happens to it

    def reading(self, levels: Mapping[int, HopperLevel]) -> HopperLedger:
        """With levels that were told just now. A round in which something unweighed went in says nothing, so that the
        next one begins after it."""
        if self.round is not None and self.round.used is None:
            return self.closing().reading(levels)
        ended = {row: self.accounts[row].read(level) for row, level in levels.items()}
        read = {row: self.read[row].then(one) if row in self.read else one for row, one in ended.items()}
        accounts = {row: HopperAccount(level=level) for row, level in levels.items()}
        return self._with(read={**self.read, **read}, accounts={**self.accounts, **accounts})

    def adding(self, added: Mapping[int, Measure]) -> HopperLedger:
        """With what was put into each of these hoppers."""
        more = {row: pounds(in_pounds(self.accounts[row].added) + in_pounds(mass)) for row, mass in added.items()}
        return self._changed({row: {"added": mass} for row, mass in more.items()})

    def pouring(self, total: Measure, rows: Iterable[int]) -> HopperLedger:
        """With what was put into these hoppers together."""
        among = tuple(rows)
        each = in_pounds(total) / len(among)
        more = {row: pounds(in_pounds(self.accounts[row].share) + each) for row in among}
        changed = self._changed({row: {"share": mass} for row, mass in more.items()})
        return changed._with(poured=pounds(in_pounds(self.poured) + in_pounds(total)))

    def unweighed(self, rows: Iterable[int]) -> HopperLedger:
        """With something put into these hoppers that nobody weighed."""
        return self._changed({row: {"gap": True} for row in rows})

    def closing(self, *, again: bool = False) -> HopperLedger:
        """The round that every hopper has been told for becomes one of those that are closed; ``again`` where it only
        reads anew what the last one ended with."""
        new = self.round
        if new is None:
            return self
        rounds = (*self.rounds[:-1], self.rounds[-1].then(new)) if again else (*self.rounds, new)
        return self._with(rounds=rounds, read={}, poured=pounds(0.0))

    # ---- what it says

    @property
    def round(self) -> Round | None:
        """What is known since the last round, once every hopper was told; what was poured in while only some had been
        told is known of none."""
        if self.read.keys() != self.accounts.keys():
            return None
        late = any(in_pounds(one.share) > 0 for one in self.accounts.values())
        found = Round(intervals=self.read, poured=self.poured)
        gap = {row: one.model_copy(update={"gap": True}) for row, one in self.read.items()}
        return found if not late else found.model_copy(update={"intervals": gap})

    @property
    def whole(self) -> Round | None:
        """From the beginning to the last round that was closed; None before there is one."""
        found: Round | None = None
        for one in self.rounds:
            found = one if found is None else found.then(one)
        return found

    def held(self, row: int) -> Measure:
        """The last level of a hopper with all that went in since, as if nothing had left it."""
        one = self.accounts[row]
        return pounds(in_pounds(one.level.mass) + in_pounds(one.added) + in_pounds(one.share))

    def _changed(self, changes: Mapping[int, Mapping[str, object]]) -> HopperLedger:
        accounts = {row: self.accounts[row].model_copy(update=dict(update)) for row, update in changes.items()}
        return self._with(accounts={**self.accounts, **accounts})

    def _with(self, **changes: object) -> HopperLedger:
        return self.model_copy(update=changes)


def pounds(value: float) -> Measure:
    return Measure(value=value, unit=POUNDS)


def in_pounds(mass: Measure) -> float:
    return mass.to(POUNDS).value
