"""A summary as a PDF to print: dark on white, letter paper, as many pages as the rows need."""

from __future__ import annotations

import io
from functools import lru_cache
from typing import assert_never

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import LETTER
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from bot.sheet.canvas import AnySheet, paged
from bot.sheet.drawing import Disc, Ink, Outline, Piece, PlacedText, Side
from bot.sheet.font import fitting, font_file
from bot.sheet.form import FormPages

DAY = {
    Ink.PAPER: "#ffffff",
    Ink.TEXT: "#111111",
    Ink.FAINT: "#5a5f5b",
    Ink.BAND: "#d5dad6",
    Ink.GOOD: "#0b6e53",
    Ink.OFF: "#a34700",
}
NAMES = {False: "Vera", True: "Vera-Bold"}
WIDTH, MARGIN, TOP = 1700, 110, 20


def pages(sheet: AnySheet) -> bytes:
    """The whole summary."""
    _fonts()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=LETTER, invariant=1)
    canvas.setTitle(sheet.title)
    canvas.setAuthor("Rowhand")
    canvas.setSubject(" ".join(sheet.lines))
    canvas.setCreator("Rowhand")
    if isinstance(sheet, FormPages):
        canvas.setKeywords(sheet.forms[0].keywords)
    scale = LETTER[0] / WIDTH
    for page in paged(sheet, WIDTH, (LETTER[1] - TOP) / scale, MARGIN):
        canvas.translate(0, LETTER[1] - TOP)
        canvas.scale(scale, -scale)
        for piece in page.pieces:
            _paint(canvas, piece)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


@lru_cache(maxsize=1)
def _fonts() -> None:
    for bold, name in NAMES.items():
        pdfmetrics.registerFont(TTFont(name, str(font_file(bold))))


def _paint(canvas: Canvas, mark: Piece) -> None:
    match mark:
        case Outline(points, ink, filled):
            _outline(canvas, points, ink, filled)
        case Disc((x, y), radius, ink):
            canvas.setFillColor(HexColor(DAY[ink]))
            canvas.circle(x, y, radius, stroke=0, fill=1)
        case PlacedText():
            _write(canvas, mark)
        case other:
            assert_never(other)


def _outline(canvas: Canvas, points: tuple[tuple[float, float], ...], ink: Ink, filled: bool) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    path.close()
    canvas.setFillColor(HexColor(DAY[ink]))
    canvas.setStrokeColor(HexColor(DAY[ink]))
    canvas.setLineWidth(5)
    canvas.drawPath(path, stroke=int(not filled), fill=int(filled))


def _write(canvas: Canvas, words: PlacedText) -> None:
    """Text stands upright on a canvas whose y grows downwards."""
    canvas.saveState()
    canvas.translate(*words.at)
    canvas.scale(1, -1)
    canvas.setFillColor(HexColor(DAY[words.ink]))
    canvas.setFont(NAMES[words.bold], fitting(words.text, words.size, words.room, words.bold))
    match words.side:
        case Side.LEFT:
            canvas.drawString(0, 0, words.text)
        case Side.RIGHT:
            canvas.drawRightString(0, 0, words.text)
        case Side.MIDDLE:
            canvas.drawCentredString(0, 0, words.text)
        case other:
            assert_never(other)
    canvas.restoreState()
