"""Texts, sound, presses and reminders while the program is killed again and again: as if nobody had disturbed it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.chat_ruin import Plan, ruin


@pytest.mark.campaign
async def test_killed_thirty_times_nothing_is_lost_and_everybody_is_called_once(tmp_path: Path) -> None:
    plan = Plan(chats=12, each=6, kills=30, programs=1, voices=2, rings=2, seed=7)
    found = await ruin(tmp_path, plan, print)
    assert found.hits == plan.kills + 1
    assert {name: found.killed[name] for name in found.calm} == found.calm
    assert set(found.rung.values()) == {1}
    assert len(found.rung) == len(found.called) == plan.kills * plan.rings
    assert found.twice <= found.hits
