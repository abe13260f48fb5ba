"""A summary as a PNG: light on dark, in letters that can be read on a phone in a cab at night."""

from __future__ import annotations

import io
from typing import assert_never

from PIL import Image, ImageDraw

from bot.sheet.canvas import AnySheet, whole
from bot.sheet.font import fitting, font
from bot.sheet.piece import Disc, Ink, Outline, Piece, PlacedText, Side

NIGHT = {
    Ink.PAPER: "#0e1311",
    Ink.TEXT: "#f4f1e6",
    Ink.FAINT: "#a9aea6",
    Ink.BAND: "#3a4540",
    Ink.GOOD: "#8fe0c2",
    Ink.OFF: "#ffb347",
}
ANCHORS = {Side.LEFT: "ls", Side.RIGHT: "rs", Side.MIDDLE: "ms"}
TALLEST = 8_500
"""The chat refuses pictures whose sides add up to more than 10 000."""


def picture(sheet: AnySheet) -> bytes:
    """The whole summary in one tall picture; many rows are drawn lower, so that it stays within the chat's limit."""
    plate = whole(sheet)
    image = Image.new("RGB", (round(plate.width), round(plate.height)), NIGHT[Ink.PAPER])
    pen = ImageDraw.Draw(image)
    for piece in plate.pieces:
        _paint(pen, piece)
    if plate.height > TALLEST:
        image = image.resize((round(image.width * TALLEST / plate.height), TALLEST), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def _paint(pen: ImageDraw.ImageDraw, mark: Piece) -> None:
    match mark:
        case Outline(points, ink, filled, width):
            pen.polygon(points, fill=NIGHT[ink] if filled else None, outline=NIGHT[ink], width=round(width))
        case Disc((x, y), radius, ink):
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=NIGHT[ink])
        case PlacedText(at, text, size, ink, room, bold, side):
            fitted = fitting(text, size, room, bold)
            letters = font(fitted.size, bold)
            pen.text(at, fitted.text, fill=NIGHT[ink], font=letters, anchor=ANCHORS[side])
        case other:
            assert_never(other)
