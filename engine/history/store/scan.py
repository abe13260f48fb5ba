"""Documents in the record, such as photos of labels: each once, by the checksum of its content.

Content is kept as text (base64, RFC 4648), so that it travels and is compared as all else does.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy import Connection, select

from engine.database import Database, insert_new
from engine.document import Document, Media
from engine.history.store.tables import document


@dataclass(frozen=True)
class Scan:
    """A document with its content."""

    content: bytes
    media: Media

    @cached_property
    def document(self) -> Document:
        return Document(sha256=hashlib.sha256(self.content).hexdigest(), media=self.media)


def put(connection: Connection, scan: Scan) -> None:
    """Keep a document inside somebody's transaction; one that is there already stays as it is."""
    content = base64.b64encode(scan.content).decode("ascii")
    row = {"sha256": scan.document.sha256, "media": scan.media.value, "content": content}
    insert_new(connection, document, [row])


def find(database: Database, sha256: str) -> Scan | None:
    """A document by its checksum; None where it is not there, or is not what it was."""
    with database.read() as connection:
        row = connection.execute(select(document).where(document.c.sha256 == sha256)).first()
    found = Scan(base64.b64decode(row.content), Media(row.media)) if row else None
    return found if found and found.document.sha256 == sha256 else None


def damaged(connection: Connection) -> Iterator[str]:
    """The checksums of documents that are not what they were."""
    for row in connection.execute(select(document), execution_options={"yield_per": 1}):
        try:
            same = hashlib.sha256(base64.b64decode(row.content, validate=True)).hexdigest() == row.sha256
        except ValueError:
            same = False
        if not same:
            yield row.sha256
