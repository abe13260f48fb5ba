"""When a treated field may be entered, as far as labels were told: the same moments at which the bell rings."""

from __future__ import annotations

from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.taking.application_taking import newest, where_told
from engine.dialog.taking.reentry_interval import KeptOut, keeping_out, kept_out_until
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.reminders.wall import zone_called

MOST = 5
"""So many fields are told at once."""


def say_entry(walk: TurnBuilder) -> None:
    """Until when to keep out of each field of the farm, what is treated now, and what nobody told of the label."""
    before = len(walk.lines)
    running = [one for one in keeping_out(walk.state, farm=True).values() if one.until > walk.now]
    for one in sorted(running, key=lambda one: one.until)[:MOST]:
        until = walk.wording.clock(one.until, walk.now)
        walk.say(AnswerKey.STILL_KEPT_OUT, where=_where(walk, one), until=until)
    dialog = walk.state.dialog
    if dialog and dialog.activity and dialog.activity.treating:
        walk.say(AnswerKey.ENTRY_IN_HAND, where=dialog.activity.treating)
    for treated in newest(walk.state.book):
        if kept_out_until(walk.state.book, treated) is None:
            walk.say(AnswerKey.ENTRY_UNTOLD, where=where_told(walk, treated))
    if len(walk.lines) == before:
        walk.say(AnswerKey.ENTRY_NONE)


def _where(walk: TurnBuilder, one: KeptOut) -> str:
    return one.field or walk.wording.day(one.since.astimezone(zone_called(walk.zone)).date())
