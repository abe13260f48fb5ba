"""The bot killed at random points while chats talk: nothing lost, nothing out of order, almost nothing twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.chat_bot import bot_process, history
from tests.helpers.chat_crash import campaign
from tests.helpers.telegram_server import TelegramServer


@pytest.mark.parametrize("webhook", [False, pytest.param(True, marks=pytest.mark.campaign)], ids=["polling", "webhook"])
async def test_killed_at_random_points_the_history_is_as_if_undisturbed(tmp_path: Path, webhook: bool) -> None:
    outcome = await campaign(tmp_path, chats=4, each=8, kills=2, seed=5, note=print, webhook=webhook)
    assert outcome.kills == 2
    assert outcome.killed == outcome.calm
    for name, said in outcome.heard.items():
        assert [turn[2] for turn in outcome.killed[name]] == said
    assert all(count <= outcome.kills for count in outcome.duplicates.values())
    for name, answers in outcome.answered.items():
        once = [text for at, text in enumerate(answers) if at == 0 or answers[at - 1] != text]
        assert once == [turn[3].text for turn in outcome.calm[name]]  # type: ignore[attr-defined]


async def test_a_polite_end_and_no_words_or_names_or_token_in_the_log(server: TelegramServer, tmp_path: Path) -> None:
    log = tmp_path / "bot.log"
    async with bot_process(server, tmp_path / "record.db", log) as bot:
        person = server.user(61, name="Somebody")
        person.says("set up")
        await person.receives()
        bot.terminate()
        assert await bot.wait() == 0
    assert len(history(tmp_path / "record.db")["telegram:61"]) == 1
    written = log.read_text(encoding="utf-8")
    assert "started" in written and "stopped" in written
    for secret in ("set up", "How many", "Somebody", server.token):
        assert secret not in written
