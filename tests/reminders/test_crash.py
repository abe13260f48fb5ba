"""A few rounds of what ``kill_rounds`` does two hundred times."""

from __future__ import annotations

from pathlib import Path

from tests.reminders.kill_rounds import kill_rounds


def test_killed_around_due_times_everything_rings_once(tmp_path: Path) -> None:
    tally = kill_rounds(tmp_path, rounds=4, seed=7)
    assert tally.killed == 4
    assert len(tally.rung) == len(tally.sent) == tally.set
    assert set(tally.rung.values()) == {1}
