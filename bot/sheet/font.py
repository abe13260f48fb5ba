"""The letters of a summary: Bitstream Vera, which comes with the library that makes the pages."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import ImageFont


def font_file(bold: bool) -> Path:
    """Where the letters are; ``reportlab`` is imported only where something is drawn."""
    import reportlab

    return Path(reportlab.__file__).parent / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf")


@lru_cache(maxsize=64)
def font(size: int, bold: bool) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(str(font_file(bold)), size, layout_engine=ImageFont.Layout.BASIC)


PARTED = " · "
LEAST = 16
"""No letters are drawn smaller: of a canvas 1080 wide they are 2.4 mm high on paper, and can be read on a phone."""


@dataclass(frozen=True)
class Fitted:
    """A text as it is drawn: cut where it does not fit at the least size."""

    text: str
    size: int


def fitting(text: str, size: float, room: float, bold: bool) -> Fitted:
    """The text at the largest whole size up to ``size`` at which it is no wider than ``room``."""
    wide = font(round(size), bold).getlength(text)
    if wide <= room:
        return Fitted(text, round(size))
    least = min(round(size), LEAST)
    smaller = max(int(size * room / wide), least)
    return Fitted(text if _fits(text, smaller, room, bold) else _cut(text, smaller, room, bold), smaller)


def _cut(text: str, size: int, room: float, bold: bool) -> str:
    end = len(text)
    while end and not _fits(f"{text[:end]}…", size, room, bold):
        end -= 1
    return f"{text[:end].rstrip()}…" if end else ""


def _fits(text: str, size: float, room: float, bold: bool) -> bool:
    return font(round(size), bold).getlength(text) <= room


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than ``room``, broken between its parts, else between words; a word that is wider
    alone is broken too."""
    lines: list[str] = []
    for part in text.split(PARTED):
        longer = f"{lines[-1]}{PARTED}{part}" if lines else part
        if _fits(longer, size, room, bold):
            lines[-1:] = [longer]
        else:
            lines += _worded(part, size, room, bold)
    return [line for line in lines if line.strip()]


def _worded(text: str, size: float, room: float, bold: bool) -> list[str]:
    lines: list[str] = []
    for word in (part for one in text.split(" ") for part in _pieces(one, size, room, bold)):
        longer = f"{lines[-1]} {word}" if lines else word
        if _fits(longer, size, room, bold):
            lines[-1:] = [longer]
        else:
            lines.append(word)
    return lines


def _pieces(word: str, size: float, room: float, bold: bool) -> Iterator[str]:
    while len(word) > 1 and not _fits(word, size, room, bold):
        end = next((at for at in range(len(word) - 1, 1, -1) if _fits(word[:at], size, room, bold)), 1)
        yield word[:end]
        word = word[end:]
    yield word
