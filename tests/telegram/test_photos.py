"""Photos of labels in the chat."""

from __future__ import annotations

import pytest

from bot.telegram import fetching
from engine.assistant import Assistant
from engine.database import Database
from engine.dialog.schema.slot_roles import Role
from engine.history.store.journal import Journal
from tests.helpers.applying import PRODUCT
from tests.helpers.telegram_server import Person, TelegramServer
from tests.telegram.test_talk import say
from tests.test_scan import huge_png, picture

pytestmark = pytest.mark.usefixtures("running")


def documents(database: Database, chat: int) -> int:
    entry = Assistant(database).state(f"telegram:{chat}").book.things.of(Role.PRODUCT, "Terravel 15")
    return len(entry.documents) if entry else 0


async def answer(person: Person) -> str:
    return (await person.receives()).text


async def test_a_photo_while_a_product_is_told_and_a_file_under_its_name(
    server: TelegramServer, database: Database
) -> None:
    person = server.user(61)
    await say(person, *PRODUCT[:4])
    person.sends_photo(picture("JPEG"))
    assert "Terravel 15: document kept with it" in await answer(person)
    await say(person, *PRODUCT[4:])
    person.sends_photo(picture("PNG"), "Terravel 15")
    assert "document kept" in await answer(person)
    assert documents(database, 61) == 2
    assert "label on file" in await say(person, "what is known by name")


async def test_what_is_no_photo_is_refused_in_one_sentence(server: TelegramServer, database: Database) -> None:
    person = server.user(62)
    await say(person, *PRODUCT[:4])
    turns = len(Journal(database).turns("telegram:62"))
    person.sends_document(b"MZ no picture at all", "label.jpg", "image/jpeg")
    assert await answer(person) == "That is no JPEG, PNG or PDF that opens. Send it again."
    person.sends_document(huge_png(30_000, 30_000), "label.png", "image/png")
    assert await answer(person) == "That is too large to keep. Send a smaller photo."
    assert len(Journal(database).turns("telegram:62")) == turns


async def test_a_file_that_is_too_large_is_not_fetched(
    server: TelegramServer, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fetching, "MOST_BYTES", 100)
    person = server.user(63)
    await say(person, *PRODUCT)
    person.sends_photo(picture("PNG", (400, 300)), "Terravel 15")
    assert await answer(person) == "That is too large to keep. Send a smaller photo."
    assert documents(database, 63) == 0


@pytest.mark.parametrize(
    ("chat", "language", "words", "told"),
    [
        (64, "en", ["set up", "four"], "I read no photos or files: say or type what it shows."),
        (65, "es-MX", ["preparar", "cuatro"], "No leo fotos ni archivos: diga o escriba lo que muestra."),
    ],
)
async def test_a_photo_of_what_is_asked_is_not_read_and_the_question_stands(
    server: TelegramServer, database: Database, chat: int, language: str, words: list[str], told: str
) -> None:
    person = server.user(chat, language=language)
    asked = [await say(person, one) for one in words][-1].splitlines()[-1]
    turns = len(Journal(database).turns(f"telegram:{chat}"))
    person.sends_photo(picture("JPEG"))
    lines = (await answer(person)).splitlines()
    assert lines[0].startswith(told)
    assert lines[1:] == [asked]
    assert len(Journal(database).turns(f"telegram:{chat}")) == turns
