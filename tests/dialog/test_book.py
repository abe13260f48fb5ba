"""What a conversation keeps of finished dialogs: enough to look back at, and no more however long the season is."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from engine.dialog.facts.book import RECALL_DEPTH, Ended, worth_keeping


def season(names: str) -> tuple[Ended, ...]:
    """Dialogs as they end one after another, each with its place in the season."""
    kept: tuple[Ended, ...] = ()
    for number, name in enumerate(names):
        kept = worth_keeping((*kept, Ended(dialog=name, values={"number": number}, runs=())))
    return kept


def numbers(names: str) -> list[object]:
    return [one.values["number"] for one in season(names)]


def test_many_nights_push_out_neither_their_calibration_nor_the_first_of_them() -> None:
    assert numbers("t" + "s" * 30) == [0, 1, 25, 26, 27, 28, 29, 30]


def test_of_calibrations_one_after_another_the_last_six_are_kept() -> None:
    assert numbers("t" * 9)[-RECALL_DEPTH:] == [3, 4, 5, 6, 7, 8]


@given(st.text("abc", max_size=60))
def test_what_is_looked_back_at_is_there_and_the_rest_is_bounded(names: str) -> None:
    kept = season(names)
    assert len(kept) <= 3 * (RECALL_DEPTH + 3)
    found = [one.values["number"] for one in kept]
    for name in set(names):
        own = [place for place, one in enumerate(names) if one == name]
        assert set(own[-RECALL_DEPTH:]) <= set(found)
        for other in set(names) - {name}:
            since = [place for place in own if place > names.rindex(other)]
            assert set(since[:1]) <= set(found)
