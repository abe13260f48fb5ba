"""Two chat channels against each other on one server, killed around due times."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.record import servers_only
from tests.reminders.kill_chat import kill_chat

pytestmark = servers_only


async def test_killed_around_due_times_everybody_is_called_and_the_history_has_it_once(tmp_path: Path) -> None:
    tally = await kill_chat(tmp_path, rounds=4, seed=5, programs=2)
    assert tally.killed == 8
    assert len(tally.rung) == len(tally.sent) == tally.set
    assert set(tally.rung.values()) == {1}
    assert set(tally.spoken) == tally.loud
