"""A summary as a PDF to print: dark on white, letter paper, as many pages as the rows need."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from functools import lru_cache
from typing import assert_never

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import LETTER
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from bot.sheet.canvas import AnySheet, paged
from bot.sheet.font import fitting, font_file
from bot.sheet.form import FormPages
from bot.sheet.piece import Disc, Ink, Outline, Piece, PlacedText, Side

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
    canvas.setAuthor(sheet.author or "Rowhand")
    canvas.setSubject(" ".join(sheet.lines))
    canvas.setCreator("Rowhand")
    if sheet.when is not None:
        canvas.setDateFormatter(lambda *_: _moment(sheet.when))
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


def _moment(when: datetime | None) -> str:
    """A moment as a PDF has it (ISO 32000-1, 7.9.4): D:YYYYMMDDHHmmSS with the difference to UTC."""
    if when is None:
        return ""
    local = when if when.tzinfo else when.replace(tzinfo=UTC)
    off = f"{local:%z}"
    return f"D:{local:%Y%m%d%H%M%S}{off[:3]}'{off[3:5]}'"


@lru_cache(maxsize=1)
def _fonts() -> None:
    for bold, name in NAMES.items():
        pdfmetrics.registerFont(TTFont(name, str(font_file(bold))))


def _paint(canvas: Canvas, mark: Piece) -> None:
    match mark:
        case Outline():
            _outline(canvas, mark)
        case Disc((x, y), radius, ink):
            canvas.setFillColor(HexColor(DAY[ink]))
            canvas.circle(x, y, radius, stroke=0, fill=1)
        case PlacedText():
            _write(canvas, mark)
        case other:
            assert_never(other)


def _outline(canvas: Canvas, mark: Outline) -> None:
    path = canvas.beginPath()
    path.moveTo(*mark.points[0])
    for point in mark.points[1:]:
        path.lineTo(*point)
    path.close()
    canvas.setFillColor(HexColor(DAY[mark.ink]))
    canvas.setStrokeColor(HexColor(DAY[mark.ink]))
    canvas.setLineWidth(mark.width)
    canvas.drawPath(path, stroke=int(not mark.filled), fill=int(mark.filled))


def _write(canvas: Canvas, words: PlacedText) -> None:
    """Text stands upright on a canvas whose y grows downwards."""
    canvas.saveState()
    canvas.translate(*words.at)
    canvas.scale(1, -1)
    canvas.setFillColor(HexColor(DAY[words.ink]))
    fitted = fitting(words.text, words.size, words.room, words.bold)
    canvas.setFont(NAMES[words.bold], fitted.size)
    match words.side:
        case Side.LEFT:
            canvas.drawString(0, 0, fitted.text)
        case Side.RIGHT:
            canvas.drawRightString(0, 0, fitted.text)
        case Side.MIDDLE:
            canvas.drawCentredString(0, 0, fitted.text)
        case other:
            assert_never(other)
    canvas.restoreState()
