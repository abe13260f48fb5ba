"""Whether the bytes of a file can be kept as a document: JPEG, PNG or PDF, whole, and of a size to open; and what one
that is kept is called as a file."""

from __future__ import annotations

import hashlib
import io
import warnings
from enum import StrEnum

from engine.document import Document, Media
from engine.history.store.scan import Scan

MOST_BYTES, MOST_PIXELS = 10 << 20, 40_000_000
"""The largest file, and the largest picture once it is unpacked (own decision): a telephone takes some 12 million
pixels in 4 MB."""
LONGEST_NAME = 50
"""So much of the name of a product is part of that of a file (own decision): in any script less than the 255 bytes of
ext4 (Linux, Documentation/filesystems/ext4)."""
END_WITHIN = 1024
"""So many bytes before its end a PDF says that it ends (ISO 32000-1, annex H: readers accept it there)."""
SUFFIXES = {Media.JPEG: ".jpg", Media.PNG: ".png", Media.PDF: ".pdf"}


def file_name(product: str, document: Document) -> str:
    """What a document of a product is called as a file: nothing of it leads out of a folder, and no two have one."""
    plain = "-".join("".join(mark if mark.isalnum() else " " for mark in product).split())
    named = plain[:LONGEST_NAME] or hashlib.sha256(product.encode()).hexdigest()[:12]
    return f"{named}-{document.sha256[:12]}{SUFFIXES[document.media]}"


def fits(content: bytes, side: int) -> bool:
    """Whether a file is a picture of which neither side has more pixels than this, by its header."""
    from PIL import Image

    try:
        with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as picture:
            return max(picture.size) <= side
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False


class ScanFault(StrEnum):
    """Why a file is not kept."""

    TOO_LARGE = "too_large"
    TOO_MANY_PIXELS = "too_many_pixels"
    NONE = "none"


def scan(content: bytes) -> Scan | ScanFault:
    """The file as it can be kept, or why it cannot."""
    if len(content) > MOST_BYTES:
        return ScanFault.TOO_LARGE
    if content.startswith(b"%PDF-"):
        return Scan(content, Media.PDF) if b"%%EOF" in content[-END_WITHIN:] else ScanFault.NONE
    return _picture(content)


def _picture(content: bytes) -> Scan | ScanFault:
    """A picture is measured by its header before anything of it is unpacked."""
    from PIL import Image

    kinds = {"JPEG": Media.JPEG, "PNG": Media.PNG}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=tuple(kinds)) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    return ScanFault.TOO_MANY_PIXELS
                picture.load()
                return Scan(content, kinds[str(picture.format)])
    except Image.DecompressionBombError:
        return ScanFault.TOO_MANY_PIXELS
    except (OSError, ValueError, SyntaxError, EOFError, OverflowError):
        return ScanFault.NONE
