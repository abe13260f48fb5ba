"""The demo's own words beside the conversation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from demo.script_lines import DemoPart
from engine.messages import Language


@dataclass(frozen=True)
class DemoWording:
    """``saved`` names the lines of what a look saved, from the stop to what it would have come to without one."""

    title: str
    spoken: str
    typed: str
    by_hand: str
    parts: Mapping[DemoPart, str]
    unseen: str
    keys: str
    operator: str
    row: str
    run: str
    crash: str
    killed: str
    back: str
    same: str
    other: str
    stops: str
    again: str
    foreman: str
    saved_title: str
    saved: tuple[str, str, str, str, str]
    secret: str
    feeds: str
    in_doubt: str
    without: str
    record: str
    dial_and_catch: str
    ended: str
    took: str
    verdicts: Mapping[str, str]
    kept: str
    files: tuple[str, str, str]
    look: str
    ask: str
    question: str
    played: str


ENGLISH = DemoWording(
    title="One evening: an eight-row planter, calibrated by voice, watched by night",
    spoken="A recorded operator speaks; beside it: which ears heard, how sure, how fast.",
    typed="The same evening, typed.",
    by_hand="typed",
    parts={
        DemoPart.CALIBRATE: "Calibration",
        DemoPart.NIGHT: "Night",
        DemoPart.SUMMARY: "What the foreman gets, and the record",
    },
    unseen="Played before, typed, without being shown: {parts}.",
    keys="Enter goes on at once, Ctrl-C ends it.",
    operator="operator",
    row="row",
    run="run {run}, target {target:.1f} g",
    crash="crash",
    killed='Process {pid} was killed while it was hearing "{text}".',
    back="{seconds:.1f} s later a new one is at turn {turn} of the record: {same}. It asks:",
    same="exactly the same state",
    other="that turn was kept already",
    stops="Row {row} stops feeding. Nobody in the cab can see it.",
    again="call {attempt}",
    foreman="the foreman's phone",
    saved_title="what the look saved",
    saved=("row {row} stopped", "look asked for", "found", "in doubt", "without a look"),
    secret="{at} (only the simulated planter knows)",
    feeds="{found}, feeding again {over}",
    in_doubt="{since} to {until}: {area}, up to {short} short",
    without="about {at}, at the first empty hopper: {more} more",
    record="From the record",
    dial_and_catch="run {run}: dial · catch",
    ended="ended",
    took="Every row on target. {seconds:.0f} s.",
    verdicts={
        "on_target": "on target",
        "closest_notch": "closest notch",
        "adjust": "to be moved",
        "run_again": "to be caught again",
        "cannot_tell": "cannot be told",
    },
    kept="They stay there; --into FOLDER puts them where you like.",
    files=("the record", "the foreman's picture", "the same to print"),
    look="look at it",
    ask="ask it",
    question='then say "what did I do tonight"',
    played="All played in {seconds:.0f} s.",
)
SPANISH = DemoWording(
    title="Una noche: una sembradora de ocho surcos, calibrada hablando y vigilada",
    spoken="Habla un operador grabado; al lado: quién oyó, con qué seguridad, en cuánto.",
    typed="La misma noche, escrita.",
    by_hand="escrito",
    parts={
        DemoPart.CALIBRATE: "Calibración",
        DemoPart.NIGHT: "Noche",
        DemoPart.SUMMARY: "Lo que recibe el mayordomo, y el registro",
    },
    unseen="Ya pasó, por escrito y sin mostrarse: {parts}.",
    keys="Enter sigue sin esperar, Ctrl-C termina.",
    operator="operador",
    row="surco",
    run="vuelta {run}, meta {target:.1f} g",
    crash="corte",
    killed='El proceso {pid} murió mientras oía "{text}".',
    back="{seconds:.1f} s después otro está en el turno {turn} del registro: {same}. Pregunta:",
    same="exactamente el mismo estado",
    other="ese turno ya estaba guardado",
    stops="El surco {row} deja de tirar. Nadie en la cabina lo puede ver.",
    again="llamada {attempt}",
    foreman="el teléfono del mayordomo",
    saved_title="lo que salvó la revisión",
    saved=("surco {row} parado", "revisión pedida", "encontrado", "en duda", "sin revisión"),
    secret="{at} (solo lo sabe la sembradora simulada)",
    feeds="{found}, tira otra vez {over}",
    in_doubt="{since} a {until}: {area}, hasta {short} de menos",
    without="hacia {at}, primera tolva vacía: {more} más",
    record="Del registro",
    dial_and_catch="vuelta {run}: ajuste · muestra",
    ended="final",
    took="Todos los surcos en la meta. {seconds:.0f} s.",
    verdicts={
        "on_target": "en la meta",
        "closest_notch": "marca más cercana",
        "adjust": "por mover",
        "run_again": "otra muestra",
        "cannot_tell": "no se puede saber",
    },
    kept="Quedan ahí; con --into CARPETA los pone donde quiera.",
    files=("el registro", "el dibujo del mayordomo", "lo mismo para imprimir"),
    look="para verlo",
    ask="para preguntarle",
    question="y diga “qué hice anoche”",
    played="Todo en {seconds:.0f} s.",
)


def wording(language: Language) -> DemoWording:
    return ENGLISH if language == "en" else SPANISH
