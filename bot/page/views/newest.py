"""The newest test run and shift of a conversation, read from where they began and not from the first day on."""

from __future__ import annotations

from dataclasses import replace

from engine.dialog.facts.events import Started
from engine.dialog.schema.slot_roles import Phase
from engine.history.records import Calibration, calibrations
from engine.history.shifts import ShiftRecord, shifts
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import System

LOOKED_BACK = (400, 4_000)
"""How many turns are looked through at first, and then, before all of them are."""


def newest_calibration(journal: Journal, talk: str, system: System) -> Calibration | None:
    """The last calibration, in the units that are wanted now."""
    found = calibrations(since_start(journal, talk, Phase.CALIBRATION))
    return replace(found[-1], system=system) if found else None


def newest_shift(journal: Journal, talk: str, system: System) -> ShiftRecord | None:
    """The last shift, over or not, in the units that are wanted now."""
    found = shifts(since_start(journal, talk, Phase.SHIFT))
    return replace(found[-1], system=system) if found else None


def since_start(journal: Journal, talk: str, phase: Phase) -> tuple[StoredTurn, ...]:
    """The turns of a conversation from the last start of a dialog of this phase on; none where there was none."""
    last = journal.last(talk)
    for count in (*LOOKED_BACK, last):
        turns = journal.turns(talk, after=max(last - count, 0))
        for place in range(len(turns) - 1, -1, -1):
            begun = _start(turns[place], phase)
            if begun is not None:
                first = replace(turns[place], facts=turns[place].facts[begun:])
                return (first, *turns[place + 1 :])
        if count >= last:
            break
    return ()


def _start(turn: StoredTurn, phase: Phase) -> int | None:
    """The place of the fact with which such a dialog begins in a turn."""
    if not any(fact["kind"] == "started" for fact in turn.facts):
        return None
    facts = facts_of(turn)
    found = [place for place, one in enumerate(facts) if isinstance(one, Started) and one.phase is phase]
    return found[-1] if found else None
