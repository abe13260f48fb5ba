"""The shift as an activity: what a step that watches a shift hands over to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from engine.dialog.activity import Reports
from engine.dialog.facts.events import Cancelled, Kept, TakenBack, Withdrawn
from engine.dialog.facts.role_values import as_word
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot_roles import Role, names_in
from engine.dialog.taking.application_taking import say_kept_out
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Asked, Commanded, Report, Reported
from engine.reminders.reminder import Change
from engine.shift import look_changes, look_prices, shift_answers  # noqa: F401
from engine.shift.look import WatchSettings, look_prompt, wanted
from engine.shift.record.plan import SHIFT, Plan
from engine.shift.record.shift_facts import Noted, ShiftStarted
from engine.shift.record.shift_state import CALLED, EFFICIENCY, ShiftState
from engine.shift.reports import report
from engine.shift.reports.label_reports import barred, calibrations, over_season, say_over, tell_season
from engine.shift.reports.leaving import depart
from engine.shift.turn import ShiftTurn
from engine.values import Value

_CHANGES = (Noted, TakenBack, ShiftStarted, Kept, Withdrawn)
_NAMES = (Role.PRODUCT, Role.LOT, Role.FIELD)


@dataclass(frozen=True)
class ShiftActivity:
    """Keeps watch over a shift, as the settings say."""

    settings: WatchSettings = field(default_factory=WatchSettings)

    @property
    def name(self) -> str:
        return SHIFT

    def expects(self, script: Script, state: ConversationState) -> Reports:
        shift = state.dialog.activity if state.dialog else None
        names = _names(script, state)
        if not isinstance(shift, ShiftState):
            return Reports(tuple(Report), names=names)
        down = tuple(sorted(shift.troubled))
        return Reports(tuple(Report), shift.naming, names, down=down, latest=_latest(state))

    def take(self, turn: TurnBuilder, reports: Sequence[Reported]) -> None:
        report.take_reports(turn, reports)

    def meant(self, turn: TurnBuilder, commanded: Commanded) -> Reported | None:
        return report.meant(turn, commanded)

    def answer(self, turn: TurnBuilder, asked: Asked) -> bool:
        shift = ShiftTurn.of(turn)
        return shift is not None and shift_answers.answer(shift, asked)

    def keep(self, turn: TurnBuilder) -> None:
        """Begin the shift where the dialog has come to it, and set the next look where anything has changed."""
        plan = Plan.of(turn.script, turn.dialog)
        if plan is None:
            return
        if turn.dialog.activity is None:
            turn.add(self._start(turn, plan))
            begun = ShiftTurn(turn, plan)
            if begun.shift.over:
                say_over(begun)
            else:
                begun.say(SystemKey.SHIFT_STARTED, time=begun.clock(turn.now))
        if any(isinstance(fact, _CHANGES) for fact in turn.facts):
            turn.add(wanted(ShiftTurn(turn, plan), self.settings))

    def _start(self, turn: TurnBuilder, plan: Plan) -> ShiftStarted:
        given = {role: plan.given[role] for role in _NAMES if role in plan.given}
        now: dict[str, Value] = {str(role): value for role, value in given.items() if not isinstance(value, dict)}
        learned = turn.state.book.learned.get(EFFICIENCY, self.settings.efficiency)
        field, product = (as_word(now.get(role)) for role in (Role.FIELD, Role.PRODUCT))
        say_kept_out(turn, field)
        tell_season(turn, field, product)
        over = barred(turn, plan) or over_season(turn, plan, field, product, plan.needed(Role.RATE))
        return ShiftStarted(
            at=turn.now,
            hoppers=plan.loaded,
            efficiency=learned,
            now=now,
            over=over,
            calibrations=calibrations(turn),
            speed=plan.planned_speed,
            spacing=plan.needed(Role.SPACING),
            rate=plan.needed(Role.RATE),
        )

    def prompt(self, dialog: DialogState, wording: Wording, now: datetime) -> str:
        return look_prompt(dialog.activity, wording, now) if isinstance(dialog.activity, ShiftState) else ""

    def hint(self, wording: Wording) -> str:
        return wording.say(SystemKey.SHIFT_HINT)

    def status(self, turn: TurnBuilder) -> None:
        shift = ShiftTurn.of(turn)
        if shift is not None:
            shift_answers.say_status(shift)

    def leave(self, turn: TurnBuilder, to_return: bool) -> Cancelled:
        shift = ShiftTurn.of(turn)
        return Cancelled(dialog=turn.dialog.dialog) if shift is None else depart(shift, to_return)

    def reminders(self, before: ConversationState, after: ConversationState) -> tuple[Change, ...]:
        return look_changes.changes(before, after, self.settings.zone)


def _latest(state: ConversationState) -> Reported | None:
    """The report that was kept last, as it was told."""
    undo = state.dialog.undo if state.dialog else ()
    did = undo[-1].did if undo else None
    if not isinstance(did, Noted):
        return None
    each = did.poured is None and bool(did.added)
    value = did.value if did.value is not None else next(iter(did.added.values()), did.poured)
    return Reported(report=did.report, rows=did.rows, value=value, each=each, full=did.full, said=did.said)


def _names(script: Script, state: ConversationState) -> dict[Report, tuple[str, ...]]:
    """The names that may be told: those told before, and those given for the slot of the same role."""
    slots = {str(role): name for role, name in names_in(script.records).items()}
    names = state.book.names
    listed = {str(kind): state.book.things.names(kind) for kind in state.book.things.entries}
    given = {one: (*listed.get(one, ()), *names.get(slots.get(one, ""), ()), *names.get(one, ())) for one in CALLED}
    return {one: tuple(dict.fromkeys(told)) for one, told in given.items()}
