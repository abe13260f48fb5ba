"""Laws of the record of a shift, whatever was said in it."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from engine.database import open_database
from engine.dialog.facts.fold import fold
from engine.dialog.facts.state import ConversationState
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.facts import read_fact, write_fact
from engine.history.shift_export import doubt_lines, rate_lines, shift_lines
from engine.history.shifts import shifts
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Reply, Utterance
from tests.dialog.test_laws import EXAMPLES, interpreter
from tests.dialog.test_shift import REPORTS
from tests.helpers.planting import EVENING, plant

WAITS = st.one_of(st.integers(0, 45), st.just(600), st.just(-30))
SAID = st.lists(st.tuples(WAITS, st.sampled_from((*REPORTS, "scratch that", "end of shift", "done"))), max_size=10)


@cache
def begun() -> tuple[StoredTurn, ...]:
    database = open_database(":memory:")
    plant(database, ())
    return Journal(database).turns("c")


def after(said: list[tuple[int, str]]) -> tuple[StoredTurn, ...]:
    """All turns of a conversation in which this is said in a shift, after so many minutes each."""
    turns = list(begun())
    state, now = planting(), EVENING
    for minutes, text in said:
        now += timedelta(minutes=minutes)
        heard = Utterance(id=f"n{len(turns)}", conversation="c", text=text, language="en", said_at=now)
        turn = interpreter().take(state, read(heard, interpreter().expectation(state), load_vocabulary("en")), now)
        state, kept = turn.state, tuple(write_fact(fact) for fact in turn.facts)
        turns.append(StoredTurn("c", len(turns) + 1, heard.id, now, "en", text, False, 1.0, Reply(text=""), kept))
    return tuple(turns)


@cache
def planting() -> ConversationState:
    facts = [read_fact(fact) for turn in begun() for fact in turn.facts]
    return fold(ConversationState(language="en"), facts)


@settings(max_examples=max(EXAMPLES // 2, 1), deadline=None, suppress_health_check=list(HealthCheck))
@given(SAID)
@example(
    [(600, "row five stopped at half past one"), (23, "row five runs again since two ten"), (25, "lunch since two")]
)
def test_the_record_holds_whatever_was_said(said: list[tuple[int, str]]) -> None:
    for record in shifts(after(said)):
        for one in record.stretches:
            assert record.started_at <= one.found.since < one.found.until <= record.ended_at
            assert set(one.found.rows) <= set(record.rows)
        assert 0 <= record.in_doubt.value <= record.planted.value * (1 + 1e-9)
        assert timedelta(0) <= record.worked <= record.ended_at - record.started_at
        assert all(since <= until <= record.ended_at for since, until in record.pauses)
        for made, count in (
            (shift_lines, 1),
            (doubt_lines, sum(len(one.found.rows) for one in record.stretches)),
            (rate_lines, sum(max(len(one.rows), 1) for one in record.rates)),
        ):
            assert len(made([record])) == count


@settings(max_examples=max(EXAMPLES // 2, 1), deadline=None, suppress_health_check=list(HealthCheck))
@given(SAID)
def test_scratch_leaves_the_record_as_it_was_before_the_report(said: list[tuple[int, str]]) -> None:
    turns = after([*said, (1, "row three stopped"), (0, "scratch that")])
    found = [shifts(turns[: len(turns) - more]) for more in (2, 1, 0)]
    if not all(found):
        return
    before, told, back = (one[-1] for one in found)
    if len(told.reports) == len(before.reports) + 1:
        assert (back.reports, back.stretches, back.looks) == (before.reports, before.stretches, before.looks)
