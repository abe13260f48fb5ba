"""What is asked for a shift and during it: an answer about rows is none about the whole, and a long wait is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.messages import Language
from tests.helpers.talking import Conversation, beginnings

BEGINS: dict[Language, tuple[str, ...]] = {
    "en": ("prepared", "catching", "finished"),
    "es": ("preparada", "pesando", "terminada"),
}
LOADED: dict[Language, tuple[str, ...]] = {
    "en": ("shift", "447", "skip", "North field", "80 acres"),
    "es": ("turno", "447", "salta", "Loma", "80 acres"),
}
WATCHED: dict[Language, tuple[str, ...]] = {
    "en": ("skip", "all on", "all forty pounds", "fifty pounds", "skip", "five acres", "skip"),
    "es": ("salta", "todos prendidos", "todos veinte kilos", "veinticinco kilos", "salta", "cinco acres", "salta"),
}


def shift(place: Path, language: Language, *said: str) -> Conversation:
    talk = Conversation(place / "shift.db", language)
    for beginning in BEGINS[language]:
        talk.say_all(beginnings()[beginning])
    talk.say_all((*LOADED[language], *said))
    return talk


def asks(talk: Conversation) -> bool:
    """Whether something is asked beside the next report."""
    dialog = talk.assistant.state("c").dialog
    return dialog is not None and bool(dialog.questions)


@pytest.mark.parametrize(
    ("language", "text"),
    [("en", "all on, all forty pounds"), ("es", "todas prendidas, todas cuarenta libras")],
)
def test_a_weight_of_rows_is_not_that_of_a_bag(language: Language, text: str, tmp_path: Path) -> None:
    talk = shift(tmp_path, language)
    talk.say(text)
    dialog = talk.assistant.state("c").dialog
    assert dialog is not None
    assert "bag" not in dialog.values
    assert talk.expects.slots[0].name == "pass_length"


@pytest.mark.parametrize(("language", "text"), [("en", "give me 21 hours"), ("es", "dame 21 horas")])
def test_a_look_put_off_for_long_is_asked_and_kept_by_a_yes(language: Language, text: str, tmp_path: Path) -> None:
    talk = shift(tmp_path, language, *WATCHED[language])
    assert "7:4" in talk.say(text).reply.text
    assert asks(talk)
    talk.say({"en": "yes", "es": "sí"}[language])
    assert not asks(talk)


@pytest.mark.parametrize(("language", "text"), [("en", "give me two hours"), ("es", "dame dos horas")])
def test_a_shorter_one_is_not(language: Language, text: str, tmp_path: Path) -> None:
    talk = shift(tmp_path, language, *WATCHED[language])
    talk.say(text)
    assert not asks(talk)
