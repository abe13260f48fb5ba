"""The label guard: what the label allows, at once and in a season, against rates said, expected and measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from engine.calculations.hoppers.label import label_check, season_check
from engine.calculations.rate import area_rate
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.book import Book
from engine.dialog.facts.role_values import as_measure
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import field_size, say_season
from engine.dialog.taking.season_total import season_total
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Reported
from engine.quantities import Measure, Quantity, measure
from engine.reminders.local_time import zone_called
from engine.shift.record.plan import Plan
from engine.shift.record.shift_facts import OverLabel
from engine.shift.record.shift_state import CALIBRATIONS, OVER
from engine.shift.turn import ShiftTurn
from engine.values import Value


def on_label(turn: ShiftTurn, rate: Quantity) -> bool:
    """Whether a rate is one that the label allows, as far as its limits are known; says where it is not."""
    outcome = _by_label(turn.plan, rate)
    if outcome == "below":
        turn.say(SystemKey.SHIFT_LABEL_BELOW, limit=turn.rough(turn.plan.needed(Role.LABEL_LOW)))
    elif outcome == "above":
        turn.say(SystemKey.SHIFT_LABEL_ABOVE, limit=turn.rough(turn.plan.needed(Role.LABEL_HIGH)))
    return outcome in ("within", None)


def guard(turn: ShiftTurn, rate: Measure, rows: Mapping[int, Measure]) -> bool:
    """Whether a measured rate, of the machine or of a row, is over the label's highest: notes it and says to stop."""
    over = tuple(row for row, one in rows.items() if _is_over(turn.plan, one))
    if not over and not _is_over(turn.plan, rate):
        return False
    high, whole = turn.plan.needed(Role.LABEL_HIGH), _is_over(turn.plan, rate)
    worst = rate if whole else max((rows[row] for row in over), key=lambda one: one.to("lb/acre").value)
    turn.builder.add(OverLabel(at=turn.now, rate=worst, limit=high, rows=() if whole else over))
    say_over(turn)
    return True


def _is_over(plan: Plan, rate: Value) -> bool:
    return isinstance(rate, Measure) and rate.value > 0 and _by_label(plan, rate.quantity) == "above"


def _by_label(plan: Plan, rate: Quantity) -> str | None:
    """Where a rate lies against the label; None where that was not told."""
    low, high = plan.measure(Role.LABEL_LOW), plan.measure(Role.LABEL_HIGH)
    if low is None or high is None:
        return None
    return label_check(rate, low.quantity, high.quantity, plan.spacing).outcome


def say_over(turn: ShiftTurn) -> None:
    """Stop, why, and what to do."""
    over = turn.shift.over
    if over is None:
        return
    rate, limit = turn.builder.wording.apart(over.rate, over.limit)
    if over.season:
        turn.say(AnswerKey.SEASON_OVER, where=str(turn.shift.now.get(str(Role.FIELD), "")), total=rate, limit=limit)
    elif over.rows:
        turn.say(SystemKey.SHIFT_OVER_LABEL_ROWS, place=turn.place(over.rows), rate=rate, limit=limit)
    else:
        turn.say(SystemKey.SHIFT_OVER_LABEL, rate=rate, limit=limit)


def barred(turn: TurnBuilder, plan: Plan) -> OverLabel | None:
    """The rate over the label that keeps a shift from planting: measured in a shift since the last test run and not
    decided on, or in the last run of the test run itself."""
    high = plan.measure(Role.LABEL_HIGH)
    if high is None:
        return None
    learned = turn.state.book.learned
    before = learned.get(OVER, 0.0)
    if before > 0 and learned.get(CALIBRATIONS) == float(calibrations(turn)):
        return OverLabel(at=turn.now, rate=Measure(value=before, unit="lb/acre"), limit=high)
    rates = plan.given.get(Role.ROW_RATE)
    known = rates if isinstance(rates, dict) else {}
    over = {row: one for row, one in known.items() if row in plan.loaded and _is_over(plan, one)}
    if not over:
        return None
    worst = max(over.values(), key=lambda one: _per_acre(plan, one))
    rate = Measure(value=_per_acre(plan, worst), unit="lb/acre")
    return OverLabel(at=turn.now, rate=rate, limit=high, rows=tuple(sorted(over)))


def calibrations(turn: TurnBuilder) -> int:
    """How often the dialog that a shift comes after was finished."""
    return turn.state.book.times.get(turn.script.after or "", 0)


def _per_acre(plan: Plan, rate: Value) -> float:
    assert isinstance(rate, Measure)
    return measure(area_rate(rate.quantity, plan.spacing), "lb/acre").value


def decided(turn: ShiftTurn, told: Reported) -> None:
    """The licensed applicator, by name, decides that planting goes on; or that is to be told yet."""
    if turn.shift.over is None:
        turn.say(SystemKey.SHIFT_NOTHING_TO_DECIDE)
        return
    if not isinstance(told.value, str):
        turn.say(SystemKey.SHIFT_WHO_DECIDES)
        return
    turn.note(told)
    turn.say(SystemKey.SHIFT_DECIDED, name=told.value)
    if turn.shift.paused:
        turn.say(SystemKey.SHIFT_MAY_PLANT)


def season_limit(book: Book, product: str | None) -> Measure | None:
    """The most that the label of a product allows in a season, where that was told."""
    return as_measure(book.things.known(Role.PRODUCT, product).get(Role.SEASON_HIGH))


def over_season(
    builder: TurnBuilder,
    plan: Plan,
    field: str | None,
    product: str | None,
    rate: Measure,
    here: Sequence[Applied] = (),
) -> OverLabel | None:
    """Where a pass at this rate brings a field over the season limit; None where it does not, or where that cannot be
    known. ``here`` is what this shift has applied before."""
    limit = season_limit(builder.state.book, product)
    if limit is None or field is None or product is None:
        return None
    size = plan.measure(Role.FIELD_AREA) if field == plan.word(Role.FIELD) else None
    size = size or field_size(builder.state.book, field)
    applied = (*builder.state.book.on_farm, *here)
    earlier = season_total(applied, field, product, builder.now, zone_called(builder.zone), size).earlier
    if earlier is None or earlier.value <= 0:
        return None
    found = season_check(earlier.quantity, rate.quantity, limit.quantity, plan.spacing)
    if found.outcome == "within":
        return None
    return OverLabel(at=builder.now, rate=measure(found.total, "lb/acre"), limit=limit, season=True)


def tell_season(builder: TurnBuilder, field: str | None, product: str | None, here: Sequence[Applied] = ()) -> None:
    """Say what a field has got of a product this year, where the label has a limit. ``here`` is what this shift has
    applied before."""
    limit = season_limit(builder.state.book, product)
    if limit is not None and field is not None and product is not None:
        say_season(builder, field, product, limit, builder.now, here)
