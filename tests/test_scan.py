"""Which files are kept as documents, and which are refused before they can do harm."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bot import photo_file as scans
from bot.photo_file import MOST_BYTES, MOST_PIXELS, ScanFault, file_name, fits, scan
from engine.document import Media
from engine.history.store.scan import Scan


def picture(kind: str = "PNG", size: tuple[int, int] = (40, 30)) -> bytes:
    made = io.BytesIO()
    Image.new("RGB", size, "green").save(made, kind)
    return made.getvalue()


def huge_png(width: int, height: int) -> bytes:
    """A PNG of few bytes whose header promises many pixels, all of one color."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((width + 7) // 8 + 1) * height, 1)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("content", "media"),
    [
        (picture("JPEG"), Media.JPEG),
        (picture("PNG"), Media.PNG),
        (b"%PDF-1.7\nsomething\n%%EOF\n", Media.PDF),
    ],
)
def test_what_is_kept_is_kept_byte_for_byte(content: bytes, media: Media) -> None:
    assert scan(content) == Scan(content, media)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"GIF89a" + bytes(100),
        b"<svg onload='x'/>",
        b"MZ" + bytes(100),
        b"%PDF-1.7 cut off",
        picture("BMP"),
        picture("GIF"),
        picture("PNG")[:60],
        picture("JPEG", (400, 300))[:700],
        picture("PNG").replace(b"IDAT", b"JDAT"),
        b"\xff\xd8" + picture("PNG"),
    ],
    ids=range(11),
)
def test_what_does_not_open_is_none(content: bytes) -> None:
    assert scan(content) is ScanFault.NONE


def test_a_small_file_that_unpacks_to_a_huge_picture_is_refused_by_its_header() -> None:
    side = int(MOST_PIXELS**0.5) + 1
    for bomb in (huge_png(side, side), huge_png(60_000, 60_000)):
        assert len(bomb) < MOST_BYTES
        assert scan(bomb) is ScanFault.TOO_MANY_PIXELS


def test_a_file_that_is_too_large_is_not_even_looked_into(monkeypatch: pytest.MonkeyPatch) -> None:
    content = picture()
    monkeypatch.setattr(scans, "MOST_BYTES", len(content))
    assert isinstance(scan(content), Scan)
    monkeypatch.setattr(scans, "MOST_BYTES", len(content) - 1)
    assert scan(content) is ScanFault.TOO_LARGE


@given(st.binary(max_size=400), st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0", b"%PDF-"]))
def test_no_bytes_break_it(content: bytes, head: bytes) -> None:
    found = scan(head + content)
    assert isinstance(found, ScanFault) or found.content == head + content


@given(st.integers(0, 10**6), st.integers(1, 255))
def test_a_picture_with_one_byte_changed_is_a_picture_or_refused(place: int, by: int) -> None:
    whole = bytearray(picture())
    whole[place % len(whole)] ^= by
    found = scan(bytes(whole))
    assert isinstance(found, Scan | ScanFault)


@pytest.mark.parametrize(
    ("content", "small"),
    [
        (picture("PNG", (1280, 20)), True),
        (picture("JPEG", (20, 1280)), True),
        (picture("PNG", (1281, 20)), False),
        (picture("JPEG", (20, 1281)), False),
        (huge_png(30_000, 30_000), False),
        (b"%PDF-1.7\n%%EOF", False),
        (b"", False),
    ],
    ids=range(7),
)
def test_only_a_picture_with_no_longer_side_fits(content: bytes, small: bool) -> None:
    assert fits(content, 1280) is small


@pytest.mark.parametrize(
    "product", ["../../etc/passwd", "C:\\Grano\0", "...", "Ñandú 15 %", "\U0001d518" * 300, "CON.", "\u202egpj"]
)
def test_the_name_of_a_file_stays_in_its_folder_and_tells_documents_apart(product: str) -> None:
    one, other = (Scan(content, Media.PDF).document for content in (b"1", b"2"))
    names = {file_name(product, one), file_name(product, other)}
    assert len(names) == 2
    for name in names:
        assert name.endswith(".pdf") and len(name.encode()) <= 255
        assert name.removesuffix(".pdf").replace("-", "").isalnum()
