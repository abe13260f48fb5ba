"""A whole evening by voice note, from the invitation to the foreman's summary, over real HTTP with real ears."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.settings import Settings
from demo.letters import DemoStatus
from demo.play import FOLDER, PATIENCE, answer
from demo.script_lines import DemoLine, DemoPart, Keeps, load, place, place_in, shown
from engine.assistant import Assistant
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.dialog.schema.slot_roles import role_of
from engine.history.store.journal import Journal
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.crew import invited, joined
from tests.helpers.telegram_server import Person, TelegramServer

OPERATOR = 501
CONVERSATION = f"telegram:{OPERATOR}"


@pytest.fixture
def settings(server: TelegramServer, tmp_path: Path) -> Settings:
    return settings_for(server, tmp_path / "record.db", recognizer="panel")


def standing(assistant: Assistant) -> DemoStatus:
    """What is asked now, as the recorded operator sees it."""
    dialog = assistant.state(CONVERSATION).dialog
    readings = dialog.questions[0].readings if dialog and dialog.questions else ()
    choices = [{place_in(dialog, one): shown(one.value) for one in reading.givens} for reading in readings]
    asking = assistant.expectation(CONVERSATION).asking
    return DemoStatus(turn=0, digest="", prompt="", asking=asking, choices=tuple(choices))


def kept(assistant: Assistant) -> Keeps:
    """Every place that has a value by now, with the value."""
    state = assistant.state(CONVERSATION).dialog
    values = state.values if state else {}
    rows = state.rows if state else {}
    roles = state.records if state else {}

    def named(slot: str, row: int | None = None) -> str:
        return place(role_of(roles, slot) or slot, row)

    singles = {named(slot): shown(value) for slot, value in values.items()}
    return singles | {named(slot, row): shown(value) for slot, per in rows.items() for row, value in per.items()}


async def say(person: Person, line: DemoLine, assistant: Assistant) -> None:
    """Send the note of a line, then those that answer what is asked about it."""
    following: DemoLine | None = line
    for _ in range(PATIENCE + 1):
        if following is None:
            return
        if following.typed:
            person.says(following.en)
        else:
            person.sends_voice((FOLDER / f"{following.note}.ogg").read_bytes())
        await person.receives()
        following = answer(standing(assistant), line.keeps)
    raise AssertionError(f"{line.en!r} was not understood: {person.received[-1].text}")


@pytest.mark.campaign
async def test_from_the_invitation_to_the_summary_of_the_foreman(
    server: TelegramServer, settings: Settings, database: Database
) -> None:
    lines = [one for one in load() if one.part is DemoPart.CALIBRATE]
    foreman = joined(server, database, 502, "north", PersonRole.FOREMAN)
    operator = server.user(OPERATOR)
    assistant = Assistant(database)
    async with started(settings):
        operator.says(f"/start {invited(database, 'north', PersonRole.OPERATOR)}")
        assert "set up" in (await operator.receives()).text
        for line in lines:
            await say(operator, line, assistant)
            have = kept(assistant)
            assert {name: have[name] for name in line.keeps if name in have} == {
                name: value for name, value in line.keeps.items() if name in have
            }
        told = await foreman.receives()
    assert told.method == "sendPhoto"
    assert "8 of 8 rows on target" in told.text and len(told.text.splitlines()) == 3
    turns = Journal(database).turns(CONVERSATION)
    assert sum(turn.spoken for turn in turns) > len(turns) / 2 and len(turns) >= len(lines)
