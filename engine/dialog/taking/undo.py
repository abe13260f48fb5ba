"""Taking back what was kept or skipped last: one value, or one that was said for several rows at once."""

from __future__ import annotations

from engine.dialog.activity import KeptReport
from engine.dialog.facts.book_facts import RowsRepaired
from engine.dialog.facts.events import Kept, LeftOut, Skipped
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import place, row_places
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import asks
from engine.dialog.turns.turn_builder import TurnBuilder


def take_back(walk: TurnBuilder) -> None:
    """Undo the last thing, say what that was and what stands there now."""
    if not walk.dialog.undo:
        walk.say(SystemKey.NOTHING_TO_WITHDRAW)
        return
    did = walk.dialog.undo[-1].did
    if isinstance(did, KeptReport):
        walk.withdraw()
        walk.say(SystemKey.WITHDRAWN_REPORT, said=did.said)
    elif isinstance(did, LeftOut):
        walk.withdraw()
        walk.say(SystemKey.WITHDRAWN_OUT, rows=walk.wording.row_names(did.rows))
    elif isinstance(did, RowsRepaired):
        walk.withdraw()
        walk.say(AnswerKey.REPAIR_DROPPED, place=walk.wording.row_place(did.rows))
    elif isinstance(did, Kept) and len(did.together) > 1:
        _take_back_rows(walk, did)
    else:
        _take_back_one(walk, did)


def _take_back_rows(walk: TurnBuilder, did: Kept) -> None:
    slot = walk.script.slots[did.slot]
    left, rows = set(did.together), []
    while left and walk.dialog.undo and isinstance(one := walk.dialog.undo[-1].did, Kept) and _goes_with(one, did):
        walk.withdraw()
        left.discard(one.row or 0)
        rows.append(one.row or 0)
    where = row_places(walk.script, walk.wording, did.slot, sorted(rows))
    before = (walk.dialog.value(did.slot, row) for row in sorted(rows))
    again = dict.fromkeys(walk.wording.value(value, slot) for value in before if value is not None)
    if again:
        walk.say(SystemKey.WITHDRAWN_ROWS_TO, place=where, value=", ".join(again))
    else:
        walk.say(SystemKey.WITHDRAWN, place=where, value=walk.wording.value(did.value, slot))


def _goes_with(one: Kept, did: Kept) -> bool:
    return (one.slot, one.run, one.together) == (did.slot, did.run, did.together)


def _take_back_one(walk: TurnBuilder, did: Kept | Skipped) -> None:
    value = walk.dialog.value(did.slot, did.row) or (did.value if isinstance(did, Kept) else None)
    where = place(walk.script, walk.wording, did.slot, did.row)
    walk.withdraw()
    again = walk.dialog.value(did.slot, did.row)
    slot = walk.script.slots[did.slot]
    if again is not None:
        walk.say(SystemKey.WITHDRAWN_TO, place=where, value=walk.wording.value(again, slot))
    elif isinstance(did, Skipped) or value is None:
        walk.say(SystemKey.WITHDRAWN_SKIP, place=where)
    else:
        walk.say(SystemKey.WITHDRAWN, place=where, value=walk.wording.value(value, slot))


def return_to(walk: TurnBuilder, slot: str) -> None:
    """Walk on from the step that asks a slot once this utterance is done, as a value before it has changed.

    A slot that several branches ask is come to again from the beginning, along the branch that was taken.
    """
    places = [number for number, step in enumerate(walk.script.steps) if slot in asks(step)]
    here = walk.script.places[walk.dialog.step]
    if here in places or here < places[0]:
        return
    at = places[0] if len(places) == 1 else 0
    walk.back_to = at if walk.back_to is None else min(at, walk.back_to)
