"""Several programs share the chats of one server; one after another is killed, and the others take over."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.chat_ruin import Plan, ruin
from tests.helpers.record import servers_only

pytestmark = servers_only


async def test_what_the_killed_had_in_hand_is_taken_over_in_order_and_once(tmp_path: Path) -> None:
    plan = Plan(chats=6, each=5, kills=4, programs=2, voices=1, rings=1, seed=3)
    found = await ruin(tmp_path, plan, print)
    assert found.hits == plan.kills + 1
    assert {name: found.killed[name] for name in found.calm} == found.calm
    assert set(found.rung.values()) == {1}
    assert len(found.rung) == len(found.called) == plan.kills * plan.rings
