"""A shift as the foreman hears of it: alarms at once, its end when it can wait, its tables when asked for."""

from __future__ import annotations

import asyncio
import csv
import io
import re
from datetime import UTC, datetime, time, timedelta

import pytest

from bot.telegram.services.report import alarms_of_shift
from bot.telegram.texts import ChatKey
from engine.assistant import Assistant
from engine.crew.notifications import Notifications, NotificationWishes, Quiet
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.history.store.journal import Journal
from engine.messages import Utterance
from tests.helpers.crew import almost_done, joined
from tests.helpers.planting import ASKED, plant
from tests.helpers.telegram_server import TelegramServer

pytestmark = pytest.mark.usefixtures("running")


async def test_a_row_that_stops_and_the_end_of_the_shift(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 601, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 602, "north", PersonRole.FOREMAN)
    asleep = Quiet(time(0), time(0), "UTC")
    Notifications(database, "UTC").want("telegram:602", NotificationWishes(runs=True, shifts=True, quiet=asleep))
    almost_done(database, 601)
    operator.says("enough")
    await operator.hears("Test run finished")
    await foreman.receives()
    await foreman.receives()
    await operator.receives()
    await operator.receives()
    for said in ASKED:
        operator.says(said)
        last = await operator.receives()
    assert "Planting from" in last.text
    for said in ("one acre done", "yes"):
        await asyncio.sleep(1.1)  # times are told in whole seconds
        operator.says(said)
        await operator.receives()
    before = len(foreman.received)
    operator.says("row two stopped")
    await operator.receives()
    alarm = await foreman.hears("nothing comes out of row 2")
    assert not alarm.silent and len(foreman.received) == before + 1
    for said in ("row two runs again", "row four stopped", "end of shift", "done"):
        operator.says(said)
        last = await operator.receives()
    assert last.text.startswith("Shift over")
    told = await foreman.hears("shift over")
    assert (told.method, told.silent) == ("sendPhoto", True)
    assert "North field:" in told.text and "licensed applicator" in told.text
    assert len([line for line in told.text.splitlines() if re.match(r"  Row [24], stopped, ", line)]) == 2
    assert re.fullmatch(r"rowhand-shift-\d{4}-\d\d-\d\d-\d{4}\.pdf", (await foreman.receives()).file_name or "")
    own = await operator.receives(), await operator.receives()
    assert [(one.method, one.silent) for one in own] == [("sendPhoto", True), ("sendDocument", True)]
    assert own[0].text.startswith("Shift, ") and "In doubt" in own[0].text
    foreman.says("/summary")
    assert (await foreman.hears("Shift, ")).method == "sendPhoto"
    await foreman.receives()
    foreman.says("/export")
    tables = {one.file_name: one.file or b"" for one in [await foreman.receives() for _ in range(3)]}
    assert list(tables) == ["rowhand-test-runs.csv", "rowhand-shifts.csv", "rowhand-scouting.csv"]
    scouting = list(csv.DictReader(io.StringIO(tables["rowhand-scouting.csv"].decode("utf-8-sig"))))
    assert [(line["planter"], line["field"], line["row"]) for line in scouting] == [
        ("planter 1", "North field", "2"),
        ("planter 1", "North field", "4"),
    ]
    assert b"telegram" not in b"".join(tables.values())


async def test_a_shift_that_is_left_is_told_and_one_that_never_began_is_not(
    server: TelegramServer, database: Database
) -> None:
    operator = joined(server, database, 603, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 604, "north", PersonRole.FOREMAN)
    plant(database, [(40, "row three stopped")], conversation="telegram:603")
    for said in ("cancel", "yes"):
        operator.says(said)
        await operator.receives()
    told = await foreman.hears("shift over")
    assert "left before its end" in told.text and "Row 3, stopped" in told.text
    await foreman.receives()
    for said in ("shift", "cancel"):
        operator.says(said)
        await operator.hears("")
    operator.says("yes")
    await operator.hears("")
    operator.says("help")
    await operator.hears("Say")
    assert len(foreman.received) == foreman.seen


async def test_the_summary_is_of_what_came_last_whatever_the_clocks_showed(
    server: TelegramServer, database: Database
) -> None:
    operator = joined(server, database, 605, "north", PersonRole.OPERATOR)
    almost_done(database, 605)
    assistant, earlier = Assistant(database), datetime.now(UTC) - timedelta(minutes=5)
    for at, text in enumerate(("enough", *ASKED)):
        place = {"id": f"605:shift:{at}", "conversation": "telegram:605", "said_at": earlier}
        assistant.hear(Utterance(text=text, language="en", **place))  # type: ignore[arg-type]
    operator.says("/summary")
    assert (await operator.hears("Shift, ")).method == "sendPhoto"


def test_a_true_rate_over_the_label_is_an_alarm_in_the_turn_that_tells_it() -> None:
    """Ten pounds an acre is the highest rate entered: 38 of 40 pounds in each of 8 hoppers over 25 acres are 12.2."""
    database = open_database(":memory:")
    plant(
        database,
        [(230, "twenty five acres done"), (231, "all two pounds left"), (231, "yes"), (232, "row four stopped")],
    )
    turns = Journal(database).turns("c")
    assert [(one.key, one.rows) for one in alarms_of_shift(turns)] == [(ChatKey.ROW_STOPPED, (4,))]
    assert [(one.key, one.rows) for one in alarms_of_shift(turns[:-1])] == [
        (ChatKey.ROW_OVER_LABEL, tuple(range(1, 9)))
    ]
    assert alarms_of_shift(turns[:-2]) == ()


async def test_the_application_record_comes_as_a_page_and_as_a_table(
    server: TelegramServer, database: Database
) -> None:
    """What is missing is told in the chat; the page comes to who told it, all of them with the tables."""
    operator = joined(server, database, 605, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 606, "north", PersonRole.FOREMAN)
    plant(database, [(240, "twenty acres done"), (240, "end of shift"), (240, "all left at 27 pounds"), (241, "done")],
          conversation="telegram:605")  # fmt: skip
    operator.says("application record")
    asked = await operator.hears("Application record, North field")
    while "Is all of it right" not in asked.text:
        operator.says("skip")
        asked = await operator.receives()
    operator.says("yes")
    await operator.hears("lacks")
    paper = await operator.receives()
    assert (paper.method, paper.file_name) == ("sendDocument", "rowhand-application-2026-04-22.pdf")
    assert (paper.file or b"").startswith(b"%PDF")
    foreman.says("/export")
    names: list[str | None] = []
    while "rowhand-application-2026-04-22.pdf" not in names:
        names.append((await foreman.receives()).file_name)
    assert "rowhand-applications.csv" in names
