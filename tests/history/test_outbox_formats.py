"""Messages that the first release left waiting are read as what they were; what nobody can read holds up nothing."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import insert, select

from engine.database import Database
from engine.history.store import tables
from engine.messages import Button
from engine.queues.outbox import UNREADABLE, Outbox
from engine.queues.outbox_formats import brought_up
from engine.queues.outbox_message import (
    Audience,
    OutboxMessage,
    PagesMessage,
    PictureMessage,
    ReminderMessage,
    TableMessage,
    TextMessage,
    VoiceNoteMessage,
    WithdrawalMessage,
    read_message,
    write_message,
)
from tests.helpers.outbox_samples import SAMPLES

NOW = datetime(2027, 4, 21, 6, 40, tzinfo=UTC)
ROWS = [
    json.loads(line)
    for line in (Path(__file__).parent.parent / "golden" / "outbox-1.jsonl").read_text(encoding="utf-8").splitlines()
]
"""Rows of an outbox as the first release wrote them: every kind of message there was."""
KINDS: dict[str, type] = {
    "reply:": TextMessage,
    "ring/1/3/voice:": VoiceNoteMessage,
    "ring/1/3/instead:": WithdrawalMessage,
    "ring/": ReminderMessage,
    "relief/": ReminderMessage,
    "clock/": ReminderMessage,
    "voice:": VoiceNoteMessage,
    "notice:2": TextMessage,
    "notice:3:0": TextMessage,
    "notice:4:0": PictureMessage,
    "notice:4:1": PagesMessage,
    "notice:4:2": PictureMessage,
    "notice:4:3": PagesMessage,
    "notice:4:4": TableMessage,
}
LOST = {"spoken"}
"""Keys of the first release that nobody read."""
RENAMED = {"withdraw": "keys", "aloud": "said", "picture": "drawing", "pages": "drawing"}


def messages() -> dict[str, OutboxMessage]:
    return {row["key"]: read_message(row["body"]) for row in ROWS}


def test_every_kind_that_the_first_release_wrote_is_there() -> None:
    assert {type(one) for one in messages().values()} == set(KINDS.values())


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["key"])
def test_it_is_read_as_what_it_was(row: dict[str, object]) -> None:
    assert isinstance(row["key"], str) and isinstance(row["body"], dict) and "kind" not in row["body"]
    message = read_message(row["body"])
    assert type(message) is next(kind for start, kind in KINDS.items() if row["key"].startswith(start))
    written = write_message(message)
    seq = set() if isinstance(message, TextMessage | ReminderMessage) else {"seq"}
    for name, value in row["body"].items():
        if name not in LOST | seq:
            assert written[RENAMED.get(name, name)] == value


def test_a_call_keeps_what_it_asks() -> None:
    call = messages()["ring/1/3"]
    assert isinstance(call, ReminderMessage)
    assert (call.audience, call.attempt, call.aloud_too) == (Audience.OPERATOR, 3, True)
    assert call.instead_of == ("ring/1/1", "ring/1/2")
    assert call.buttons[0] == Button(label="All good", says="all good")


def test_what_was_to_be_forgotten_still_is() -> None:
    assert messages()["notice:2"].forget
    assert not messages()["notice:3:0"].forget


def test_every_message_of_the_outbox_is_found_again_by_its_kind() -> None:
    assert {type(one) for one in SAMPLES} == set(OutboxMessage.__origin__.__args__)  # type: ignore[attr-defined]
    for one in SAMPLES:
        assert read_message(json.loads(json.dumps(write_message(one)))) == one


def test_the_step_leaves_the_present_format_as_it_is() -> None:
    for one in messages().values():
        body = write_message(one)
        assert brought_up(body) is body and read_message(body) == one


@pytest.mark.parametrize("body", [{"kind": "hologram"}, {"kind": "text"}, {"text": 4}, {"audience": "x", "attempt": 1}])
def test_what_is_no_message_is_refused(body: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="validation error"):
        read_message(body)


def test_one_that_cannot_be_read_is_given_up_and_the_next_one_goes(database: Database) -> None:
    later, old = {"kind": "hologram", "text": "later"}, {"text": "Row 4?"}
    with database.begin() as connection:
        for key, body in (("later", later), ("old", old)):
            row = {"key": key, "conversation": "c", "body": body, "due_at": NOW}
            connection.execute(insert(tables.outbox).values(**row, state="pending", attempts=0))
    outbox = Outbox(database)
    assert [one.outgoing.key for one in outbox.pending("c")] == ["old"]
    assert outbox.claim("w", NOW, timedelta(minutes=1)) == ()
    (next_one,) = outbox.claim("w", NOW, timedelta(minutes=1))
    assert next_one.message == TextMessage(text="Row 4?")
    with database.read() as connection:
        kept = connection.execute(select(tables.outbox).where(tables.outbox.c.key == "later")).one()
    assert (kept.state, kept.why, kept.body) == ("failed", UNREADABLE, later)
