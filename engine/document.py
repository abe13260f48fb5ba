"""Documents that are kept beside what was told, such as the photo of a label: known by their content, never read."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import Field

from engine.messages import Message


class Media(StrEnum):
    """What a document may be."""

    JPEG = "jpeg"
    PNG = "png"
    PDF = "pdf"


class Document(Message):
    """One document: the SHA-256 of its content, in hexadecimal digits, and what it is."""

    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    media: Media


def having(documents: tuple[Document, ...], new: tuple[Document, ...]) -> tuple[Document, ...]:
    """Documents with more of them, each once."""
    return tuple(dict.fromkeys((*documents, *new)))
