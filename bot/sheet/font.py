"""The letters of a summary: Bitstream Vera, which comes with the library that makes the pages."""

from __future__ import annotations

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


def fitting(text: str, size: float, room: float, bold: bool) -> int:
    """The largest whole size up to ``size`` at which the text is no wider than ``room``."""
    wide = font(round(size), bold).getlength(text)
    return round(size) if wide <= room else max(int(size * room / wide), 8)


def wrapped(text: str, size: float, room: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than ``room``, broken between its parts and then between words."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font(round(size), bold).getlength(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return [line.strip(" ·") for line in lines if line.strip(" ·")]
