"""What a sheet is drawn of: outlines, discs and placed texts, each in an ink whose colour the painter knows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Point = tuple[float, float]


class Ink(StrEnum):
    """What something is painted for; the painter knows the colour."""

    PAPER = "paper"
    TEXT = "text"
    FAINT = "faint"
    BAND = "band"
    GOOD = "good"
    OFF = "off"


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"
    MIDDLE = "middle"


@dataclass(frozen=True)
class Outline:
    """A closed outline, filled or only drawn with a line of this ``width``."""

    points: tuple[Point, ...]
    ink: Ink
    filled: bool = True
    width: float = 5


@dataclass(frozen=True)
class Disc:
    at: Point
    radius: float
    ink: Ink


@dataclass(frozen=True)
class PlacedText:
    """A text at a place, no wider than ``room``."""

    at: Point
    text: str
    size: float
    ink: Ink
    room: float
    bold: bool = False
    side: Side = Side.LEFT


Piece = Outline | Disc | PlacedText


@dataclass(frozen=True)
class DrawingArea:
    """What is painted on: its width, and the margin on both sides, in points."""

    width: float = 1080
    margin: float = 40

    @property
    def room(self) -> float:
        return self.width - 2 * self.margin


def box(left: float, top: float, right: float, bottom: float, ink: Ink) -> Outline:
    """A filled rectangle."""
    return Outline(corners(left, top, right, bottom), ink)


def corners(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    """The outline of a rectangle."""
    return (left, top), (right, top), (right, bottom), (left, bottom)


def lozenge(at: Point, size: float) -> tuple[Point, ...]:
    """The outline of a square that stands on a corner."""
    x, y = at
    return (x - size, y), (x, y - size), (x + size, y), (x, y + size)
