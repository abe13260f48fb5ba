"""The demo's own words beside the conversation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.messages import Language


@dataclass(frozen=True)
class DemoWording:
    title: str
    spoken: str
    typed: str
    operator: str
    row: str
    run: str
    crash: str
    killed: str
    back: str
    same: str
    other: str
    record: str
    dial_and_catch: str
    ended: str
    took: str
    verdicts: Mapping[str, str]


ENGLISH = DemoWording(
    title="One evening: an eight-row planter, calibrated by voice",
    spoken="A recorded operator speaks; what stands beside each line is which ears heard it, how sure, how fast.",
    typed="The same evening, typed.",
    operator="operator",
    row="row",
    run="run {run}, target {target:.1f} g",
    crash="crash",
    killed='Process {pid} was killed while it was hearing "{text}".',
    back="{seconds:.1f} s later a new one is at turn {turn} of the record: {same}. It asks:",
    same="exactly the same state",
    other="that turn was kept already",
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
)
SPANISH = DemoWording(
    title="Una noche: una sembradora de ocho surcos, calibrada hablando",
    spoken="Habla un operador grabado; al lado de cada frase, quién la oyó, con qué seguridad y en cuánto tiempo.",
    typed="La misma noche, escrita.",
    operator="operador",
    row="surco",
    run="vuelta {run}, meta {target:.1f} g",
    crash="corte",
    killed='El proceso {pid} murió mientras oía "{text}".',
    back="{seconds:.1f} s después otro está en el turno {turn} del registro: {same}. Pregunta:",
    same="exactamente el mismo estado",
    other="ese turno ya estaba guardado",
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
)


def wording(language: Language) -> DemoWording:
    return ENGLISH if language == "en" else SPANISH
