"""The application record as a form of one page: what is known, what is an estimate, and a box for what is missing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from bot.sheet.font import wrapped
from bot.sheet.piece import DrawingArea, Ink, Outline, Piece, PlacedText, box, corners
from engine.messages import Message


class FormLine(Message):
    """One line: ``value`` None is missing, ``note`` stands behind it, such as that it is an estimate."""

    name: str
    value: str | None
    note: str = ""


class Form(Message):
    """One record. ``standing`` says whether it is complete. ``elements`` are what the rule asks for, ``others`` what is
    good practice, each under its name; ``missing`` stands in the boxes of what is not known."""

    title: str
    lines: tuple[str, ...]
    standing: str
    elements_name: str
    elements: tuple[FormLine, ...]
    others_name: str
    others: tuple[FormLine, ...]
    missing: str
    footer: tuple[str, ...]
    keywords: str = ""


class FormPages(Message):
    """Forms, a page each; ``when`` the last of what they tell was done, ``author`` is who did it."""

    forms: tuple[Form, ...]
    when: datetime | None = None
    author: str = ""

    @property
    def title(self) -> str:
        """Of the first one, with where and when."""
        return ", ".join((self.forms[0].title, *self.forms[0].lines))

    @property
    def lines(self) -> tuple[str, ...]:
        return tuple(one.standing for one in self.forms)


@dataclass(frozen=True)
class Paper(DrawingArea):
    """A form, by the size of its letters, by which everything else goes."""

    size: float = 34

    @property
    def value_at(self) -> float:
        return self.margin + self.room * 0.37

    @property
    def step(self) -> float:
        return self.size * 1.42


SIZES = (34.0, 31.0, 28.0, 25.0, 22.0, 19.0, 16.0, 13.0)
"""The largest letters with which a form fits one page are taken."""


def draw_form(form: Form, width: float, height: float, margin: float) -> Iterator[Piece]:
    """The form on one page, in letters as large as it has room for."""
    for size in SIZES:
        pieces, depth = _drawn(form, Paper(width, margin, size))
        if depth <= height or size == SIZES[-1]:
            break
    yield from pieces


def _drawn(form: Form, paper: Paper) -> tuple[list[Piece], float]:
    """The pieces, and how deep they reach."""
    pieces: list[Piece] = []
    y = paper.margin * 0.4 + paper.size * 1.3
    pieces.append(PlacedText((paper.margin, y), form.title, paper.size * 1.5, Ink.TEXT, paper.room, bold=True))
    for text, bold in (*((line, False) for line in form.lines), (form.standing, True)):
        for part in wrapped(text, paper.size, paper.room, bold):
            y += paper.step
            pieces.append(PlacedText((paper.margin, y), part, paper.size, Ink.TEXT, paper.room, bold=bold))
    for name, lines in ((form.elements_name, form.elements), (form.others_name, form.others)):
        y = _rule(pieces, y, paper) + paper.step
        pieces.append(PlacedText((paper.margin, y), name, paper.size, Ink.TEXT, paper.room, bold=True))
        for line in lines:
            y = _line(pieces, line, form, y, paper)
    y = _rule(pieces, y, paper)
    for text in form.footer:
        for part in wrapped(text, paper.size * 0.8, paper.room):
            y += paper.step * 0.85
            pieces.append(PlacedText((paper.margin, y), part, paper.size * 0.8, Ink.TEXT, paper.room))
    return pieces, y + paper.size


def _rule(pieces: list[Piece], y: float, paper: Paper) -> float:
    y += paper.size * 0.75
    pieces.append(box(paper.margin, y, paper.width - paper.margin, y + 3, Ink.TEXT))
    return y + paper.size * 0.1


def _line(pieces: list[Piece], line: FormLine, form: Form, y: float, paper: Paper) -> float:
    """One line, as deep as its name or its value; a box where it is missing."""
    room, beside = paper.width - paper.margin - paper.value_at, paper.value_at - paper.margin - paper.size
    names = wrapped(line.name, paper.size, beside)
    text = form.missing if line.value is None else f"{line.value} {line.note}".strip()
    values = wrapped(text, paper.size, room - paper.size, bold=line.value is not None)
    for number, part in enumerate(names, 1):
        pieces.append(PlacedText((paper.margin, y + number * paper.step), part, paper.size, Ink.TEXT, beside))
    inset = paper.size * 0.5 if line.value is None else 0.0
    for number, part in enumerate(values, 1):
        at = (paper.value_at + inset, y + number * paper.step)
        pieces.append(PlacedText(at, part, paper.size, Ink.TEXT, room - inset, bold=line.value is not None))
    if line.value is None:
        top, bottom = y + paper.size * 0.4, y + len(values) * paper.step + paper.size * 0.32
        pieces.append(Outline(corners(paper.value_at, top, paper.width - paper.margin, bottom), Ink.TEXT, filled=False))
    return y + max(len(names), len(values)) * paper.step
