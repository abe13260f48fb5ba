"""What stands where in a sentence: rows, amounts, repairs, names and slips of the thumb."""

from __future__ import annotations

from functools import lru_cache

import pytest

from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.expectation import Asking, Expectation
from engine.messages import Report
from engine.understanding.extraction.told_names import code_in
from engine.understanding.scanning.scanner import Scanner
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.understanding.scanning.spelling import Spelled, mended, slipped
from engine.understanding.weighing.repair import repaired

ROWS = 8


def spans(text: str, language: str = "en") -> tuple[TextSpan, ...]:
    return Scanner(hearing(text, language)).spans()


@lru_cache(maxsize=64)
def hearing(text: str, language: str = "en") -> MatchContext:
    waiting = Expectation(language=language, asking=Asking.REPORT, rows=ROWS, reports=tuple(Report))
    return MatchContext(text, waiting, load_vocabulary(language))


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("rows two and four are plugged", (2, 4)),
        ("1 2 and 4 are plugged", (1, 2, 4)),
        ("two through five look fine", (2, 3, 4, 5)),
        ("all but six are good", (1, 2, 3, 4, 5, 7, 8)),
        ("everything except 2 and 3", (1, 4, 5, 6, 7, 8)),
        ("the first three are low", (1, 2, 3)),
        ("the last two quit", (7, 8)),
        ("both outside ones are down", (1, 8)),
        ("the odd rows are half", (1, 3, 5, 7)),
    ],
)
def test_rows_are_found_in_a_sentence(text: str, rows: tuple[int, ...]) -> None:
    assert [span.rows for span in spans(text) if span.kind is SpanKind.ROWS] == [rows]


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("de la dos a la cinco van bien", (2, 3, 4, 5)),
        ("todos menos el seis", (1, 2, 3, 4, 5, 7, 8)),
        ("los primeros tres van bajos", (1, 2, 3)),
    ],
)
def test_rows_are_found_in_spanish(text: str, rows: tuple[int, ...]) -> None:
    assert [span.rows for span in spans(text, "es") if span.kind is SpanKind.ROWS] == [rows]


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("seven ounces a thousand", "oz/1000 ft"),
        ("twelve pounds to the acre", "lb/acre"),
        ("five mile an hour", "mph"),
        ("a mile and a half", "mi"),
    ],
)
def test_units_of_two_parts_are_one(text: str, unit: str) -> None:
    (amount,) = (span.amount for span in spans(text) if span.amount is not None)
    assert amount.parts[-1][1] == unit


def test_a_comparison_names_no_rows() -> None:
    assert [span.rows for span in spans("seven is fuller than the others") if span.kind is SpanKind.ROWS] == []


@pytest.mark.parametrize(
    ("text", "left"),
    [("row six, no, row seven stopped", (7,)), ("not row six, row seven stopped", (7,)), ("row six stopped", (6,))],
)
def test_what_is_taken_back_is_gone(text: str, left: tuple[int, ...]) -> None:
    told = repaired(spans(text), hearing(text))
    assert [span.rows for span in told.spans if span.kind is SpanKind.ROWS] == [left]


@pytest.mark.parametrize(
    ("text", "code"), [("it's lot 55-1187", "55-1187"), ("a-12b in all", "A-12B"), ("12 or 13", None)]
)
def test_the_number_of_a_lot_is_taken_as_it_is_printed(text: str, code: str | None) -> None:
    assert code_in(text) == code


@pytest.mark.parametrize(
    ("word", "meant", "near"),
    [("eigth", "eight", True), ("fity", "fifty", True), ("sitting", "setting", True), ("ten", "two", False)],
)
def test_a_slip_is_one_letter(word: str, meant: str, near: bool) -> None:
    assert slipped(word, meant) is near


def test_only_unknown_words_are_mended() -> None:
    words = load_vocabulary("en")
    assert mended("seveen rows", words, lambda _: False).text == "seven rows"
    assert not mended("seveen rows", words, lambda _: False).guessed
    fourteen = Spelled("fourteen rows", changes=(("fourteen", "fourten"),))
    assert mended("fourten rows", words, lambda _: False) == fourteen
    sixty = Spelled("sixty rows", guessed=True, changes=(("sixty", "sixt"),))
    assert mended("sixt rows", words, lambda _: False) == sixty
    assert mended("it's Mill Creek", words, lambda _: False).text == "it's Mill Creek"
    assert mended("threw twenty", words, lambda word: word == "threw").text == "threw twenty"
