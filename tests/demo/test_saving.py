"""What a look saved is told once: for a row that stopped, from the calls after its stop, when it feeds again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from demo.letters import DemoCall, DemoDoubt, DemoStatus, DemoTurn
from demo.saving import Lookout, RowStops
from engine.expectation import Asking

NOW = datetime(2026, 4, 20, 23, tzinfo=UTC)
STOPS = RowStops(5, NOW)


def turn(minutes: int, *, doubts: bool) -> DemoTurn:
    at = NOW + timedelta(minutes=minutes)
    doubt = DemoDoubt(rows=(5,), since=NOW, until=at, area="", short="", empty_at=None, more="") if doubts else None
    standing = DemoStatus(turn=1, digest="", prompt="", asking=Asking.REPORT)
    return DemoTurn(
        at=at,
        heard="",
        ears=None,
        sure=1,
        seconds=0,
        reply="",
        kept={},
        result=None,
        doubt=doubt,
        standing=standing,
    )


def call(minutes: int) -> DemoCall:
    return DemoCall(at=NOW + timedelta(minutes=minutes), text="", attempt=1)


def test_it_begins_where_the_row_was_found_and_ends_where_it_feeds_again() -> None:
    lookout = Lookout()
    lookout.rang(call(-20))
    lookout.stops(STOPS)
    lookout.rang(call(10))
    assert lookout.told(turn(5, doubts=False)) is None
    assert lookout.told(turn(11, doubts=True)) is None
    saved = lookout.told(turn(14, doubts=True))
    assert saved is not None
    assert (saved.stopped, saved.calls) == (STOPS, (call(10),))
    assert (saved.found.until, saved.over.until) == (NOW + timedelta(minutes=11), NOW + timedelta(minutes=14))
    assert lookout.told(turn(20, doubts=True)) is None


def test_a_doubt_without_a_stop_saves_nothing() -> None:
    lookout = Lookout()
    assert lookout.told(turn(1, doubts=True)) is None
    assert lookout.told(turn(2, doubts=True)) is None
