"""Labels that are kept, fetched again in the chat: on demand, by a button in an emergency, and never another farm's."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from engine.crew.roles import PersonRole
from engine.data.forms import load_forms
from engine.database import Database
from engine.document import Document, Media
from engine.history.store.journal import Journal
from engine.messages import Language
from engine.queues.outbox import Outgoing, put
from engine.queues.outbox_message import DocumentMessage
from tests.helpers.applying import PRODUCT
from tests.helpers.crew import joined
from tests.helpers.telegram_server import Person, TelegramServer
from tests.telegram.test_talk import say
from tests.telegram.test_taps import BEFORE, buttons, data_of
from tests.test_scan import picture

pytestmark = pytest.mark.usefixtures("running")
FRONT, BACK, PAPER = picture("JPEG"), picture("PNG"), b"%PDF-1.7\nsomething\n%%EOF\n"
CAPTION = "Terravel 15, registration number 1234-567."


async def keeps(person: Person, content: bytes, product: str = "Terravel 15") -> None:
    person.sends_photo(content, product)
    assert "document" in (await person.receives()).text


async def second_product(person: Person) -> None:
    await say(person, "product", "Grano", "77-88", *PRODUCT[3:])


async def test_the_kept_photos_come_back_as_they_were(server: TelegramServer, database: Database) -> None:
    person = server.user(801)
    await say(person, *PRODUCT)
    await keeps(person, FRONT)
    await keeps(person, BACK)
    turns = len(Journal(database).turns("telegram:801"))
    for said in ("/label", "show me the label", "Label?", "label of Terravel 15", "/label terravel"):
        person.says(said)
        first, second = await person.receives(), await person.receives()
        assert [first.text, second.text] == [f"{CAPTION} 1 of 2.", f"{CAPTION} 2 of 2."], said
        assert [first.file, second.file] == [FRONT, BACK]
        assert first.method == "sendPhoto" and str(first.file_name).startswith("Terravel-15-")
    assert len(Journal(database).turns("telegram:801")) == turns, "it answers nothing"


async def test_in_spanish(server: TelegramServer) -> None:
    person = server.user(802, language="es")
    assert "Todavía no hay ninguna etiqueta guardada" in await say(person, "/label")
    await say(person, "english", *PRODUCT, "español")
    await keeps(person, FRONT)
    for said in ("/label", "muéstrame la etiqueta", "etiqueta", "Etiqueta de Terravel 15"):
        person.says(said)
        sent = await person.receives()
        assert (sent.text, sent.file) == ("Terravel 15, número de registro 1234-567.", FRONT), said
    assert "No hay etiqueta guardada de Grano" in await say(
        person, "english", "product", "Grano", *PRODUCT[2:], "español", "etiqueta de grano"
    )


async def test_where_none_is_kept_one_sentence_says_how_to_keep_one(server: TelegramServer) -> None:
    person = server.user(803)
    assert (await say(person, "/label")).startswith("No label is kept yet. To keep one, send a photo of it")
    await say(person, *PRODUCT)
    told = await say(person, "label of terravel 15")
    assert told == "No label of Terravel 15 is kept. To keep one, send a photo of it with Terravel 15 written under it."
    assert "No product here has that name" in await say(person, "label of something else")


async def test_several_are_asked_as_buttons_and_one_tap_brings_one(server: TelegramServer) -> None:
    person = server.user(804)
    await say(person, *PRODUCT)
    await second_product(person)
    await keeps(person, FRONT)
    await keeps(person, BACK, "Grano")
    assert "Which label?" in await say(person, "label")
    under, data = person.received[-1].message_id, data_of(person, "Label of Grano")
    assert person.received[-1].buttons == [["Label of Grano"], ["Label of Terravel 15"]]
    person.calls_back(data, under)
    person.calls_back(data, under)
    sent = await person.receives()
    assert (sent.text, sent.file) == ("Grano, registration number 77-88.", BACK)
    person.presses("Label of Terravel 15")
    assert (await person.receives()).file == FRONT, "the second tap of the same button brought nothing"
    assert "Which label?" not in await say(person, "status")


@pytest.mark.parametrize(
    ("language", "said", "label"),
    [("en", "I spilled a bag on my hands", "Label of Terravel 15"), ("es", "emergencia", "Etiqueta de Terravel 15")],
)
async def test_an_emergency_has_the_label_as_its_first_button(
    server: TelegramServer, language: Language, said: str, label: str
) -> None:
    person = server.user(805)
    await say(person, *PRODUCT)
    await keeps(person, FRONT)
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no", "skip", "Terravel 15")
    answer = await say(person, load_forms(language).called[0], said)
    assert "911" in answer and "1234-567" in answer
    assert person.received[-1].buttons[0] == [label]
    person.presses(label)
    assert (await person.receives()).file == FRONT


async def test_the_button_of_an_emergency_fetches_whatever_was_said_since_and_leaves_what_is_asked(
    server: TelegramServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    person = server.user(806)
    await say(person, *PRODUCT)
    await keeps(person, FRONT)
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no", "roll", "Terravel 15", BEFORE[4])
    await say(person, "five miles an hour", "three hundred feet")
    assert person.received[-1].buttons == [["Scale"], ["Tube"]]
    await say(person, "emergency")
    await buttons(person, ["Label of Terravel 15", "Scale", "Tube"])
    under, data = person.received[-1].message_id, data_of(person, "Label of Terravel 15")
    person.presses("Label of Terravel 15")
    assert (await person.receives()).file == FRONT
    await buttons(person, ["Label of Terravel 15", "Scale", "Tube"])
    person.presses("Scale")
    assert "Measured by: Scale" in (await person.receives()).text
    monkeypatch.setattr("bot.telegram.edits.taps.AGAIN", datetime.resolution)
    person.calls_back(data, under)
    assert (await person.receives()).file == FRONT


async def test_without_a_label_of_what_is_in_hand_an_emergency_offers_none(server: TelegramServer) -> None:
    person = server.user(807)
    await say(person, *PRODUCT)
    await second_product(person)
    await keeps(person, BACK, "Grano")
    await say(person, "set up", "two", "thirty inches", "zero to thirty by one", "no", "skip", "Terravel 15")
    assert "911" in await say(person, "emergency")
    assert not any("Label" in one for row in person.received[-1].buttons for one in row)


async def test_what_the_chat_would_make_smaller_or_takes_for_no_picture_comes_as_a_file(server: TelegramServer) -> None:
    person = server.user(808)
    await say(person, *PRODUCT[:4])
    whole, large, strip = picture("PNG", (1280, 400)), picture("PNG", (1281, 400)), picture("PNG", (1050, 50))
    for content in (whole, large, strip, PAPER):
        person.sends_document(content, "label", "application/octet-stream")
        assert "document kept" in (await person.receives()).text
    person.says("/label")
    sent = [await person.receives() for _ in range(4)]
    assert [one.file for one in sent] == [whole, large, strip, PAPER]
    assert [one.method for one in sent] == ["sendPhoto", *["sendDocument"] * 3]
    assert str(sent[3].file_name).endswith(".pdf") and sent[3].text == f"{CAPTION} 4 of 4."


async def test_what_is_gone_by_then_is_said_in_one_sentence(server: TelegramServer, database: Database) -> None:
    person = server.user(809)
    await say(person, "help")
    gone = Document(sha256="0" * 64, media=Media.JPEG)
    message = DocumentMessage(text=CAPTION, document=gone, name="Terravel-15.jpg", instead="It is gone.")
    with database.begin() as connection:
        put(connection, [Outgoing("notice:gone", "telegram:809", message, datetime.now(UTC))])
    sent = await person.receives()
    assert (sent.text, sent.file) == ("It is gone.", None)


async def test_every_member_of_the_farm_has_it_and_nobody_else(server: TelegramServer, database: Database) -> None:
    keeper = joined(server, database, 811, "north", PersonRole.OPERATOR)
    await say(keeper, *PRODUCT)
    await keeps(keeper, FRONT)
    for number, role in enumerate(PersonRole, 812):
        other = joined(server, database, number, "north", role)
        other.says("show me the label")
        assert (await other.receives()).file == FRONT
    stranger = joined(server, database, 820, "south", PersonRole.OWNER)
    for said in ("/label", "/label Terravel 15", "label of Terravel 15"):
        stranger.says(said)
        sent = await stranger.receives()
        assert sent.file is None and "Terravel" not in sent.text


async def test_a_photo_under_the_word_label_is_one_to_keep(server: TelegramServer) -> None:
    person = server.user(821)
    await say(person, *PRODUCT)
    await keeps(person, FRONT)
    person.sends_photo(BACK, "label")
    sent = await person.receives()
    assert (sent.text, sent.file) == ("Which product is it for? Send it again with its name.", None)
    await keeps(person, BACK, "label of Terravel 15")


async def test_every_phone_of_the_conversation_has_the_button(server: TelegramServer, database: Database) -> None:
    first = joined(server, database, 831, "north", PersonRole.OPERATOR)
    await say(first, *PRODUCT)
    await keeps(first, FRONT)
    await say(first, "set up", "two", "thirty inches", "zero to thirty by one", "no", "skip", "Terravel 15")
    await say(first, "add a phone")
    second = server.user(832)
    await say(second, f"/start {first.received[-1].text.split('start=')[1].split()[0]}", "emergency")
    other = await first.receives()
    assert second.received[-1].buttons[0] == other.buttons[0] == ["Label of Terravel 15"]
    first.presses("Label of Terravel 15")
    assert (await first.receives()).file == FRONT
    assert len(second.received) == second.seen, "who did not ask is not sent it"
