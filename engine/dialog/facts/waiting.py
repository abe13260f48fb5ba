"""What a dialog still waits for: rows that count, slots and rows without a value, values that a yes would keep."""

from __future__ import annotations

from engine.dialog.facts.state import DialogState
from engine.dialog.schema.script import Ask, Collect, Script, asks
from engine.dialog.schema.slot_roles import Phase
from engine.values import Rows


def row_count(script: Script, state: DialogState) -> int:
    """How many rows the planter has; 0 where the dialog does not know."""
    count = state.values.get(script.rows) if script.rows else None
    return count if isinstance(count, int) else 0


def rows_of(script: Script, state: DialogState) -> tuple[int, ...]:
    """The row numbers that count, as far as the dialog knows them; a check before work looks at those left out too."""
    out = () if state.phase is Phase.READINESS else state.left_out
    return tuple(row for row in range(1, row_count(script, state) + 1) if row not in out)


def open_rows(script: Script, state: DialogState, slot: str) -> tuple[int, ...]:
    """Rows still without a value, the one to ask for first; of those that the step may do without none."""
    spared = _spared(script, state, slot)
    rows = tuple(row for row in rows_of(script, state) if state.is_open(slot, row) and row not in spared)
    first = state.again.row if state.again and state.again.slot == slot else None
    return tuple(sorted(rows, key=lambda row: row != first))


def _spared(script: Script, state: DialogState, slot: str) -> frozenset[int]:
    """The rows that the run before showed need not be given again at the step that asks for a slot."""
    step = script.step(state.step) if state.step else None
    if not isinstance(step, Collect) or step.collect != slot or not state.runs or state.every:
        return frozenset()
    before = state.runs[-1]
    return frozenset(
        row for name, word in step.spares.items() for row, one in before.get(name, {}).items() if one == word
    )


def offered(script: Script, state: DialogState) -> Rows:
    """The values that a yes keeps now, one for every row; none where nothing is offered or anything was given."""
    step = script.step(state.step) if state.step else None
    if not isinstance(step, Collect) or step.offer is None or state.questions:
        return {}
    values, rows = state.rows.get(step.offer, {}), rows_of(script, state)
    fresh = open_rows(script, state, step.collect) == rows and not state.again
    return {row: values[row] for row in rows} if fresh and values.keys() >= set(rows) else {}


def offered_name(script: Script, state: DialogState) -> str | None:
    """The name that a yes keeps now; None where none is offered."""
    step = script.step(state.step) if state.step else None
    if not isinstance(step, Ask) or step.offered is None or state.questions or not state.is_open(step.ask):
        return None
    return state.offers.get(step.ask)


def is_waiting(script: Script, state: DialogState, slot: str) -> bool:
    """Whether a slot of the current step still lacks something."""
    if script.slots[slot].per_row:
        return bool(open_rows(script, state, slot))
    return state.is_open(slot)


def waiting(script: Script, state: DialogState) -> tuple[str, ...]:
    """The slots of the current step that still lack something, the one to ask for first."""
    step = script.step(state.step)
    open_slots = tuple(slot for slot in asks(step) if is_waiting(script, state, slot))
    first = state.again.slot if state.again else None
    return tuple(sorted(open_slots, key=lambda slot: slot != first))
