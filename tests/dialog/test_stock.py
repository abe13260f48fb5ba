"""The stock: the books of each lot close, to the gram."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from engine.dialog.facts.stock_facts import Hoppers, Movement, Stock
from engine.quantities import Measure

GRAM = Measure(value=1, unit="g").to("lb").value
CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["447", "448", None]),
        st.sampled_from(list(Movement)),
        st.integers(1, 5_000_000),
        st.booleans(),
    ),
    max_size=40,
)


@given(CHANGES)
def test_on_hand_is_what_came_in_and_went_back_without_what_was_loaded_to_the_gram(
    changes: list[tuple[str | None, Movement, int, bool]],
) -> None:
    stock = Stock()
    for lot, why, grams, weighed in changes:
        stock = stock.moved("Product A", lot, why, Measure(value=grams, unit="g"), weighed=weighed)
    for lot in {one[0] for one in changes}:
        own = [one for one in changes if one[0] == lot]
        wanted = sum(grams if why is not Movement.LOADED else -grams for _, why, grams, _ in own)
        held = stock.of("Product A", lot)
        assert abs(held.on_hand.to("g").value - wanted) < 1
        assert held.open == (not all(weighed for *_, weighed in own))


def test_a_lot_is_the_same_with_its_product_and_without() -> None:
    stock = Stock().moved("Product A", "447 b", Movement.DELIVERED, Measure(value=100, unit="lb"), weighed=True)
    stock = stock.moved(None, "447 B", Movement.LOADED, Measure(value=40, unit="lb"), weighed=True)
    assert [(one.product, one.lot, one.on_hand.value) for one in stock.lots] == [("Product A", "447 b", 60.0)]
    other = stock.moved("Product B", "447 b", Movement.LOADED, Measure(value=40, unit="lb"), weighed=True)
    assert len(other.lots) == 2


def test_what_is_in_the_hoppers_is_no_change_of_a_lot() -> None:
    stock = Stock().leaving(Hoppers(product="Product A", lots=("447",), held=Measure(value=12, unit="lb")))
    assert stock.lots == () and stock.leaving(None) == Stock()
