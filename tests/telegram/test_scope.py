"""No farm reaches another: every command, opening, word and button, forged ones too, tried from outside."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from sqlalchemy import select

from bot.telegram.texts import ChatTexts
from engine.assistant import Assistant
from engine.crew.farm import Farm
from engine.crew.people import People
from engine.crew.roles import Act, PersonRole
from engine.database import Database
from engine.dialog.facts.label_shelf import ProductLabel
from engine.document import Media
from engine.history.store import tables
from engine.history.store.scan import Scan
from engine.library import load_library
from engine.messages import Language, Utterance
from engine.queues.inbox import Inbox
from engine.queues.outbox import Outbox
from tests.helpers.applying import PRODUCT
from tests.helpers.crew import ALMOST_DONE, almost_done, joined
from tests.helpers.sentences import spelt
from tests.helpers.telegram_server import Person, TelegramServer
from tests.test_scan import picture

pytestmark = pytest.mark.usefixtures("running")
NORTH, NAME, PLANTER = 401, "Mildred Unmistakable", "Thunderous Planter"
GRAIN, NUMBER, LABEL = "Curious Grain", "9911-7", Scan(picture("PNG"), Media.PNG)
MARK = ProductLabel(GRAIN, None, ()).mark
SECRETS = (NAME, PLANTER, GRAIN, NUMBER, "68.0", "69.0", "70.0", f"telegram:{NORTH}", str(NORTH))

ECHOED = (Act.PLANTER, Act.HANDOVER)
"""Orders that say back the name they were given; those with a name of the other farm are tried one by one."""


@pytest.fixture
def north(server: TelegramServer, database: Database) -> tuple[int, ...]:
    """A farm with an operator and a foreman, a planter, a name and a test run; the seqs of its turns."""
    joined(server, database, NORTH, "north", PersonRole.OPERATOR)
    joined(server, database, NORTH + 1, "north", PersonRole.FOREMAN)
    almost_done(database, NORTH)
    member = People(database).member(f"telegram:{NORTH}")
    assert member is not None
    Farm(database, member).work_with(PLANTER, datetime.now(UTC))
    Farm(database, member).hand_over(NAME, datetime.now(UTC))
    label_kept(database)
    return tuple(range(len(ALMOST_DONE) + 2))


def label_kept(database: Database) -> None:
    """A product is told, and the photo of its label kept, at another planter of the farm in the north."""
    assistant, place = Assistant(database), {"conversation": f"telegram:{NORTH + 1}", "language": "en"}
    for at, text in enumerate(("product", GRAIN, NUMBER, *PRODUCT[3:])):
        assistant.hear(Utterance(id=f"grain:{at}", text=text, said_at=datetime.now(UTC), **place))  # type: ignore[arg-type]
    photo = Utterance(id="photo", text=GRAIN, said_at=datetime.now(UTC), **place)  # type: ignore[arg-type]
    assistant.attach(photo, LABEL)
    assert assistant.labels(f"telegram:{NORTH}").meant(MARK) == ProductLabel(GRAIN, NUMBER, (LABEL.document,))


def everything_of(database: Database, farm: str) -> list[object]:
    """All rows that belong to a farm."""
    with database.read() as connection:
        talks = list(
            connection.execute(select(tables.conversation.c.id).where(tables.conversation.c.farm == farm)).scalars()
        )
        found: list[object] = [connection.execute(select(tables.person).where(tables.person.c.farm == farm)).all()]
        for table, column in (
            (tables.conversation, tables.conversation.c.id),
            (tables.turn, tables.turn.c.conversation),
            (tables.speaker, tables.speaker.c.talk),
            (tables.reminder, tables.reminder.c.conversation),
            (tables.outbox, tables.outbox.c.conversation),
        ):
            found.append(connection.execute(select(table).where(column.in_(talks))).all())
    return found


def said(language: Language) -> Iterator[str]:
    """Every command with what could be forged behind it, every opening, every question about a row."""
    texts = ChatTexts.load()
    labels = texts.services[Act.LABEL]
    for name in texts.menu(language):
        named = (f" {GRAIN}", f" {MARK}", f" {PLANTER}", f" {NAME}", f" telegram:{NORTH}", f" telegram:{NORTH} yes")
        for behind in ("", " 1", " 2 yes", *(named if name not in ECHOED else ())):
            if name not in (Act.LEAVE, Act.FORGET):
                yield f"/{name}{behind}"
    for service in texts.services.values():
        yield from spelt(*service.says.of(language))
        yield from spelt(*service.typed.of(language)) if service.typed else ()
    yield from (f"{words} {GRAIN}" for words in (*spelt(*labels.named.of(language)),)[:3]) if labels.named else ()
    for script in load_library().scripts.values():
        yield from script.opens.of(language)
    yield from ("target", "what was row one", "last catch of row one", "setting of row two", "repeat", "status")


def forged(seqs: tuple[int, ...]) -> Iterator[str]:
    """What a client could send as the data of a button."""
    for seq in seqs[-3:]:
        yield from (f"{seq}:enough", f"{seq}:/summary", f"{seq}:/remove 1 yes", f"telegram:{NORTH}:{seq}:yes")
    yield from (
        f"0:/planter telegram:{NORTH}",
        f"0:/remove telegram:{NORTH} yes",
        f"0:/label {MARK}",
        f"0:/label {GRAIN}",
        f"0:/label {LABEL.document.sha256[:32]}",
        f"{NORTH}",
        ":",
        "0:",
        "-1:yes",
        "a" * 64,
    )


async def tried(person: Person, database: Database, seqs: tuple[int, ...], language: Language) -> int:
    """Say and press everything; how many answers came."""
    person.says("help")
    shown = await person.receives()
    for text in said(language):
        person.says(text)
    for data in forged(seqs):
        person.calls_back(data, shown.message_id)
    async with asyncio.timeout(300):
        while (
            person.world.updates.waiting
            or Inbox(database).waiting()
            or Outbox(database).pending(f"telegram:{person.id}")
        ):
            await asyncio.sleep(0.05)
        person.says("/language")
        await person.hears("?")
        while person.received[-1].buttons != [["English"], ["Español"]]:
            await asyncio.sleep(0.05)
    return len(person.received)


@pytest.mark.parametrize(
    ("role", "language"),
    [(PersonRole.OPERATOR, "en"), pytest.param(PersonRole.OWNER, "es", marks=pytest.mark.campaign)],
)
async def test_nothing_of_another_farm_is_reached(
    server: TelegramServer, database: Database, north: tuple[int, ...], role: PersonRole, language: Language
) -> None:
    before = everything_of(database, "north")
    intruder = joined(server, database, 410, "south", role)
    if language == "es":
        intruder.says("español")
        await intruder.receives()
    assert await tried(intruder, database, north, language) > 140
    told = "\n".join(f"{one.text} {one.file_name} {one.markup}" for one in intruder.received)
    files = [one.file or b"" for one in intruder.received]
    for secret in SECRETS:
        assert secret not in told, secret
        assert not any(secret.encode() in file for file in files)
    assert LABEL.content not in files
    assert everything_of(database, "north") == before
    assert [Outbox(database).pending(f"telegram:{NORTH + at}") for at in (0, 1)] == [(), ()]
    assert server.user(NORTH).received == server.user(NORTH + 1).received == []


async def test_a_planter_of_the_same_name_is_another_one(
    server: TelegramServer, database: Database, north: tuple[int, ...]
) -> None:
    before = everything_of(database, "north")
    intruder = joined(server, database, 411, "south", PersonRole.OWNER)
    for name in (PLANTER, f"telegram:{NORTH}", f"telegram:{NORTH}/1"):
        intruder.says(f"/planter {name}")
        assert f"at planter {name} now" in (await intruder.receives()).text
        for asked in ("/summary", "/history", "/export", "what was row one"):
            intruder.says(asked)
            assert "68" not in (await intruder.receives()).text
    intruder.says(f"/handover {NAME}")
    await intruder.receives()
    assert everything_of(database, "north") == before


async def test_a_stranger_reaches_nothing_at_all(
    server: TelegramServer, database: Database, north: tuple[int, ...]
) -> None:
    before = everything_of(database, "north")
    stranger = server.user(412)
    stranger.says("/start")
    line = await stranger.receives()
    for text in said("en"):
        stranger.says(text)
    for data in forged(north):
        stranger.calls_back(data, line.message_id)
    member = joined(server, database, 413, "south", PersonRole.OPERATOR)
    for _ in range(2):
        member.says("help")
        await member.receives()
    assert [one.text for one in stranger.received] == [line.text]
    assert everything_of(database, "north") == before
