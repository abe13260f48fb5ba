"""The shift that is drawn: what stands in the record, at its hour and its row, readable without colour."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from PIL import Image

from bot.record.shift_words import account
from bot.sheet.canvas import whole
from bot.sheet.font import font
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.sheet.piece import Disc, Ink, Outline, Piece, PlacedText
from bot.sheet.shift_chart import LaneSizes, draw_shift
from bot.sheet.shift_summary import Block, Lane, ShiftSheet, shift_sheet
from engine.history.shifts import ShiftRecord, shifts
from engine.messages import LANGUAGES, Language
from tests.helpers.planting import night as said

CHICAGO = ZoneInfo("America/Chicago")


@pytest.fixture(scope="module")
def night() -> ShiftRecord:
    (record,) = shifts(said())
    return record


def sheet_of(record: ShiftRecord, language: Language = "en") -> ShiftSheet:
    return shift_sheet(record, account(language, CHICAGO, record.system), ["Big one", None])


def drawn(sheet: ShiftSheet) -> list[Piece]:
    return list(draw_shift(sheet, sheet.lanes, LaneSizes()))


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_shows_every_row_with_what_is_in_doubt_and_its_rate(night: ShiftRecord, language: Language) -> None:
    sheet = sheet_of(night, language)
    assert [lane.row for lane in sheet.lanes] == list(night.rows)
    blocks = {lane.row: lane.blocks for lane in sheet.lanes if lane.blocks}
    assert {row: [one.stopped for one in found] for row, found in blocks.items()} == {2: [True], 5: [True], 7: [False]}
    (told,) = (one.found for one in night.stretches if one.found.rows == (5,))
    assert blocks[5][0].span == pytest.approx(((told.since - night.started_at) / timedelta(minutes=306), 70 / 306))
    assert "8:15 PM" in blocks[5][0].text and " lb" in blocks[5][0].text
    assert [lane.row for lane in sheet.lanes if lane.named] == [7]
    assert (sheet.lanes[6].rate, sheet.lanes[0].rate, sheet.unit) == ("4.8", "6.6", "lb/acre")
    assert "Big one" in sheet.lines[1] and "Maria" in sheet.lines[1]
    said = [piece.text for piece in drawn(sheet) if isinstance(piece, PlacedText)]
    together = " ".join(said).split()
    for text in (*sheet.lines, *sheet.footer, *(one.text for found in blocks.values() for one in found)):
        assert set(text.split()) - {"·"} <= set(together)


def test_looks_refills_and_pauses_lie_at_their_time(night: ShiftRecord) -> None:
    sheet = sheet_of(replace(night))
    assert sheet.looks == pytest.approx(tuple(at / 306 for at in (30, 60, 91, 180, 240, 301)))
    assert sheet.pauses[0] == pytest.approx((93 / 306, 123 / 306))
    start, end = LaneSizes().track(sheet)
    discs = [piece for piece in drawn(sheet) if isinstance(piece, Disc)]
    assert [disc.at[0] for disc in discs] == pytest.approx([start + at * (end - start) for at in sheet.looks])


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_letter_is_in_the_font(night: ShiftRecord, language: Language) -> None:
    nothing = bytes(font(40, False).getmask("\uffff"))
    words = [piece.text for piece in drawn(sheet_of(night, language)) if isinstance(piece, PlacedText)]
    for sign in {sign for text in words for sign in text} - {" ", "\xa0"}:
        assert bytes(font(40, False).getmask(sign)) != nothing, sign


def plain(*lanes: Lane, **changes: object) -> ShiftSheet:
    bare = ShiftSheet(
        title="T", lines=("a",), hours=(), looks=(), refills=(), pauses=(), lanes=lanes, unit="", looks_name="l",
        footer=("f",),
    )  # fmt: skip
    return bare.model_copy(update=changes)


def test_the_shape_says_what_the_colour_says() -> None:
    """A stopped row is a filled block, a hopper that stayed high an open one, a refill points down, too little left."""
    stopped, high = (
        [
            piece
            for piece in drawn(plain(Lane(row=1, blocks=(Block(span=(0.2, 0.5), stopped=one, text="x"),))))
            if isinstance(piece, Outline) and piece.ink is Ink.OFF
        ]
        for one in (True, False)
    )
    assert [one.filled for one in (*stopped, *high)] == [True, False]
    (refill,) = [one for one in drawn(plain(refills=(0.5,))) if isinstance(one, Outline) and len(one.points) == 3]
    (left, top), (right, _), (tip, low) = refill.points
    assert left < tip < right and low > top
    (less,) = [
        piece
        for piece in drawn(plain(Lane(row=1, rate="4.8", named=True), unit="lb/acre"))
        if isinstance(piece, Outline) and len(piece.points) == 3
    ]
    assert less.points[1][0] < less.points[0][0]


@pytest.mark.parametrize(("rows", "count"), [(8, 1), (24, 2), (60, 5)])
def test_pages_hold_every_row_and_a_picture_is_one_the_chat_takes(rows: int, count: int) -> None:
    block = Block(span=(0, 0), stopped=True, text="19:05 to 20:15")
    sheet = plain(*(Lane(row=row, blocks=(block,) * (row % 3), rate="5.0") for row in range(1, rows + 1)), unit="kg/ha")
    assert pages(sheet).count(b"/Type /Page\n") == count
    plate = whole(sheet)
    assert plate.width + plate.height <= 10_000 and plate.height <= 20 * plate.width


def test_a_picture_is_painted(night: ShiftRecord) -> None:
    image = Image.open(io.BytesIO(picture(sheet_of(night))))
    assert (image.format, image.width) == ("PNG", 1080)
    assert {colour for _, colour in image.getcolors(1 << 20) or ()} >= {(0xFF, 0xB3, 0x47), (0x8F, 0xE0, 0xC2)}


def test_nothing_leaves_the_canvas(night: ShiftRecord) -> None:
    sheet, rack = sheet_of(night), LaneSizes()
    corners = [
        point
        for piece in drawn(sheet)
        for point in (piece.points if isinstance(piece, Outline) else (piece.at,))
    ]  # fmt: skip
    assert all(0 <= x <= rack.width and 0 <= y <= rack.height(sheet, sheet.lanes) for x, y in corners)


@pytest.mark.parametrize(
    ("begun", "labels"),
    [
        (datetime(2026, 3, 8, 6, 30, tzinfo=UTC), ["1 AM", "3 AM", "4 AM", "5 AM"]),
        (datetime(2026, 11, 1, 5, 30, tzinfo=UTC), ["1 AM CDT", "1 AM CST", "2 AM", "3 AM"]),
    ],
)
def test_hours_are_those_of_the_wall_on_both_nights_when_it_changes(
    night: ShiftRecord, begun: datetime, labels: list[str]
) -> None:
    moved = replace(night, started_at=begun, ended_at=begun + timedelta(hours=3, minutes=45))
    hours = sheet_of(moved).hours
    assert [hour.label for hour in hours] == labels
    assert [hour.at for hour in hours] == pytest.approx([(0.5 + number) / 3.75 for number in range(4)])


def test_a_shift_of_no_length_and_one_of_days_can_be_drawn(night: ShiftRecord) -> None:
    for length in (timedelta(0), timedelta(minutes=14), timedelta(days=9)):
        sheet = sheet_of(replace(night, ended_at=night.started_at + length))
        assert len(sheet.hours) <= 7 and pages(sheet)
