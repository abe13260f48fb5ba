"""What is answered in every state: the telephone numbers, and the last reply once more."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from engine.dialog.interpreter import Interpreter
from engine.dialog.reply.speech_text import aloud
from engine.messages import Asked, Language, Reading, Topic
from tests.helpers.talking import START, Conversation, beginnings, library

PLANTING = ("prepared", "catching", "finished", "planting")
SEMBRANDO = ("preparada", "pesando", "terminada", "sembrando")
STATES: dict[str, tuple[Language, Sequence[str], Sequence[str]]] = {
    "nothing open": ("en", (), ()),
    "a dialog": ("en", ("labelled",), ()),
    "a name asked": ("en", (), (*beginnings()["prepared"][:6],)),
    "rows": ("en", ("prepared", "catching"), ()),
    "a question": ("en", ("prepared", "catching"), ("row one six hundred",)),
    "leaving": ("en", ("prepared", "catching"), ("cancel",)),
    "planting": ("en", PLANTING, ()),
    "a name told": ("en", PLANTING, ("hand over",)),
    "standing": ("en", PLANTING, ("lunch",)),
    "more acres than can be": ("en", PLANTING, ("forty acres done",)),
    "books": ("en", PLANTING, ("end of shift",)),
    "after the shift": ("en", PLANTING, ("end of shift", "done")),
    "put away": ("en", PLANTING, ("end of shift", "done", "put away")),
    "nada abierto": ("es", (), ()),
    "diálogo": ("es", ("etiqueta",), ()),
    "nombre": ("es", (), (*beginnings()["preparada"][:6],)),
    "surcos": ("es", ("preparada", "pesando"), ()),
    "pregunta": ("es", ("preparada", "pesando"), ("surco uno seiscientos",)),
    "sembrando": ("es", SEMBRANDO, ()),
    "pausa": ("es", SEMBRANDO, ("a comer",)),
    "cuentas": ("es", SEMBRANDO, ("fin de turno",)),
    "después": ("es", SEMBRANDO, ("fin de turno", "listo")),
}
WORDS: dict[Language, tuple[str, str, tuple[str, ...]]] = {
    "en": ("emergency", "repeat", ("call 1", "Rinse skin and eyes", "fresh air", "Poison Help 2", "spill: 3", "label")),
    "es": ("emergencia", "repite", ("llame al 1", "piel y ojos", "aire fresco", "Envenenamientos, 2", "grande: 3")),
}


def brought_to(name: str, folder: Path) -> Conversation:
    language, begins, said = STATES[name]
    talk = Conversation(folder / "talk.db", language)
    if texts := [*(text for one in begins for text in beginnings()[one]), *said]:
        talk.say_all(texts)
    return talk


@pytest.mark.parametrize("heard", ["well", pytest.param(None, marks=pytest.mark.campaign)], ids=["heard", "typed"])
@pytest.mark.parametrize("name", STATES)
def test_the_numbers_to_call_are_said_in_every_state(name: str, heard: str | None, tmp_path: Path) -> None:
    talk = brought_to(name, tmp_path)
    asked, (word, _, parts) = talk.asks, WORDS[STATES[name][0]]
    answered = talk.say(word, heard)
    text = answered.reply.text.splitlines()[0]
    assert [part for part in parts if part.lower() not in text.lower()] == []
    assert talk.asks == asked
    assert {fact["kind"] for fact in answered.facts} <= {"alarmed", "heard", "look_set"}
    assert [fact["kind"] for fact in answered.facts].count("alarmed") == 1


def test_the_numbers_are_said_where_a_dialog_can_no_longer_be_continued(tmp_path: Path) -> None:
    talk = brought_to("rows", tmp_path)
    state = talk.assistant.state("c")
    assert state.dialog is not None
    lost = state.model_copy(update={"dialog": state.dialog.model_copy(update={"script": "gone"})})
    numbers = {"emergency": "1", "poison": "2", "spill": "3"}
    turn = Interpreter(library(), numbers=numbers).take(lost, Reading(entries=(Asked(topic=Topic.EMERGENCY),)), START)
    assert "call 1" in turn.reply.text and "can no longer be continued" in turn.reply.text


@pytest.mark.parametrize("name", STATES)
def test_the_last_reply_is_said_again_whole(name: str, tmp_path: Path) -> None:
    talk = brought_to(name, tmp_path)
    repeat, topic = WORDS[STATES[name][0]][1], WORDS[STATES[name][0]][0]
    before = talk.say(topic).reply
    assert len(before.text.splitlines()) > 1 or talk.assistant.state("c").dialog is None
    assert talk.say(repeat).reply == before
    talk.restart()
    assert talk.say(repeat).reply == before


def test_a_verdict_is_said_again_with_all_its_lines(tmp_path: Path) -> None:
    talk = Conversation(tmp_path / "talk.db")
    talk.say_all(beginnings()["prepared"] + beginnings()["catching"])
    before = talk.say_all(beginnings()["caught"]).reply
    assert len(before.text.splitlines()) > 8
    again = talk.say("repeat").reply
    assert again.text == before.text
    assert aloud(before.text, "en") == again.speech
