"""``rowhand bench conversation``: whole test runs by voice in noise, with an operator who listens and mends.

A voice of this computer reads the catches of simulated planters; ``unheard`` are those that the models were not
trained on, another each run. The engine noise is computed, or recorded loops. What is counted: utterances for each
value, values kept wrong on the way, those not read back when they were kept, those still wrong at the end, and the
seconds from the end of the sound to the reply.
"""

from __future__ import annotations

import itertools
import json
import random
import shutil
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated, get_args

import numpy as np
import typer

from bot.bench.engine import ENGINES, POLICY, engine
from bot.bench.voice_operator import CatchTally, VoiceOperator, begun
from bot.hear import utterance
from bot.settings import load_settings
from bot.wiring import rules
from engine.assistant import Assistant
from engine.data.forms import load_forms
from engine.database import open_database
from engine.entries.grammar import grammar
from engine.expectation import Expectation
from engine.messages import Utterance
from speech.audio import AudioClip
from speech.recognizer import Recognizer
from speech.synthesis import voices
from speech.synthesis.synthesizer import Synthesizer
from speech.training.conditions import NoiseCondition
from speech.training.voices import ESPEAK_HELD_OUT, FLITE_HELD_OUT, Flite, TrainingVoice
from speech.training.voices import EspeakThroats as Throat

START = datetime(2026, 5, 1, 22, 0, tzinfo=UTC)
NO_VOICE_EXIT = 3
UNHEARD = "unheard"


def conversation(
    runs: Annotated[int, typer.Option(min=1, help="test runs of eight rows")] = 20,
    snr: Annotated[float, typer.Option(help="speech over engine, dB")] = 5.0,
    seed: Annotated[int, typer.Option(help="of the catches and the noise")] = 1,
    name: Annotated[str, typer.Option("--engine", help=f"one of {', '.join(ENGINES)}")] = POLICY,
    voice: Annotated[str, typer.Option(help="piper, espeak-ng, auto, or unheard: no voice of the training")] = "auto",
    noise: Annotated[Path | None, typer.Option(help="folder of recorded engines instead of a computed one")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object")] = False,
) -> None:
    """Measure whole test runs by voice in noise, with an operator who listens and mends."""
    if name not in ENGINES:
        raise typer.BadParameter(f"--engine is one of {', '.join(ENGINES)}")
    loops = _loops(noise) if noise else ()
    total = CatchTally()
    for number in range(runs):
        speaker = _speaker(voice, number)
        cab = Cab(engine(name), speaker, snr, f"{seed}-{number}", loops)
        total.add(test_run(cab, random.Random(f"{seed}-{number}")))
    report = _report(runs, total)
    typer.echo(
        json.dumps(report) if as_json else "\n".join(f"{key.replace('_', ' ')}: {report[key]}" for key in report)
    )


def _report(runs: int, total: CatchTally) -> dict[str, float]:
    counted = {key: count for key, count in asdict(total).items() if key != "seconds"}
    return {
        "runs": runs,
        **counted,
        "utterances_per_value": round(total.utterances / total.values, 3),
        "p95_decision_s": round(float(np.quantile(total.seconds, 0.95)), 2),
    }


def _loops(noise: Path) -> tuple[Path, ...]:
    found = tuple(file for file in sorted(noise.glob("*")) if file.suffix in (".ogg", ".wav", ".flac"))
    if not found:
        raise typer.BadParameter(f"there is no recording in {noise}")
    return found


def _speaker(voice: str, number: int) -> Synthesizer:
    """The voice that reads a run."""
    if voice == UNHEARD:
        return Unheard(number)
    chosen = next((one for one in get_args(voices.Preference) if one == voice), None)
    if chosen is None:
        raise typer.BadParameter(f"--voice is one of {', '.join((*get_args(voices.Preference), UNHEARD))}")
    speaker = voices.choose("en", chosen, load_settings().voices, by_espeak=load_forms("en").speech.voice)
    if speaker is None:
        typer.echo("no English voice is installed: install espeak-ng or a Piper voice", err=True)
        raise typer.Exit(NO_VOICE_EXIT)
    return speaker


class Unheard:
    """One speaker that the models were not trained on: flite awb every third run, else a throat of espeak-ng."""

    name = UNHEARD

    def __init__(self, number: int) -> None:
        self.number = number
        self.identity = f"{UNHEARD} {number}"
        flite = number % 3 == 2 and shutil.which("flite") is not None
        self._voice: TrainingVoice = Flite(voices=FLITE_HELD_OUT) if flite else Throat(throats=ESPEAK_HELD_OUT)

    def speak(self, text: str) -> AudioClip:
        """The same accent, throat and pace for every sentence of a run."""
        return AudioClip(self._voice.say(text, random.Random(self.number)))


class Cab:
    """The way from a sentence to the assistant: a voice, an engine running, a recogniser."""

    def __init__(
        self, recognizer: Recognizer, voice: Synthesizer, snr: float, name: str, loops: tuple[Path, ...] = ()
    ) -> None:
        self.recognizer, self.voice = recognizer, voice
        self.condition = NoiseCondition(f"{snr} dB", snr, loops)
        self.seconds: list[float] = []
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
            self.seconds.append(heard.seconds)
            place = {"id": plain.id, "conversation": plain.conversation, "said_at": plain.said_at}
            return utterance(heard, "en").model_copy(update=place)

        return hear


def test_run(cab: Cab, rng: random.Random) -> CatchTally:
    """One conversation on a record of its own."""
    assistant = Assistant(open_database(":memory:"), rules(load_settings()))
    begun(assistant, cab.typed)
    tried = VoiceOperator(assistant, cab.ears(assistant), rng, cab.name).catch()
    tried.seconds = [hearing + turn for hearing, turn in zip(cab.seconds, tried.seconds, strict=True)]
    return tried
