"""Laws of the timeline of a shift: what was planted when, by what was told of it in whatever order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import accumulate, pairwise

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from engine.messages import Report
from engine.quantities import Measure, quantity
from engine.shift.record.shift_facts import Noted, ShiftStarted
from engine.shift.record.shift_fold import advance, begin
from engine.shift.record.shift_state import ShiftState
from engine.shift.record.timeline import LEAST_EFFICIENCY, MOST_EFFICIENCY, AreaTold, Driven, Pause, Timeline
from tests.dialog.test_laws import interpreter
from tests.dialog.test_shift import Night

LAW = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
START = datetime.fromisoformat("2026-04-22T02:00:00+00:00")
DST = tuple(map(datetime.fromisoformat, ("2026-03-08T07:30:00+00:00", "2026-11-01T06:30:00+00:00")))
"""In Chicago half an hour before the clock goes on from 2:00 to 3:00, and back from 2:00 to 1:00."""
HOURS = 6
CLOSE = 1e-9
SECONDS = st.integers(0, HOURS * 3600)
MPH = st.floats(0.5, 12.0)


def acres(value: float) -> Measure:
    return Measure(value=value, unit="acre")


def mph(value: float) -> Measure:
    return Measure(value=value, unit="mph")


def at(seconds: float, start: datetime = START) -> datetime:
    return start + timedelta(seconds=seconds)


@st.composite
def timelines(draw: st.DrawFn) -> Timeline:
    """Timelines of eight rows at 30 in with pauses, speeds and told areas that could have been planted."""
    start = draw(st.sampled_from((START, *DST)))
    ends = sorted(draw(st.sets(SECONDS, max_size=6)))
    pauses = tuple(
        Pause(since=at(one, start), until=at(two, start)) for one, two in zip(ends[::2], ends[1::2], strict=False)
    )
    if len(ends) % 2:
        pauses = (*pauses, Pause(since=at(ends[-1], start)))
    changes = sorted(draw(st.sets(st.integers(1, HOURS * 3600), max_size=4)))
    speeds = tuple(Driven(at=at(one, start), speed=mph(draw(MPH))) for one in (0, *changes))
    width = quantity(20, "ft")
    bare = Timeline(start, width, speeds, pauses, efficiency=draw(st.floats(0.05, 1.0)))
    said = sorted(draw(st.sets(st.integers(1, HOURS * 3600), max_size=4)))
    could = [bare.capacity(at(one, start), at(two, start)).value for one, two in pairwise([0, *said])]
    areas = accumulate(one * draw(st.floats(0.0, 1.2)) for one in could)
    told = tuple(AreaTold(at=at(second, start), area=acres(area)) for second, area in zip(said, areas, strict=True))
    return Timeline(start, width, speeds, pauses, told, bare.efficiency)


@LAW
@given(timelines(), SECONDS, SECONDS)
def test_no_area_is_lost_as_time_goes_by(timeline: Timeline, one: int, two: int) -> None:
    first, last = (at(second, timeline.started) for second in sorted((one, two)))
    assert timeline.planted(first).value <= timeline.planted(last).value + CLOSE
    assert timeline.worked(first) <= timeline.worked(last)
    assert timeline.worked(last) - timeline.worked(first) <= last - first


@LAW
@given(timelines(), st.floats(0, 1), st.floats(0, 1))
def test_nothing_is_planted_in_a_pause(timeline: Timeline, one: float, two: float) -> None:
    assume(timeline.pauses)
    for since, until in ((one.since, one.until) for one in timeline.pauses):
        length = ((until or at(HOURS * 3600 + 600, timeline.started)) - since).total_seconds()
        first, last = (since + timedelta(seconds=length * part) for part in sorted((one, two)))
        assert timeline.between(first, last).value == pytest.approx(0, abs=CLOSE)
        assert timeline.worked(first) == timeline.worked(last)
        assert timeline.stands(since)
        assert until is None or not timeline.stands(until) or any(span.since == until for span in timeline.pauses)
        assert timeline.settled(last) in (since, last if last in (until, since) else since)


@LAW
@given(timelines(), SECONDS, SECONDS, SECONDS)
def test_areas_add_up(timeline: Timeline, one: int, two: int, three: int) -> None:
    first, middle, last = (at(second, timeline.started) for second in sorted((one, two, three)))
    whole = timeline.between(first, last).value
    assert timeline.between(first, middle).value + timeline.between(middle, last).value == pytest.approx(whole)
    assert timeline.between(last, first).value == pytest.approx(0, abs=CLOSE)
    assert timeline.between(timeline.started, last) == timeline.planted(last)


@LAW
@given(timelines())
def test_told_areas_are_hit_exactly(timeline: Timeline) -> None:
    for moment, area in ((one.at, one.area) for one in timeline.told):
        assert timeline.planted(moment) == area


@LAW
@given(timelines(), st.floats(0, 1))
def test_an_area_is_reached_at_the_first_instant_by_which_it_was_planted(timeline: Timeline, part: float) -> None:
    until = at(HOURS * 3600 + 600, timeline.started)
    area = acres(timeline.planted(until).value * part)
    found = timeline.reached(area, until)
    assert timeline.started <= found <= until
    assert timeline.planted(found).value == pytest.approx(area.value, abs=1e-6)
    before = found - timedelta(seconds=1)
    assert before < timeline.started or timeline.planted(before).value <= area.value + 1e-6
    assert not any(span.since < found and (span.until is None or found < span.until) for span in timeline.pauses)


@LAW
@given(timelines(), SECONDS)
def test_what_was_planted_by_an_instant_was_reached_by_then(timeline: Timeline, second: int) -> None:
    moment = at(second, timeline.started)
    found = timeline.reached(timeline.planted(moment), moment)
    assert found <= moment
    assert timeline.between(found, moment).value == pytest.approx(0, abs=1e-6)


@LAW
@given(timelines(), st.floats(0.05, 1.0))
def test_the_efficiency_learned_is_one_that_a_planter_can_have(timeline: Timeline, believed: float) -> None:
    assert LEAST_EFFICIENCY <= timeline.learned(believed) <= MOST_EFFICIENCY


def test_areas_told_teach_the_efficiency_they_show() -> None:
    """6 mph by 20 ft is 14.5 acres an hour without turns; 9.45 an hour are 65 %. What was believed before
    counts as three hours: after eight words, an hour each, a tenth of it is left."""
    told = tuple(AreaTold(at=at(3600 * hour), area=acres(9.4545 * hour)) for hour in range(1, 9))
    timeline = Timeline(START, quantity(20, "ft"), (Driven(at=START, speed=mph(6)),), told=told)
    assert timeline.capacity(START, at(3600)).value == pytest.approx(6 * 5280 * 20 / 43560, rel=1e-6)
    for believed in (0.3, 0.65, 1.0):
        assert timeline.learned(believed) == pytest.approx(0.65, abs=0.04)


# ---------------------------------------------------------------- late news


def shift() -> ShiftState:
    return begin(
        ShiftStarted(
            at=START,
            hoppers={row: Measure(value=40, unit="lb") for row in range(1, 9)},
            efficiency=0.65,
            speed=mph(6),
            spacing=Measure(value=30, unit="in"),
            rate=Measure(value=5, unit="lb/acre"),
        )
    )


SAID = at(HOURS * 3600)


@st.composite
def news(draw: st.DrawFn) -> list[Noted]:
    """Pauses from when to when, speeds and areas, all of different moments, told at the end."""
    ends = sorted(draw(st.sets(SECONDS, min_size=2, max_size=8)))
    facts = [
        Noted(report=Report.PAUSED, at=SAID, moment=at(since), until=at(until))
        for since, until in zip(ends[::2], ends[1::2], strict=False)
    ]
    changes = draw(st.sets(st.integers(1, HOURS * 3600), max_size=3))
    facts += [Noted(report=Report.SPEED, at=SAID, moment=at(one), value=mph(draw(MPH))) for one in sorted(changes)]
    said = sorted(draw(st.sets(st.integers(1, HOURS * 3600), max_size=3)))
    areas = accumulate(draw(st.lists(st.floats(0.1, 9), min_size=len(said), max_size=len(said))))
    told = zip(said, areas, strict=True)
    return facts + [Noted(report=Report.PLANTED, at=SAID, moment=at(one), value=acres(area)) for one, area in told]


def folded(facts: Sequence[Noted]) -> ShiftState:
    """The shift after these facts, each with what the areas teach then."""
    found = shift()
    for fact in facts:
        after = advance(found, fact)
        found = advance(found, fact.model_copy(update={"efficiency": after.timeline.learned(after.believed)}))
    return found


@LAW
@given(st.data())
def test_late_news_in_any_order_is_the_same_shift(data: st.DataObject) -> None:
    facts = data.draw(news())
    in_time = folded(sorted(facts, key=lambda one: one.when))
    late = folded(data.draw(st.permutations(facts)))
    assert late == in_time
    for second in range(0, HOURS * 3600 + 900, 300):
        assert late.timeline.planted(at(second)) == in_time.timeline.planted(at(second))


@LAW
@given(st.permutations([(0, 900), (600, 1200), (1200, 1500), (3000, 3600), (3100, 3200)]))
def test_pauses_that_touch_are_one_whatever_came_first(spans: list[tuple[int, int]]) -> None:
    facts = [Noted(report=Report.PAUSED, at=SAID, moment=at(one), until=at(two)) for one, two in spans]
    assert [(one.since, one.until) for one in folded(facts).pauses] == [(at(0), at(1500)), (at(3000), at(3600))]


# ---------------------------------------------------------------- through the dialog, over the change of the clock


@pytest.fixture
def chicago(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock on the wall hangs in Chicago."""
    there = replace(interpreter(), zone="America/Chicago")
    monkeypatch.setattr("tests.dialog.test_shift.interpreter", lambda: there)


def told(start: datetime, *said: tuple[int, str]) -> Night:
    """A night whose shift begins at a moment, in which these sentences were said so many minutes after it."""
    night = Night(start)
    begun = ShiftStarted(
        at=start,
        hoppers=dict.fromkeys(night.shift.rows, Measure(value=40, unit="lb")),
        efficiency=0.65,
        speed=mph(5),
        spacing=night.shift.spacing,
        rate=night.shift.rate,
    )
    assert night.state.dialog is not None
    dialog = night.state.dialog.model_copy(update={"activity": begin(begun), "undo": ()})
    night.state = night.state.model_copy(update={"dialog": dialog})
    for minutes, text in said:
        night.now = start + timedelta(minutes=minutes)
        night.say(text)
        night.settle()
    return night


@pytest.mark.usefixtures("chicago")
@pytest.mark.parametrize("start", DST, ids=["spring", "autumn"])
def test_a_pause_over_the_change_of_the_clock_lasts_as_long_as_it_lasted(start: datetime) -> None:
    """The clock says another hour afterwards; ninety minutes stood are ninety minutes."""
    night = told(start, (0, "all good"), (10, "lunch"), (100, "planting again"), (120, "all good"))
    assert night.shift.timeline.worked(night.now) == timedelta(minutes=30)
    assert night.planted == pytest.approx(5 * 5280 * 20 / 43560 * 0.65 / 2)


@pytest.mark.usefixtures("chicago")
@pytest.mark.parametrize("start", DST, ids=["spring", "autumn"])
def test_a_pause_told_as_so_long_ago_is_the_one_told_in_time(start: datetime) -> None:
    in_time = told(start, (0, "all good"), (10, "lunch"), (45, "planting again"), (50, "all good"))
    ago = told(start, (0, "all good"), (20, "lunch ten minutes ago"), (50, "planting again five minutes ago"))
    for minutes in range(0, 180, 5):
        moment = start + timedelta(minutes=minutes)
        assert ago.shift.timeline.planted(moment) == in_time.shift.timeline.planted(moment)


@pytest.mark.usefixtures("chicago")
@pytest.mark.parametrize(("start", "back"), [(DST[0], "3:20"), (DST[1], "2:20")], ids=["spring", "autumn"])
def test_a_pause_told_by_the_clock_on_the_wall_is_counted_in_real_time(start: datetime, back: str) -> None:
    """In spring 3:20 comes forty minutes after 1:40. In autumn 1:40 comes twice, and the later one is taken."""
    night = told(start, (0, "all good"), (180, f"lunch from 1:40 to {back}"))
    (pause,) = night.shift.timeline.pauses
    since, until = pause.since, pause.until
    assert until is not None
    assert until - since == timedelta(minutes=40)
    assert until == start + timedelta(minutes=50 if start == DST[0] else 110)
