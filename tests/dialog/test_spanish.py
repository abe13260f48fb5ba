"""Spanish as it is spoken on farms: what is typed is read, and what is said agrees in number."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from engine.data.texts import Several, Text
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.messages import System
from engine.quantities import Measure
from tests.helpers.talking import Conversation, beginnings

LABELLED = ("etiqueta",)
WEIGHING = ("preparada", "pesando")
PLANTING = ("preparada", "pesando", "terminada", "sembrando")
TYPED = [
    (("preparar", "ocho"), "treinta pulg", "30 pulg."),
    (("preparar", "ocho"), "30 pulgadas, por favor", "30 pulg."),
    (LABELLED, "cinco lb por acre", "Dosis: 5 lb/acre."),
    (LABELLED, "4 oz/1000 pies", "Dosis: 4 oz/1000 pies."),
    ((*LABELLED, "cinco libras por acre"), "cinco millas y media por hora", "5.5 mph."),
    ((*LABELLED, "cinco libras por acre"), "ocho kilómetros y medio por hora", "8.5 km/h (5.3 mph)."),
    (WEIGHING, "cuarenta y cuatro seg", "44 s"),
    (WEIGHING, "surco uno 80 grs", "Surco 1, 80 g."),
    (WEIGHING, "q sigue", "Conteste esto:"),
    (WEIGHING, "última muestra del surco dos", "Todavía no hay muestra del surco 2."),
    (WEIGHING, "última captura del surco dos", "Todavía no hay muestra del surco 2."),
    ((*PLANTING[:3], "turno", "447", "salta", "Campo norte", "80 acres", "salta", "todos prendidos"),
     "todas con 40 libras", "Surcos 1-8: cargado 40 lb."),
    (PLANTING, "se tapó el 5", "Surco 5: parado."),
    (PLANTING, "el cinco no echa", "Surco 5: parado."),
    (PLANTING, "el 3 no avienta", "Surco 3: parado."),
    (PLANTING, "ya avienta el 3", "Surco 3: tira otra vez."),
    (PLANTING, "q sigue", "Siga sembrando hasta la próxima revisión."),
    (PLANTING, "se pararon el tres y el cuatro", "Surcos 3 y 4: parados."),
]  # fmt: skip


@pytest.mark.parametrize(("place", "typed", "answer"), TYPED)
def test_what_is_typed_is_read(tmp_path: Path, place: tuple[str, ...], typed: str, answer: str) -> None:
    talk = Conversation(tmp_path / "talk.db", "es")
    talk.say_all([line for name in place for line in beginnings().get(name, [name])])
    assert answer in talk.say(typed).reply.text


def test_a_text_takes_the_form_that_agrees() -> None:
    text = Text({"es": "{place}: [parado|parados]."})
    assert text.fill("es", {"place": "Surco 3"}) == "Surco 3: parado."
    assert text.fill("es", {"place": Several("Surcos 3 y 4")}) == "Surcos 3 y 4: parados."
    with pytest.raises(ValueError, match="not two forms"):
        Text({"es": "{place}: [parado]."})


@pytest.mark.parametrize(
    ("hour", "day", "shown"),
    [
        (1, 28, "la 1:05 AM"),
        (3, 28, "las 3:05 AM"),
        (13, 28, "la 1:05 PM"),
        (0, 28, "las 12:05 AM"),
        (1, 26, "la 1:05 AM del 26/04"),
    ],
)
def test_an_hour_has_its_article(hour: int, day: int, shown: str) -> None:
    near = datetime(2026, 4, 28, 6, tzinfo=UTC)
    spanish = Wording("es", System.US)
    assert spanish.clock(datetime(2026, 4, day, hour, 5, tzinfo=UTC), near) == shown
    assert spanish.say(SystemKey.SHIFT_STARTED, time=shown) == f"Sembrando desde {shown}."


def test_a_part_of_an_hour_is_told_in_minutes() -> None:
    assert Wording("es", System.US).amount(Measure(value=1.25, unit="h")) == "1 h 15 min"
    assert Wording("es", System.US).amount(Measure(value=2, unit="h")) == "2 h"
