"""Laws of a shift, whatever is reported in it and however much time goes by."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from engine.database import open_database
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Turn
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Utterance
from engine.reminders.reminder import Answer, CallOff, Change, Remind, Snooze
from engine.reminders.schedule import Schedule
from engine.shift.look_changes import LOOK
from engine.shift.record.shift_facts import Doubted, LookSet, Noted
from engine.shift.record.shift_state import ShiftState
from engine.shift.reports.suspect_rows import latest
from tests.dialog.test_laws import EXAMPLES, beginning, interpreter
from tests.helpers.talking import START, Conversation, beginnings

OURS = settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
EVENING = START + timedelta(hours=4)
ROW_BY_ROW = ", ".join(
    f"row {row} refilled {pounds} pounds" for row, pounds in {1: 6, 2: 6, 3: 6, 4: 6, 5: 3, 6: 6, 7: 6, 8: 6}.items()
)
REPORTS = (
    "all good", "row five is high", "five and seven high, rest good", "row five stopped", "row five runs again",
    "row seven runs again", "row five is good", "row three half", "row two twelve pounds left", "all ten pounds left",
    "all empty", "refilled all, lot 4 4 7, two bags", "row three refilled ten pounds", "refilled", "one acre done",
    "twelve acres done", "five hundred acres done", "lunch", "planting again", "go on", "hand over to Maria",
    "we're down to four miles an hour", "speed is nine miles an hour", "rate is nine pounds an acre",
    "rate is ninety pounds an acre", "new lot 4 5 8", "another product", "field is south", "ten more minutes",
    "give me two hours", "later", "row five caught seventy nine grams", "row five caught fifty grams", "status",
    "when do i run out", "help", "repeat", "metric", "nonsense",
    ROW_BY_ROW, "row five stopped twenty minutes ago", "row five stopped at half past one", "row six high since two",
    "row five runs again since two ten", "five and six stopped five minutes ago, rest good", "lunch ten minutes ago",
    "lunch since two", "planting again five minutes ago", "planting again since ten past two", "refilled at two",
    "refilled all two bags twenty minutes ago", "end of shift ten minutes ago", "hand over at two",
)  # fmt: skip
WAITS = st.one_of(st.integers(0, 45), st.just(600), st.just(-30))
SHIFTS = st.lists(st.tuples(WAITS, st.sampled_from(REPORTS)), min_size=1, max_size=12)


class Night:
    """A shift without a database, on a clock of its own, with its open reminder."""

    def __init__(self, at: datetime = EVENING) -> None:
        self.state: ConversationState = beginning("planting")
        self.now = at
        self.turns = 0
        self.open: datetime | None = first_look()

    def say(self, text: str) -> Turn:
        self.turns += 1
        expected = interpreter().expectation(self.state)
        language = self.state.language
        heard = Utterance(id=f"n{self.turns}", conversation="c", text=text, language=language, said_at=self.now)
        turn = interpreter().take(self.state, read(heard, expected, load_vocabulary(language)), self.now)
        self.state = turn.state
        for change in turn.reminders:
            self.open = after(self.open, change)
        return turn

    def settle(self) -> None:
        """Answer whatever is asked back, so that nothing is open."""
        while self.state.dialog is not None and self.state.dialog.questions:
            asked = self.state.dialog.questions[0]
            self.say("the first" if asked.ways else "no")

    @property
    def planted(self) -> float:
        """Acres planted by what was said last."""
        return self.shift.timeline.planted(self.shift.last).value

    @property
    def shift(self) -> ShiftState:
        assert self.state.dialog is not None
        assert isinstance(self.state.dialog.activity, ShiftState)
        return self.state.dialog.activity


def after(due: datetime | None, change: Change) -> datetime | None:
    """What the open reminder of a look is due at once a change is made."""
    if change.name != LOOK:
        return due
    match change:
        case Remind(wall=wall):
            return wall.instant
        case Snooze(until=until):
            return until if due is not None else None
        case Answer() | CallOff():
            return None


@cache
def first_look() -> datetime | None:
    dialog = beginning("planting").dialog
    shift = dialog.activity if dialog else None
    return shift.look.due if isinstance(shift, ShiftState) and shift.look else None


def played(reports: list[tuple[int, str]]) -> list[tuple[Night, Turn]]:
    night, turns = Night(), []
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        turns.append((night, night.say(text)))
    return turns


@OURS
@given(SHIFTS)
def test_no_more_is_in_doubt_than_was_planted_and_no_window_starts_after_its_report(
    reports: list[tuple[int, str]],
) -> None:
    night = Night()
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        for fact in night.say(text).facts:
            if isinstance(fact, Doubted):
                assert night.shift.started <= fact.since <= fact.until <= max(night.now, night.shift.last)
                assert 0 <= fact.area.value <= fact.planted.value <= night.planted * (1 + 1e-9)
                assert fact.short.value >= 0


@OURS
@given(SHIFTS)
def test_what_is_known_of_the_past_stays_in_order_whenever_it_is_told(reports: list[tuple[int, str]]) -> None:
    night, told = Night(), 0.0
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        night.say(text)
        shift, timeline = night.shift, night.shift.timeline
        told = max([told, *(one.area.value for one in shift.told)])
        assert night.planted >= told - 1e-9
        ticks = [shift.started + timedelta(minutes=7 * tick) for tick in range(200)]
        for one, two in pairwise(ticks):
            assert timeline.worked(one) <= timeline.worked(two)
            assert timeline.planted(one).value <= timeline.planted(two).value + 1e-9
            assert timeline.between(one, two).value <= timeline.capacity(shift.started, two).value + told + 1e-9
        assert all(at <= shift.last for at in shift.proofs.values())
        for one in latest(shift.doubts, timeline):
            assert shift.started <= one.since <= one.until


@OURS
@given(SHIFTS)
@example(
    [
        (600, "row five is high"),
        (600, "row five runs again since two ten"),
        (30, "row five is high"),
        (30, "row five stopped at half past one"),
    ]
)
def test_no_row_is_in_doubt_twice_at_once(reports: list[tuple[int, str]]) -> None:
    night = Night()
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        night.say(text)
    stretches = latest(night.shift.doubts, night.shift.timeline)
    for row in night.shift.rows:
        mine = sorted((one.since, one.until) for one in stretches if row in one.rows)
        assert all(first[1] <= second[0] for first, second in pairwise(mine)), mine


@OURS
@given(SHIFTS)
def test_scratch_undoes_any_report(reports: list[tuple[int, str]]) -> None:
    night = Night()
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        night.settle()
        before = night.state.dialog
        noted = sum(isinstance(fact, Noted) for fact in night.say(text).facts)
        for _ in range(noted):
            night.say("scratch that")
        assert before is not None and night.state.dialog is not None
        kept = {"questions", "told", "undo"}
        assert apart_from_look(night.state.dialog.model_dump(exclude=kept)) == apart_from_look(
            before.model_dump(exclude=kept)
        )
        night.say(text)


def apart_from_look(dialog: dict[str, object]) -> dict[str, object]:
    shift = dialog["activity"]
    assert isinstance(shift, dict)
    return {**dialog, "activity": {name: value for name, value in shift.items() if name != "look"}}


@OURS
@given(SHIFTS)
def test_one_reminder_is_open_while_the_planter_plants_and_none_in_a_pause(reports: list[tuple[int, str]]) -> None:
    night = Night()
    for minutes, text in reports:
        night.now += timedelta(minutes=minutes)
        night.say(text)
        night.settle()
        shift = night.shift
        assert shift.look is not None
        assert night.open == (shift.snoozed or shift.look.due if shift.runs else None)
        assert shift.look.due is None or shift.look.due >= shift.look.at
    night.settle()
    night.say("end of shift")
    night.settle()
    night.say("done")
    assert night.state.dialog is None
    assert night.open is None


@OURS
@given(SHIFTS)
def test_a_look_comes_no_later_than_the_acres_that_may_be_lost(reports: list[tuple[int, str]]) -> None:
    for _, turn in played(reports):
        for fact in turn.facts:
            if isinstance(fact, LookSet) and fact.due is not None and fact.due > fact.at and fact.area is not None:
                shift = turn.state.dialog.activity if turn.state.dialog else None
                snoozed = isinstance(shift, ShiftState) and shift.snoozed is not None
                floor = fact.decided_by == "floor"
                assert snoozed or floor or fact.area.value <= 5.0 + 1e-6


@pytest.mark.parametrize("said", ["cancel", "test run"])
def test_leaving_a_shift_calls_its_reminder_off(said: str) -> None:
    night = Night()
    night.say(said)
    night.say("yes")
    assert night.open is None


def test_a_night_over_the_end_of_summer_time_counts_real_hours() -> None:
    """Chicago, 1 November 2026: from 1:59 the clock goes back to 1:00."""
    night = Night(datetime.fromisoformat("2026-11-01T06:30:00+00:00"))
    night.say("all good")
    night.say("no")
    first = night.shift.look
    assert first is not None and first.due is not None
    night.now = datetime.fromisoformat("2026-11-01T07:30:00+00:00")
    turn = night.say("all good")
    second = night.shift.look
    assert second is not None and second.due is not None
    assert second.due - second.at == first.due - first.at
    assert night.open == second.due
    assert [type(change) for change in turn.reminders] == [Answer, Remind]


def test_the_reminder_is_kept_with_the_turn_that_wants_it(tmp_path: Path) -> None:
    talk = Conversation(tmp_path / "talk.db")
    for name in ("prepared", "catching", "finished", "planting"):
        talk.say_all(beginnings()[name])
    schedule = Schedule(open_database(str(tmp_path / "talk.db")))
    (first,) = schedule.waiting("c")
    again = talk.utterance("all good")
    talk.assistant.hear(again)
    (second,) = schedule.waiting("c")
    assert first.name == second.name == LOOK
    assert first.due_at < second.due_at
    talk.restart()
    talk.assistant.hear(again)
    assert schedule.waiting("c") == (second,)
    talk.say_all(["end of shift", "done"])
    assert schedule.waiting("c") == ()
