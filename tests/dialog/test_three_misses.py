"""Whatever is asked, words that mean nothing there are answered another way each time: no line three times in a row."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.expectation import Asking, SlotKind
from engine.messages import Language
from tests.helpers.talking import Conversation, beginnings, library

FEW, MANY = 3, 5
NONSENSE: dict[Language, str] = {"en": "my cousin plays the banjo", "es": "mi primo toca la guitarra"}
NO_NAME = "..."
"""What cannot be a name either."""
LABELLED: dict[Language, list[str]] = {"en": beginnings()["labelled"], "es": beginnings()["etiqueta"]}
EVENINGS: dict[Language, tuple[list[str], ...]] = {
    "en": (
        [
            *("ready check", "eight", "all fit but row three hose", "mended", "all fit"),
            *("scale", "200 grams", "198 grams", "one gram", "done now", "all done"),
            *LABELLED["en"],
            *(
                "five pounds an acre",
                "five miles an hour",
                "three hundred feet",
                "scale",
                "forty grams",
                "five grams",
                "two",
            ),
            *("test run", "all at twelve", "all 118", "forty one seconds", "enough"),
            *("shift", "four four seven", "skip", "North field", "eighty acres", "skip", "all on", "all forty pounds"),
            *("fifty pounds", "skip", "five acres", "skip", "end of shift", "done", "put away", "skip", "yes", "yes"),
            *("twelve", "north shed", "Otto", "cleaned"),
        ],
        [
            *("product", "Terravel 15", "1234-567", "granule", "fifteen percent", "two pounds an acre"),
            *("ten pounds an acre", "fifteen pounds an acre", "48 hours", "yes", "gloves", "no", "right"),
            *("new field", "North Forty", "forty acres", "corn", "Hill County", "no", "right"),
            *("applicator", "Juan Perez", "IA-12345", "no", "right", "rename", "North Forty", "North Field"),
            *("delivery", "Terravel 15", "447", "twenty", "fifty pounds"),
        ],
        [
            *("new planter", "green one", "eight", "thirty inches", "skip", "no", "right"),
            *("new meters", "blue boxes", "roll", "zero to thirty by one", "skip", "no", "right"),
            *("new scale", "shop scale", "one gram", "five kilograms", "April 12", "no", "right"),
            *("set up", "green one", "blue boxes", "no", "skip", "two pounds an acre", "ten pounds an acre"),
            *("five pounds an acre", "five miles an hour", "three hundred feet", "scale", "forty grams"),
        ],
        [
            *(*beginnings()["prepared"], *beginnings()["catching"], *beginnings()["finished"]),
            *("shift", "skip", "skip", "skip", "skip", "skip", "all on", "all forty pounds", "fifty pounds", "skip"),
            *("five acres", "skip", "end of shift", "done", "application record", "Terravel 15", "1234-567", "yes"),
            *("twenty pounds", "North Forty", "Hill County", "corn", "Juan Perez", "IA-12345", "no", "right"),
        ],
        [
            *(LABELLED["en"] + ["four pounds an acre", "five miles an hour", "three hundred feet", "tube"]),
            *("measure it", "250 milliliters", "sixty grams", "260 grams"),
            *("one milliliter", "test run", "all at twelve", "all 39"),
        ],
        [
            *beginnings()["prepared"],
            *("test run", "all at twelve", "forty one seconds, all 79, row four sixty", "stop here", "yes"),
            *("take row four back in", "shift", "skip", "skip", "skip", "skip", "skip", "all on", "no"),
        ],
    ),
    "es": (
        [
            *("revisión", "ocho", "todos listos menos el surco tres manguera", "arreglado", "listo"),
            *("báscula", "200 gramos", "198 gramos", "un gramo", "ya está", "todo hecho"),
            *LABELLED["es"],
            *("cinco libras por acre", "cinco millas por hora", "trescientos pies", "báscula", "cuarenta gramos"),
            *("cinco gramos", "dos", "prueba", "todos en doce", "todos 118", "cuarenta y un segundos", "basta"),
            *("turno", "cuatro cuatro siete", "salta", "Campo norte", "ochenta acres", "salta", "todos prendidos"),
            *("todos veinte kilos", "veinticinco kilos", "salta", "cinco acres", "salta", "fin de turno", "listo"),
            *("guardar", "salta", "sí", "sí", "doce", "bodega norte", "salta"),
        ],
        [
            *("producto", "Terravel 15", "1234-567", "gránulo", "quince por ciento", "dos libras por acre"),
            *("diez libras por acre", "quince libras por acre", "48 horas", "sí", "guantes", "no", "correcto"),
            *("campo nuevo", "Loma alta", "cuarenta acres", "maíz", "condado de Hill", "no", "correcto"),
            *("aplicador", "María Ruiz", "IA-12345", "no", "correcto", "cambiar nombre", "Loma alta", "Loma baja"),
            *("entrega", "Terravel 15", "447", "veinte", "cincuenta libras"),
        ],
        [
            *("sembradora nueva", "la verde", "ocho", "treinta pulgadas", "salta", "no", "correcto"),
            *("dosificadores nuevos", "cajas azules", "rodillo", "de cero a treinta de uno en uno", "salta", "no"),
            *("correcto", "báscula nueva", "la del taller", "un gramo", "cinco kilos", "12 de abril", "no", "correcto"),
            *("preparar", "la verde", "cajas azules", "no", "salta", "dos libras por acre", "diez libras por acre"),
            *("cinco libras por acre", "cinco millas por hora", "trescientos pies", "báscula", "cuarenta gramos"),
        ],
        [
            *(*beginnings()["preparada"], *beginnings()["pesando"], *beginnings()["terminada"]),
            *("turno", "salta", "salta", "salta", "salta", "salta", "todos prendidos", "todos veinte kilos"),
            *("veinticinco kilos", "salta", "cinco acres", "salta", "fin de turno", "listo"),
            *("registro de aplicación", "Terravel 15", "1234-567", "sí", "veinte libras", "Loma alta"),
            *("condado de Hill", "maíz", "María Ruiz", "IA-12345", "no", "correcto"),
        ],
        [
            *(LABELLED["es"] + ["cuatro libras por acre", "cinco millas por hora", "trescientos pies", "tubo"]),
            *("medirla", "250 mililitros", "sesenta gramos", "260 gramos"),
            *("un mililitro", "prueba", "todos en doce", "todos 39"),
        ],
        [
            *beginnings()["preparada"],
            *("prueba", "todos en doce", "cuarenta y cinco segundos, todos 86, surco cuatro sesenta", "terminar aquí"),
            *("sí", "el surco cuatro ya está arreglado", "turno", "salta", "salta", "salta", "salta", "salta"),
            *("todos prendidos", "no"),
        ],
    ),
}


def missed(talk: Conversation, before: str, heard: str | None, misses: int) -> Iterator[str]:
    """The replies to words that mean nothing, after the one that asked."""
    yield before
    for _ in range(misses):
        expects = talk.expects
        named = expects.asking is Asking.SLOT and expects.slots[0].kind is SlotKind.TEXT
        yield talk.say(NO_NAME if named else NONSENSE[expects.language], heard).reply.text


def what_is_asked(talk: Conversation) -> tuple[str, Asking, str]:
    """The dialog, the kind of question, and what it is about."""
    dialog, expects = talk.assistant.state("c").dialog, talk.expects
    return (dialog.dialog if dialog else "", expects.asking, expects.slots[0].name if expects.slots else "")


def lines_said_thrice(replies: list[str]) -> set[str]:
    lines = [set(one.splitlines()) for one in replies]
    return set().union(*(one & two & three for one, two, three in zip(lines, lines[1:], lines[2:], strict=False)))


@pytest.mark.parametrize(
    ("heard", "misses"),
    [
        ("well", FEW),
        pytest.param("well", MANY, marks=pytest.mark.campaign),
        pytest.param(None, MANY, marks=pytest.mark.campaign),
    ],
)
@pytest.mark.parametrize("language", [pytest.param("en", marks=pytest.mark.campaign), "es"])
def test_no_line_is_said_three_times_in_a_row(
    language: Language, heard: str | None, misses: int, tmp_path: Path
) -> None:
    asked: set[tuple[str, Asking, str]] = set()
    for number, evening in enumerate(EVENINGS[language]):
        talk = Conversation(tmp_path / f"{number}.db", language)
        for said in evening:
            reply = talk.say(said).reply.text
            question = what_is_asked(talk)
            if question in asked:
                continue
            asked.add(question)
            replies = list(missed(talk, reply, heard, misses))
            assert len(set(replies[1:4])) == 3, (said, replies)
            assert lines_said_thrice(replies) == set(), (said, replies)
    every = {(name, Asking.SLOT, slot) for name, script in library().scripts.items() for slot in script.slots}
    assert every - asked == set()


HEARD = [
    ("en", "prepared catching", "the gate by row two squeaks", "row 2"),
    ("en", "prepared catching", "gate eighty grams squeaks", "80 g"),
    ("en", "prepared catching", "999999999 grams squeaks", ""),
    ("es", "preparada pesando", "la puerta ochenta gramos chilla", "80 g"),
]


@pytest.mark.parametrize(("language", "begins", "said", "what"), HEARD)
def test_what_was_heard_with_a_meaning_is_named(
    language: Language, begins: str, said: str, what: str, tmp_path: Path
) -> None:
    talk = Conversation(tmp_path / "talk.db", language)
    for one in begins.split():
        talk.say_all(beginnings()[one])
    first = talk.say(said, "well").reply.text.splitlines()[0]
    got = {"en": f"I got {what}, but not what it is for.", "es": f"Entendí {what}, pero no para qué es."}[language]
    assert (first == got) is bool(what), first
