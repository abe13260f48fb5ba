"""What the bytes of an upload are, as far as the Bot API looks at them."""

from __future__ import annotations

import struct

from tests.helpers.telegram_server.refusal import bad_request

OPUS_RATE_HZ = 48_000


def is_opus(content: bytes) -> bool:
    """An Ogg stream whose first page opens an Opus stream."""
    return content.startswith(b"OggS") and b"OpusHead" in content[:256]


def opus_seconds(content: bytes) -> int:
    """Whole seconds of an Ogg/Opus stream, read from the granule position of its last page (RFC 7845)."""
    page = content.rfind(b"OggS")
    granule: int = struct.unpack_from("<q", content, page + 6)[0]
    return round(granule / OPUS_RATE_HZ)


def picture_size(content: bytes) -> tuple[int, int]:
    """Width and height of a PNG or JPEG; refused as the server does when it is none, or misshapen."""
    if content.startswith(b"\x89PNG\r\n\x1a\n") and len(content) >= 24:
        width, height = struct.unpack_from(">II", content, 16)
    elif content.startswith(b"\xff\xd8"):
        width, height = _jpeg_size(content)
    else:
        raise bad_request("IMAGE_PROCESS_FAILED")
    if width + height > 10_000 or max(width, height) > 20 * min(width, height):
        raise bad_request("PHOTO_INVALID_DIMENSIONS")
    return width, height


def _jpeg_size(content: bytes) -> tuple[int, int]:
    place = 2
    while place + 9 < len(content) and content[place] == 0xFF:
        kind, length = content[place + 1], struct.unpack_from(">H", content, place + 2)[0]
        if 0xC0 <= kind <= 0xCF and kind not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack_from(">HH", content, place + 5)
            return width, height
        place += 2 + length
    raise bad_request("IMAGE_PROCESS_FAILED")
