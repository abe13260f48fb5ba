"""``rowhand bench conversation``: whole test runs by voice in noise, with an operator who listens and mends.

A voice of this computer reads the catches; the engine noise is computed. What is counted: utterances for each value,
values kept wrong on the way, those not read back when they were kept, and those still wrong at the end.
"""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from typing import Annotated

import numpy as np
import typer

from bot.bench.engine import ENGINES, POLICY, engine
from bot.bench.operator import Operator, Tried, begun
from bot.hear import utterance
from bot.settings import load_settings
from bot.wiring import rules
from engine.assistant import Assistant
from engine.database import open_database
from engine.entries.grammar import grammar
from engine.expectation import Expectation
from engine.forms import load_forms
from engine.messages import Utterance
from speech import voices
from speech.audio import AudioClip
from speech.recognizer import Recognizer
from speech.synthesizer import Synthesizer
from speech.training.conditions import Condition

START = datetime(2026, 5, 1, 22, 0, tzinfo=UTC)
NO_VOICE_EXIT = 3


def conversation(
    runs: Annotated[int, typer.Option(min=1, help="test runs of eight rows")] = 20,
    snr: Annotated[float, typer.Option(help="speech over engine, dB")] = 5.0,
    seed: Annotated[int, typer.Option(help="of the catches and the noise")] = 1,
    name: Annotated[str, typer.Option("--engine", help=f"one of {', '.join(ENGINES)}")] = POLICY,
    voice: Annotated[str, typer.Option(help="piper, espeak-ng or auto")] = "auto",
    as_json: Annotated[bool, typer.Option("--json", help="one object")] = False,
) -> None:
    """Measure whole test runs by voice in noise, with an operator who listens and mends."""
    chosen = next((one for one in voices.PREFERENCES if one == voice), None)
    if chosen is None or name not in ENGINES:
        raise typer.BadParameter(f"--voice is one of {', '.join(voices.PREFERENCES)}, --engine of {', '.join(ENGINES)}")
    settings = load_settings()
    speaker = voices.choose("en", chosen, settings.voices, by_espeak=load_forms("en").speech.voice)
    if speaker is None:
        typer.echo("no English voice is installed: install espeak-ng or a Piper voice", err=True)
        raise typer.Exit(NO_VOICE_EXIT)
    total = Tried()
    for number in range(runs):
        total.add(test_run(Cab(engine(name), speaker, snr, f"{seed}-{number}"), random.Random(f"{seed}-{number}")))
    report = asdict(total) | {"utterances_per_value": round(total.utterances / total.values, 3)}
    typer.echo(
        json.dumps(report) if as_json else "\n".join(f"{key.replace('_', ' ')}: {report[key]}" for key in report)
    )


class Cab:
    """The way from a sentence to the assistant: a voice, an engine running, a recogniser."""

    def __init__(self, recognizer: Recognizer, voice: Synthesizer, snr: float, name: str) -> None:
        self.recognizer, self.voice = recognizer, voice
        self.condition = Condition(f"{snr} dB", snr)
        self.name = name
        self.count = itertools.count(1)

    def typed(self, text: str) -> Utterance:
        number = next(self.count)
        return Utterance(
            id=f"{self.name}:{number}",
            conversation=self.name,
            text=text,
            language="en",
            said_at=START + timedelta(seconds=20 * number),
        )

    def ears(self, assistant: Assistant) -> Callable[[str, Expectation], Utterance]:
        def hear(text: str, expects: Expectation) -> Utterance:
            plain = self.typed(text)
            sound = self.condition.heard(np.array(self.voice.speak(text).samples), f"{plain.id} {text}")
            clip = AudioClip((sound / 32_768).astype(np.float32))
            heard = self.recognizer.transcribe(clip, "en", grammar(expects, assistant.vocabulary("en")))
            place = {"id": plain.id, "conversation": plain.conversation, "said_at": plain.said_at}
            return utterance(heard, "en").model_copy(update=place)

        return hear


def test_run(cab: Cab, rng: random.Random) -> Tried:
    """One conversation on a record of its own."""
    assistant = Assistant(open_database(":memory:"), rules(load_settings()))
    begun(assistant, cab.typed)
    return Operator(assistant, cab.ears(assistant), rng, cab.name).catch()
