"""Some rounds of what ``kill_chat`` does two hundred times."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.reminders.kill_chat import kill_chat


@pytest.mark.campaign
async def test_the_whole_channel_killed_around_due_times_everybody_is_called(tmp_path: Path) -> None:
    tally = await kill_chat(tmp_path, rounds=12, seed=11)
    assert tally.killed == 12
    assert len(tally.rung) == len(tally.sent) == tally.set
    assert set(tally.rung.values()) == {1}
    assert set(tally.spoken) == tally.loud
