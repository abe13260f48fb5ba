"""``rowhand record label`` and ``labels``: the photo of a label kept with its product, and all of them as files."""

from __future__ import annotations

import uuid
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from bot.record.place import DB, record_there
from engine.errors import InputError


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
    from bot.photo_file import file_name
    from bot.wiring import open_record
    from engine.crew.farm import labels as kept
    from engine.history.store.scan import find

    with closing(open_record(record_there(db))) as record:
        for product, document in kept(record):
            name, found = file_name(product, document), find(record, document.sha256)
            if found is None:
                typer.echo(f"{product}: {document.media.upper()}, not in the record any more: keep it anew")
                continue
            if into is not None:
                _write(into / name, found.content)
            typer.echo(f"{product}: {document.media.upper()}, {len(found.content)} bytes, {name}")


def _write(file: Path, content: bytes) -> None:
    """Write a file that is not there; the same one stays, and another one is not written over."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("xb") as new:
            new.write(content)
    except FileExistsError:
        if not file.is_file() or file.read_bytes() != content:
            raise InputError(f"{file} is there already, and is something else: name another folder") from None
    except OSError as error:
        raise InputError(f"{file} cannot be written: {error.strerror}") from None
