"""The season guard: what a field has got of a product this year with the pass that is planned, against the label."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calculations.hoppers.season import season_check
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.book import Book
from engine.dialog.facts.role_values import as_measure
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import field_size, say_season
from engine.dialog.taking.season_total import season_total
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure, measure
from engine.reminders.wall import zone_called
from engine.shift.record.plan import Plan
from engine.shift.record.shift_facts import OverLabel


def season_limit(book: Book, product: str | None) -> Measure | None:
    """The most that the label of a product allows in a season, where that was told."""
    return as_measure(book.things.known(Role.PRODUCT, product).get(Role.SEASON_HIGH))


def over_season(
    walk: TurnBuilder, plan: Plan, field: str | None, product: str | None, rate: Measure, here: Sequence[Applied] = ()
) -> OverLabel | None:
    """Where a pass at this rate brings a field over the season limit; None where it does not, or where that cannot be
    known. ``here`` is what this shift has applied before."""
    limit = season_limit(walk.state.book, product)
    if limit is None or field is None or product is None:
        return None
    size = plan.measure(Role.FIELD_AREA) if field == plan.word(Role.FIELD) else None
    size = size or field_size(walk.state.book, field)
    applied = (*walk.state.book.on_farm, *here)
    earlier = season_total(applied, field, product, walk.now, zone_called(walk.zone), size).earlier
    if earlier is None or earlier.value <= 0:
        return None
    found = season_check(earlier.quantity, rate.quantity, limit.quantity, plan.spacing)
    if found.outcome == "within":
        return None
    return OverLabel(at=walk.now, rate=measure(found.total, "lb/acre"), limit=limit, season=True)


def tell_season(walk: TurnBuilder, field: str | None, product: str | None, here: Sequence[Applied] = ()) -> None:
    """Say what a field has got of a product this year, where the label has a limit. ``here`` is what this shift has
    applied before."""
    limit = season_limit(walk.state.book, product)
    if limit is not None and field is not None and product is not None:
        say_season(walk, field, product, limit, walk.now, here)
