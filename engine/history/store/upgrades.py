"""How an older record becomes a current one: small steps, one version each.

A new record is made from ``tables`` at once. ``STEPS[n]`` turns format n + 1 into n + 2 and is written out in full,
because ``tables`` shows only the newest shape. Add a step and change ``tables`` in the same commit; a test holds an
upgraded record against a new one. On PostgreSQL there are records from format 6 on: the steps before know SQLite alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from sqlalchemy import Connection, insert, inspect, select, text, update

from engine.errors import DatabaseError, NewerDatabase
from engine.history.store.tables import create_all, version
from engine.history.store.triggers import only_forgets_whose, written_once


def _reminders(connection: Connection) -> None:
    """Reminders, each time they rang, and when the program was last awake."""
    _run(
        connection,
        """CREATE TABLE reminder (
            id INTEGER NOT NULL PRIMARY KEY, conversation TEXT NOT NULL, name TEXT NOT NULL, local TEXT NOT NULL,
            zone TEXT NOT NULL, second BOOLEAN NOT NULL, elapsed BOOLEAN NOT NULL, foreman TEXT, body TEXT NOT NULL,
            due_at VARCHAR(27) NOT NULL, next_at VARCHAR(27), state TEXT NOT NULL, asked INTEGER NOT NULL,
            rung INTEGER NOT NULL, message TEXT, settled_at VARCHAR(27),
            UNIQUE (conversation, name, local, second))""",
        "CREATE INDEX reminder_by_next ON reminder (next_at, id)",
        "CREATE INDEX reminder_by_state ON reminder (conversation, state, name)",
        """CREATE TABLE ring (
            id INTEGER NOT NULL PRIMARY KEY, reminder INTEGER NOT NULL REFERENCES reminder (id),
            number INTEGER NOT NULL, audience TEXT NOT NULL, due_at VARCHAR(27) NOT NULL,
            rung_at VARCHAR(27) NOT NULL, message TEXT NOT NULL, UNIQUE (reminder, number))""",
        "CREATE INDEX ring_by_message ON ring (message)",
        "CREATE TABLE heartbeat (id INTEGER NOT NULL PRIMARY KEY, seen_at VARCHAR(27) NOT NULL)",
    )
    written_once(connection, "ring")


def _inbox(connection: Connection) -> None:
    """What a channel received, before it is answered, and the conversations that cannot be reached any more."""
    _run(
        connection,
        """CREATE TABLE inbox (
            update_id BIGINT NOT NULL PRIMARY KEY, conversation TEXT NOT NULL, message BIGINT, body TEXT,
            received_at VARCHAR(27) NOT NULL, done_at VARCHAR(27))""",
        "CREATE INDEX inbox_by_done ON inbox (done_at, update_id)",
        "CREATE INDEX inbox_by_message ON inbox (conversation, message, update_id)",
        "CREATE TABLE gone (conversation TEXT NOT NULL PRIMARY KEY, since VARCHAR(27) NOT NULL)",
    )


def _people(connection: Connection) -> None:
    """Who belongs to which farm, invitations, and codes that were tried in vain."""
    _run(
        connection,
        """CREATE TABLE invitation (
            code TEXT NOT NULL PRIMARY KEY, farm TEXT NOT NULL, role TEXT NOT NULL,
            expires_at VARCHAR(27) NOT NULL, used_by TEXT, used_at VARCHAR(27))""",
        """CREATE TABLE person (
            conversation TEXT NOT NULL PRIMARY KEY, farm TEXT NOT NULL, role TEXT NOT NULL,
            joined_at VARCHAR(27) NOT NULL)""",
        "CREATE INDEX person_by_farm ON person (farm, role)",
        """CREATE TABLE attempt (
            id INTEGER NOT NULL PRIMARY KEY, conversation TEXT NOT NULL, tried_at VARCHAR(27) NOT NULL)""",
        "CREATE INDEX attempt_by_conversation ON attempt (conversation, tried_at)",
    )


def _farms(connection: Connection) -> None:
    """Farms have planters, each with a conversation that several may share; who spoke; what a foreman wants to hear.

    A turn may be taken from the chat it is called after, once, and in nothing else.
    """
    _run(
        connection,
        "ALTER TABLE conversation ADD COLUMN planter TEXT",
        "ALTER TABLE invitation ADD COLUMN joins TEXT",
        "ALTER TABLE person ADD COLUMN talk TEXT",
        "ALTER TABLE person ADD COLUMN name TEXT",
        "CREATE INDEX person_by_talk ON person (talk)",
        "UPDATE person SET talk = conversation",
        """UPDATE conversation SET farm = (SELECT farm FROM person WHERE person.conversation = conversation.id)
            WHERE farm IS NULL""",
        """INSERT INTO conversation (id, farm, created) SELECT conversation, farm, joined_at FROM person
            WHERE conversation NOT IN (SELECT id FROM conversation)""",
        """CREATE TABLE speaker (
            id INTEGER NOT NULL PRIMARY KEY, talk TEXT NOT NULL, chat TEXT NOT NULL, name TEXT NOT NULL,
            since VARCHAR(27) NOT NULL)""",
        "CREATE INDEX speaker_by_talk ON speaker (talk, id)",
        """CREATE TABLE news (
            chat TEXT NOT NULL PRIMARY KEY, runs BOOLEAN NOT NULL, shifts BOOLEAN NOT NULL, quiet_from TEXT,
            quiet_until TEXT, zone TEXT)""",
    )
    _run(connection, "DROP TRIGGER turn_no_update", "DROP TRIGGER turn_no_delete")
    kept = "id", "seq", "utterance_id", "said_at", "language", "heard", "spoken", "confidence", "reply"
    written_once(connection, "turn", only_forgets_whose(connection, *kept))


def _relief(connection: Connection) -> None:
    """What a channel calls a message that it sent, and whose foreman is to hear that somebody answered after all."""
    _run(
        connection,
        "ALTER TABLE outbox ADD COLUMN posted BIGINT",
        """CREATE TABLE relief (
            id INTEGER NOT NULL PRIMARY KEY, reminder INTEGER NOT NULL REFERENCES reminder (id),
            answered_at VARCHAR(27) NOT NULL)""",
    )


def _snapshots(connection: Connection) -> None:
    """Where a conversation stood at one of its turns; made by the program as it goes on."""
    _run(
        connection,
        """CREATE TABLE snapshot (
            conversation TEXT NOT NULL PRIMARY KEY REFERENCES conversation (id), seq INTEGER NOT NULL,
            body TEXT NOT NULL, sha256 TEXT NOT NULL)""",
    )


def _documents(connection: Connection) -> None:
    """Documents that are kept beside what was told, each once by the checksum of its content."""
    made = "CREATE TABLE document (sha256 TEXT NOT NULL PRIMARY KEY, media TEXT NOT NULL, content TEXT NOT NULL)"
    _run(connection, made)
    written_once(connection, "document")


def _inviters(connection: Connection) -> None:
    """Who invited somebody, and what the program is called in a channel."""
    _run(
        connection,
        "ALTER TABLE invitation ADD COLUMN invited_by TEXT",
        "CREATE TABLE account (channel TEXT NOT NULL PRIMARY KEY, name TEXT NOT NULL)",
    )


def _holds(connection: Connection) -> None:
    """Which updates take long, and who has the updates of a chat in hand."""
    _run(
        connection,
        "ALTER TABLE inbox ADD COLUMN slow BOOLEAN NOT NULL DEFAULT false",
        "CREATE INDEX inbox_by_waiting ON inbox (conversation, update_id) WHERE done_at IS NULL",
        "CREATE TABLE hold (conversation TEXT NOT NULL PRIMARY KEY, worker TEXT NOT NULL, until VARCHAR(27) NOT NULL)",
    )


def _run(connection: Connection, *statements: str) -> None:
    """Run the statements of a step; on a server text is compared by its characters, not as people sort it."""
    kind = r'\g<0> COLLATE "C"' if connection.dialect.name == "postgresql" else r"\g<0>"
    for statement in statements:
        connection.execute(text(_TEXT.sub(kind, statement)))


_TEXT = re.compile(r"\b(?:TEXT|VARCHAR\(\d+\))")
FIRST_ON_SERVER = 6
"""The oldest format of which there are records on PostgreSQL."""
STEPS: tuple[Callable[[Connection], None], ...] = (
    _reminders,
    _inbox,
    _people,
    _farms,
    _relief,
    _snapshots,
    _documents,
    _inviters,
    _holds,
)


def current() -> int:
    """The format this program writes."""
    return 1 + len(STEPS)


def found(connection: Connection, place: str) -> int:
    """The format of a record, 0 where there is none yet; DatabaseError where the tables are somebody else's."""
    tables = inspect(connection).get_table_names()
    if not tables:
        return 0
    number = connection.execute(select(version.c.version)).scalar() if version.name in tables else None
    if number is None:
        raise DatabaseError(f"{place} holds the data of another program: choose another file for the record")
    return int(number)


def upgrade_one(connection: Connection, place: str) -> bool:
    """Make an empty record, or take an older one a single step on; False when nothing is left to do."""
    number = found(connection, place)
    if number > current():
        raise NewerDatabase(place, number, current())
    if 0 < number < FIRST_ON_SERVER and connection.dialect.name == "postgresql":
        raise DatabaseError(
            f"{place} has format {number}, which no release wrote on a server: put back a copy; it was left untouched"
        )
    if number == 0:
        create_all(connection)
        connection.execute(insert(version).values(version=current()))
    elif number < current():
        STEPS[number - 1](connection)
        connection.execute(update(version).values(version=number + 1))
    return 0 < number < current()
