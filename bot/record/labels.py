"""``rowhand record label`` and ``labels``: the photo of a label kept with its product, and all of them as files."""

from __future__ import annotations

import hashlib
import uuid
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from bot.record.place import DB, record_there
from engine.errors import InputError

SUFFIXES = {"jpeg": ".jpg", "png": ".png", "pdf": ".pdf"}


def label(
    file: Annotated[Path, typer.Argument(help="JPEG, PNG or PDF.")],
    product: Annotated[str, typer.Option(help="The product, by the name under which it is known.")],
    db: DB = None,
) -> None:
    """Keep the photo of a label with its product; nothing is read from it."""
    from bot.photo_file import ScanFault, scan
    from bot.settings import CONVERSATION
    from bot.wiring import assistant, open_record
    from engine.messages import Utterance

    settings = record_there(db)
    try:
        content = file.read_bytes()
    except OSError as error:
        raise InputError(f"{file} cannot be read: {error.strerror}") from None
    found = scan(content)
    if isinstance(found, ScanFault):
        raise InputError(f"{file} {WHY[found]}: nothing was kept")
    with closing(open_record(settings)) as record:
        made = assistant(settings, record, ())
        if made.product_for(CONVERSATION, product) is None:
            raise InputError(f"no product is known as {product}: tell it first, under product in rowhand talk")
        said = Utterance(
            id=f"label:{uuid.uuid4().hex}",
            conversation=CONVERSATION,
            text=product,
            language=made.state(CONVERSATION).language,
            said_at=datetime.now(UTC),
        )
        typer.echo(made.attach(said, found).reply.text.partition("\n")[0])


WHY = {
    "too_large": "is larger than 10 MB",
    "too_many_pixels": "has more than 40 million pixels",
    "none": "is no whole JPEG, PNG or PDF",
}


def labels(
    db: DB = None, into: Annotated[Path | None, typer.Option(help="Write the files into this folder.")] = None
) -> None:
    """The labels that are kept, by product; as files where a folder is named."""
    from bot.wiring import open_record
    from engine.crew.farm import labels as kept
    from engine.history.store.scan import find

    with closing(open_record(record_there(db))) as record:
        for product, document in kept(record):
            name = f"{_plain(product)}-{document.sha256[:12]}{SUFFIXES[document.media]}"
            if into is not None and (found := find(record, document.sha256)) is not None:
                _write(into, name, found.content)
            typer.echo(f"{product}: {name}")


def _plain(product: str) -> str:
    """A product as part of the name of a file; where nothing of it can be one, its checksum."""
    plain = "-".join("".join(mark if mark.isalnum() else " " for mark in product).split())
    return plain[:80] or hashlib.sha256(product.encode()).hexdigest()[:12]


def _write(folder: Path, name: str, content: bytes) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    except OSError as error:
        raise InputError(f"{folder / name} cannot be written: {error.strerror}") from None
