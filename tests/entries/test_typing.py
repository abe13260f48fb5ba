"""Digits of any script and marks of layout in typed text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.assistant import Assistant
from engine.database import open_database
from engine.understanding.typed_text import LAYOUT, plainly
from tests.helpers.talking import beginnings, library
from tests.helpers.turns import utterance


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("row 1 \u0666\u0661", "row 1 61"),
        ("row \uff11 \uff16\uff11", "row 1 61"),
        ("\u202arow 1 61\u202c", "row 1 61"),
        ("\ufeffrow\u200e 1 61", "row 1 61"),
        ("\u0967\u0968", "12"),
        ("Señor 5\u00bd", "Señor 5\u00bd"),
        ("\uff32ow 1", "Row 1"),
    ],
)
def test_it_is_read_as_plain_text(typed: str, plain: str) -> None:
    assert plainly(typed) == plain


@given(st.text(max_size=60))
def test_twice_is_as_once_and_nothing_else_is_lost(text: str) -> None:
    plain = plainly(text)
    assert plainly(plain) == plain
    assert len(plain) == len(text) - sum(mark in LAYOUT for mark in text)


@pytest.mark.parametrize("typed", ["row 1 \u0667\u0669", "row \uff11 \uff17\uff19", "\u202arow 1 79\u202c"])
def test_a_catch_so_typed_is_kept(typed: str) -> None:
    assistant = Assistant(open_database(":memory:"), library=library())
    for at, said in enumerate([*beginnings()["prepared"], *beginnings()["catching"]]):
        assistant.hear(utterance(str(at), said))
    said = assistant.hear(utterance("u", typed)).reply.text
    assert "Row 1, 79" in said
