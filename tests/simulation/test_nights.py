"""Simulated nights: what is drawn, what a look shows, and what each way of reminding comes to."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest

from engine.shift.look import WatchSettings
from engine.simulation.night import Night, NightModel, RowTrouble, draw_night
from engine.simulation.nights import NightPolicy, name_all, play, play_all
from engine.simulation.reminding import Habit
from engine.simulation.watching import Played, Watching

SURE = NightModel(late=0.0)
QUIET = replace(SURE, eye_error=0.0, trouble=RowTrouble(5, 6.0), accepted=5.0)


def plain(night: Night) -> Night:
    """The same night with rows that are all alike, at the rate that was meant."""
    return replace(night, factors=np.ones(night.shift.rows))


def whats(played: Played) -> list[str]:
    return [event.what for event in played.events]


def test_a_night_is_the_same_whatever_their_number() -> None:
    short = replace(SURE, hours=3.0)
    one, again, other = (draw_night(short, 3, index) for index in (7, 7, 8))
    assert (one.mph, one.trouble, list(one.planted)) == (again.mph, again.trouble, list(again.planted))
    assert one.trouble != other.trouble
    assert play(one, NightPolicy.RISK) == play(again, NightPolicy.RISK)


def test_mass_is_kept_and_a_stopped_row_keeps_its_own() -> None:
    night = plain(draw_night(QUIET, 1, 0))
    stop, end = night.acres(6.0), night.acres(9.0)
    used = night.used(0.0, end, mended=False)
    assert used[4] == pytest.approx(night.rate / 8 * stop)
    assert used[0] == pytest.approx(night.rate / 8 * end)
    assert night.used(0.0, end, mended=True)[4] == pytest.approx(used[0])
    assert night.used(0.0, stop, mended=False) + night.used(stop, end, mended=False) == pytest.approx(used)


def test_the_first_hopper_is_refilled_at_its_reserve() -> None:
    night = draw_night(QUIET, 1, 0)
    used = night.used(0.0, night.refill(0.0), mended=True)
    assert used.max() == pytest.approx(0.85 * night.hopper)


@pytest.mark.parametrize("index", range(4))
def test_the_row_shows_once_its_hopper_stands_high(index: int) -> None:
    """Looks every tenth of an hour: the first after the unseen area has gone by shows it, and none before."""
    night = plain(draw_night(QUIET, 2, index))
    played = Watching(night, Habit(0.1), 9).play()
    assert played.noticed is not None
    gone = night.acres(played.noticed) - night.acres(6.0)
    assert 0.5 * night.unseen < gone < 1.5 * night.unseen + 2 * night.acres(12.0) / 12 * 0.2
    assert played.in_doubt >= gone
    assert played.false_alarms == 0


def test_nobody_who_reminds_leaves_it_to_the_refill_or_the_morning() -> None:
    night = draw_night(QUIET, 1, 1)
    played = play(night, NightPolicy.NONE)
    assert "asked" not in whats(played)
    assert played.checks == whats(played).count("refilled")
    last = replace(night, trouble=RowTrouble(5, 11.99))
    assert play(last, NightPolicy.NONE).noticed == 12.0


@pytest.mark.campaign
def test_an_answer_that_is_late_is_asked_for_again_and_the_foreman_told() -> None:
    night = draw_night(NightModel(answer=5.0, late=1.0, accepted=5.0), 1, 0)
    late, soon = (
        play(night, NightPolicy.RISK),
        play(replace(night, shift=replace(SURE, accepted=5.0)), NightPolicy.RISK),
    )
    assert whats(late).count("asked") > 1.5 * late.checks
    assert "foreman told" in whats(late)
    assert "foreman told" not in whats(soon)
    assert whats(soon).count("asked") <= soon.checks


@pytest.mark.campaign
def test_what_must_be_reached_is_reached() -> None:
    """Four nights in which five acres may be lost, looked at more often from ten on and after eight hours."""
    often = WatchSettings(late_from=time(22), long_after=timedelta(hours=8))
    found = play_all(NightModel(accepted=5.0, watch=often), 4, 1)
    risk, habit, none = (found[policy] for policy in (NightPolicy.RISK, NightPolicy.HABIT, NightPolicy.NONE))
    assert risk.acres_median <= 5
    assert risk.acres_p95 <= 7.5
    assert risk.acres_median < habit.acres_median < none.acres_p95
    assert risk.checks_per_night > habit.checks_per_night > none.checks_per_night


@pytest.mark.campaign
def test_more_that_may_be_lost_is_fewer_looks() -> None:
    few, many = (play(draw_night(replace(SURE, accepted=acres), 1, 0), NightPolicy.RISK) for acres in (15.0, 5.0))
    assert few.checks < many.checks


@pytest.mark.campaign
def test_a_row_that_feeds_a_quarter_too_little_is_named() -> None:
    found = name_all(NightModel(under_feed=0.25), 6, 3)
    assert found.named_within_two_refills >= 0.95
    assert found.false_alarms_per_night < 0.05
    assert name_all(NightModel(under_feed=0.02), 3, 3).named_within_two_refills < 0.2


def test_what_is_told_and_answered_is_the_assistants_own() -> None:
    """The stretch in doubt is the one the assistant named, and it holds the moment the row stopped."""
    night = draw_night(QUIET, 1, 0)
    played = play(night, NightPolicy.RISK)
    noticed = next(event for event in played.events if event.what == "noticed")
    assert noticed.said == "row 5 is high, the rest is good"
    assert "In doubt: row 5" in noticed.reply
    assert played.held
    assert played.in_doubt >= night.acres(noticed.hour) - night.acres(6.0)


def test_whoever_is_not_reminded_tells_nobody() -> None:
    played = play(draw_night(QUIET, 1, 0), NightPolicy.HABIT)
    assert played.held is None
    assert not any(event.said or event.reply for event in played.events)
