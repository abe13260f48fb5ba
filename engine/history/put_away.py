"""What became of what was left: weighed against the books of its shift, in which container, locked or not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from engine.dialog.facts.events import Computed
from engine.dialog.facts.role_values import as_word
from engine.dialog.schema.slot_roles import Phase, Role, holds
from engine.history.store.journal import StoredTurn
from engine.history.store.segments import Ending, Segment, segments
from engine.quantities import Measure

CHECK, AGREES = "put-away-check", "agrees"


class Tubes(StrEnum):
    """What became of measuring tubes and catch containers."""

    CLEANED = "cleaned"
    DISPOSED = "disposed"
    LATER = "not yet"


TUBES = {Role.TUBES_CLEANED: Tubes.CLEANED, Role.TUBES_DISPOSED: Tubes.DISPOSED, Role.TUBES_LATER: Tubes.LATER}


@dataclass(frozen=True)
class StorageRecord:
    """``first`` is the number of its first turn. ``put_back`` None was not weighed; ``booked`` is what the books said,
    ``outcome`` whether that agrees (agrees, less, more, not_weighed), ``gap`` by how much it does not.

    ``store`` is where it was locked up and ``locked_by`` who did it, ``empties`` how many containers were empty;
    ``tubes`` is None where none was used or nobody told."""

    first: int
    put_back: Measure | None
    booked: Measure
    outcome: str
    gap: Measure
    own_container: bool
    locked: bool
    store: str | None = None
    locked_by: str | None = None
    empties: int | None = None
    tubes: Tubes | None = None

    @property
    def agrees(self) -> bool:
        """Whether what was weighed is what the books said."""
        return self.outcome == AGREES


def put_aways(turns: Iterable[StoredTurn]) -> tuple[StorageRecord, ...]:
    """Those that were finished in the turns of one conversation, given from its first turn on, oldest first."""
    return tuple(_one(found) for found in segments(turns, Phase.STORAGE) if found.ending is Ending.FINISHED)


def _one(found: Segment) -> StorageRecord:
    state = found.state
    checked = [one.fact for one in found.steps if isinstance(one.fact, Computed) and one.fact.formula == CHECK][-1]
    put_back, booked, gap = state.of(Role.PUT_BACK), state.of(Role.LEFT_OVER), state.of(Role.GAP)
    locked = holds(state.records, Role.LOCKED, state.values) is True
    assert isinstance(booked, Measure) and isinstance(gap, Measure)
    return StorageRecord(
        first=found.first.seq,
        put_back=put_back if isinstance(put_back, Measure) else None,
        booked=booked,
        outcome=str(checked.outcome),
        gap=gap,
        own_container=holds(state.records, Role.OWN_CONTAINER, state.values) is True,
        locked=locked,
        store=as_word(state.of(Role.STORE)) if locked else None,
        locked_by=as_word(state.of(Role.LOCKED_BY)) if locked else None,
        empties=empties if isinstance(empties := state.of(Role.EMPTIES), int) else None,
        tubes=next((one for role, one in TUBES.items() if holds(state.records, role, state.values)), None),
    )
