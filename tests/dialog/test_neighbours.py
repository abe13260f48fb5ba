"""What other planters of the farm told, as it is taken over: whole, in order, and never as if it was told here."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from engine.dialog.facts.applied import Applied
from engine.dialog.facts.book import Book
from engine.dialog.facts.book_facts import Registered, Renamed
from engine.dialog.facts.book_fold import noted
from engine.dialog.facts.neighbours import LOOK_BACK, FarmEntry, FarmTold, Neighbour, farm_told, neighbours_after
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import lacks
from engine.quantities import Measure

NOW = datetime(2026, 4, 21, tzinfo=UTC)
ACRES = st.floats(0.1, 100).map(lambda value: Measure(value=value, unit="acre"))


def applied(day: int, area: Measure | None = None, field: str | None = "North", product: str | None = "A") -> Applied:
    since = NOW + timedelta(days=day)
    rate, ten = Measure(value=5, unit="lb/acre"), Measure(value=10, unit="acre")
    return Applied(
        since=since, until=since + timedelta(hours=3), area=area or ten, rate=rate, field=field, product=product
    )


STANDS = st.dictionaries(st.integers(0, 8), ACRES, max_size=6).map(
    lambda days: tuple(applied(day, area) for day, area in sorted(days.items()))
)


@given(st.lists(st.tuples(st.sampled_from([3, 7]), STANDS), max_size=8))
def test_however_often_it_is_looked_a_neighbour_is_known_as_it_stands(
    looks: list[tuple[int, tuple[Applied, ...]]],
) -> None:
    known: dict[int, Neighbour] = {}
    stands: dict[int, Neighbour] = {}
    for seq, (number, there) in enumerate(looks, 1):
        stands[number] = Neighbour(seq=seq, applied=there)
        fact = farm_told(known, stands, ())
        assert fact is not None
        known = neighbours_after(known, FarmTold.model_validate_json(fact.model_dump_json()))
        assert known == stands
        assert farm_told(known, stands, ()) is None, "nothing is taken over twice"


def test_a_look_carries_only_what_changed() -> None:
    first = Neighbour(seq=1, applied=(applied(0), applied(1)))
    later = Neighbour(seq=2, applied=(applied(0), applied(1, Measure(value=12, unit="acre")), applied(2)))
    fact = farm_told({4: first}, {4: later}, ())
    assert fact is not None and fact.applied == {4: later.applied[1:]} and fact.gone == {}


def test_what_no_season_can_count_is_left_where_it_is() -> None:
    long_ago = applied(-LOOK_BACK.days - 1)
    fact = farm_told(
        {}, {4: Neighbour(seq=9, applied=(long_ago, applied(0, field=None), applied(1, product=None), applied(2)))}, ()
    )
    assert fact is not None and fact.applied == {4: (applied(2),)}


def book_after(*told: Registered | Renamed, book: Book | None = None) -> Book:
    entries = tuple(FarmEntry(at=NOW, fact=one) for one in told)
    return noted(book or Book(), FarmTold(until={4: len(entries)}, told=entries))


def named(name: str) -> Registered:
    return Registered(thing=Role.APPLICATOR, name=name, values={Role.CERTIFICATION: f"no {name}"})


def test_who_is_certified_on_another_planter_is_offered_here_and_put_into_no_record() -> None:
    mine = noted(Book(), named("Juan"))
    both = book_after(named("María"), book=mine)
    assert both.things.names(Role.APPLICATOR) == ("María", "Juan")
    assert lacks(both, applied(0)) == lacks(mine, applied(0))
    alone = book_after(named("María"))
    assert alone.things.names(Role.APPLICATOR) == ("María",) and alone.things.named_here(Role.APPLICATOR) == ()
    assert lacks(alone, applied(0)) == lacks(Book(), applied(0))
    assert noted(alone, named("maría")).things.named_here(Role.APPLICATOR) == ("María",)


def test_a_name_that_was_changed_elsewhere_is_changed_here_and_in_what_all_applied() -> None:
    here = noted(Book(applied=(applied(0),)), Registered(thing=Role.FIELD, name="North"))
    here = noted(here, FarmTold(until={4: 1}, applied={4: (applied(1),)}))
    after = book_after(Renamed(thing=Role.FIELD, name="north", to="Hill"), book=here)
    assert after.things.names(Role.FIELD) == ("Hill",)
    assert [one.field for one in after.on_farm] == ["Hill", "Hill"]


@given(st.lists(st.sampled_from(["Juan", "María", "Ana"]), min_size=1, max_size=5), st.sampled_from(["Juan", "Eva"]))
def test_a_rename_elsewhere_never_makes_somebody_the_one_named_last_here(names: list[str], to: str) -> None:
    book = Book()
    for name in names:
        book = noted(book, named(name))
    last = book.things.names(Role.APPLICATOR)[-1]
    after = book_after(Renamed(thing=Role.APPLICATOR, name="Ana", to=to), book=book)
    assert after.things.names(Role.APPLICATOR)[-1] == (to if last == "Ana" else last)
