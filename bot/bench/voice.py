"""``rowhand bench voice``: what is heard of recordings in noise, how sure, and what would be kept wrong.

Every clip is heard by every engine in every condition as what its set waits for, and the acceptance of the product
decides whether it would be kept, asked or not understood. ``exact`` is the share whose words all came out right;
``kept_right`` and ``kept_wrong`` compare meanings. All that is kept of chatter is kept wrong. During a shift
``false_good`` is the share kept wrong that says rows feed: it would end the search for what was planted bare.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from functools import cache
from itertools import product
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from bot.bench.engine import DEFAULT, ENGINES, engine
from bot.bench.learned import speakers, told, total
from bot.bench.peer import NAME, Whisper
from bot.bench.recording import Recording, by_set, recordings
from bot.bench.state import State, shift, state
from bot.bench.tally import Outcome, OutcomeTally
from bot.hear import utterance
from engine.data.languages import DEFAULT as LANGUAGE
from engine.data.languages import LANGUAGES, listed
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.errors import InputError
from engine.messages import Decision
from speech.audio import AudioClip
from speech.errors import SpeechError
from speech.recognizer import Recognizer
from speech.training.conditions import NoiseCondition
from speech.training.voices import read_sound
from speech.transcript import Transcript

USAGE_EXIT = 2
CLEAN = "clean"
SHIFT = "shift"


def voice(
    data: Annotated[Path, typer.Option(help="folder with a transcripts.tsv", file_okay=False)],
    noise: Annotated[Path | None, typer.Option(help="recorded engines instead of a computed one")] = None,
    snr: Annotated[str, typer.Option(help="conditions: clean, or speech over noise in dB")] = "clean,10,5",
    engines: Annotated[str, typer.Option(help=f"some of {', '.join(ENGINES)}")] = ",".join(DEFAULT),
    language: Annotated[str, typer.Option(help=listed())] = LANGUAGE,
    peer: Annotated[Path | None, typer.Option(help="a Whisper model to measure too, where faster-whisper is")] = None,
    sets: Annotated[str | None, typer.Option(help="some of the sets of the folder")] = None,
    most: Annotated[int | None, typer.Option(min=1, help="clips a set at most, evenly drawn")] = None,
    dialog: Annotated[str | None, typer.Option(help="shift: hear every set as what is told during one")] = None,
    clips_file: Annotated[Path | None, typer.Option("--clips", help="write here what came of each clip")] = None,
    learned: Annotated[
        str | None, typer.Option(help="by speaker, before and after one of each word is read: in this condition")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object a line")] = False,
) -> None:
    """Measure what is heard of recordings, in noise, and what is kept wrong."""
    try:
        groups = _chosen(by_set(recordings(data)), sets, most)
        words, limits = load_vocabulary(_spoken(language)), load_acceptance()
        heard_by = {name: engine(_known(name), language) for name in engines.split(",")}
        heard_by |= {NAME: Whisper(peer)} if peer else {}
        conditions = [_condition(name, noise) for name in snr.split(",")]
        in_shift = _in_shift(dialog)
        lesson = _condition(learned, noise) if learned else None
    except (InputError, SpeechError) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(USAGE_EXIT) from error
    for group, clips in groups.items():
        waiting = shift(words, limits) if in_shift else state(clips, words, limits)
        if lesson is not None:
            _learned(group, clips, waiting, lesson, conditions, heard_by, as_json)
            continue
        for condition in conditions:
            for name, tally in measure(clips, waiting, condition, heard_by).items():
                place = {"set": group, "snr": condition.ratio, "noise": _noise(condition), "engine": name}
                typer.echo(json.dumps(tally.line(**place)) if as_json else _told(place, tally))
                if clips_file:
                    _append(clips_file, place, tally)


def measure(
    clips: Sequence[Recording], waiting: State, condition: NoiseCondition, heard_by: dict[str, Recognizer]
) -> dict[str, OutcomeTally]:
    """What each engine makes of the clips of one set in one condition."""
    outcomes: dict[str, list[Outcome]] = {name: [] for name in heard_by}
    for clip in clips:
        heard = _sound(clip, condition)
        for name, recognizer in heard_by.items():
            outcomes[name].append(outcome(clip, heard, waiting, recognizer))
    return {name: OutcomeTally(found) for name, found in outcomes.items()}


def _learned(
    group: str,
    clips: Sequence[Recording],
    waiting: State,
    lesson: NoiseCondition,
    conditions: Sequence[NoiseCondition],
    heard_by: dict[str, Recognizer],
    as_json: bool,
) -> None:
    """Tell by speaker what a learned voice changes."""
    by_name = {one.name: one for one in (lesson, *conditions)}
    for (name, recognizer), condition in product(heard_by.items(), conditions):

        @cache
        def hears(clip: Recording, place: str, recognizer: Recognizer = recognizer) -> Transcript:
            return recognizer.transcribe(_sound(clip, by_name[place]), waiting.vocabulary.language, waiting.grammar)

        found = speakers(clips, waiting, lesson.name, condition.name, hears)
        place = {"set": group, "snr": condition.ratio, "read": lesson.name, "engine": name}
        if found and as_json:
            typer.echo("\n".join(json.dumps(one.line(**place)) for one in (total(found), *found)))
        elif found:
            typer.echo("\n".join(told(f"{group} · {condition.name}, read {lesson.name} · {name}", found)))


def _sound(clip: Recording, condition: NoiseCondition) -> AudioClip:
    sound = condition.heard(read_sound(clip.file), clip.file.stem)
    return AudioClip((sound / 32_768).astype(np.float32))


def outcome(clip: Recording, heard: AudioClip, waiting: State, recognizer: Recognizer) -> Outcome:
    """One clip from sound to decision; nothing that is kept of chatter is right."""
    language = waiting.vocabulary.language
    transcript = recognizer.transcribe(heard, language, waiting.grammar)
    said = utterance(transcript, language)
    decision = waiting.decision(said) if said.text else Decision.UNCLEAR
    meaning = waiting.meaning(said.text) if said.text and not clip.chatter else None
    right = meaning is not None and meaning == waiting.meaning(clip.text)
    exact = decision is Decision.UNCLEAR if clip.chatter else _words(said.text) == _words(clip.text)
    false_good = _false_good(clip, said.text, decision, waiting) if waiting.expectation.reports else None
    heard_as = (clip.text, said.text, round(said.confidence, 3))
    return Outcome(exact, right, decision, transcript.seconds, *heard_as, false_good)


def _false_good(clip: Recording, heard: str, decision: Decision, waiting: State) -> bool:
    """Whether it is kept that rows feed of which that was not said."""
    proof = waiting.proof(heard) if decision is Decision.KEEP else frozenset()
    return bool(proof) and (clip.chatter or proof != waiting.proof(clip.text))


def _append(file: Path, place: dict[str, Any], tally: OutcomeTally) -> None:
    """A line for each clip: what was said, what was heard and how surely, and what was decided."""
    with file.open("a", encoding="utf-8") as lines:
        lines.writelines(json.dumps(place | asdict(one)) + "\n" for one in tally.outcomes)


def _words(text: str) -> list[str]:
    """Words for comparing: nought is said in several ways, and an "and" inside a number says nothing."""
    return ["zero" if word in ("oh", "o", "nought") else word for word in text.split() if word != "and"]


def _condition(name: str, noise: Path | None) -> NoiseCondition:
    if name == CLEAN:
        return NoiseCondition(CLEAN, None)
    loops = tuple(file for file in sorted(noise.iterdir()) if file.suffix in (".ogg", ".wav", ".flac")) if noise else ()
    if noise and not loops:
        raise InputError(f"there is no recording in {noise}")
    try:
        return NoiseCondition(f"{float(name)} dB", float(name), loops)
    except ValueError as error:
        raise InputError(f"{name!r} is neither clean nor a number of dB") from error


def _in_shift(dialog: str | None) -> bool:
    if dialog not in (None, SHIFT):
        raise InputError(f"{dialog!r} is no dialog to hear; {SHIFT} is the only one")
    return dialog == SHIFT


def _noise(condition: NoiseCondition) -> str:
    if condition.ratio is None:
        return "none"
    return "recorded" if condition.loops else "computed"


def _spoken(language: str) -> str:
    if language not in LANGUAGES:
        raise InputError(f"{language!r} is none of {', '.join(LANGUAGES)}")
    return language


def _known(name: str) -> str:
    if name not in ENGINES:
        raise InputError(f"{name!r} is none of {', '.join(ENGINES)}")
    return name


def _chosen(groups: dict[str, list[Recording]], names: str | None, most: int | None) -> dict[str, Sequence[Recording]]:
    wanted = names.split(",") if names else list(groups)
    missing = [name for name in wanted if name not in groups]
    if missing or not groups:
        raise InputError(f"there is no set {', '.join(missing) or 'at all'}; the sets are {', '.join(groups)}")
    return {name: list(_drawn(groups[name], most)) for name in wanted}


def _drawn(clips: Sequence[Recording], most: int | None) -> Iterator[Recording]:
    """Every clip, or ``most`` of them at even steps."""
    count = len(clips) if most is None else min(most, len(clips))
    yield from (clips[at * len(clips) // count] for at in range(count))


def _told(place: dict[str, Any], tally: OutcomeTally) -> str:
    """A line for a person, each share with its 95 % interval."""
    where = CLEAN if place["snr"] is None else f"{place['snr']:g} dB {place['noise']}"
    parts = [
        f"{name.replace('_', ' ')} {share:.1%} ({low:.1%}-{high:.1%})"
        for (name, share), (low, high) in zip(tally.shares.items(), tally.intervals.values(), strict=True)
    ]
    times = f"{tally.seconds(0.5):.2f} s, 95th {tally.seconds(0.95):.2f} s"
    head = f"{place['set']} · {where} · {place['engine']} · {len(tally.outcomes)} clips"
    return f"{head}\n    {', '.join(parts)}; {times}"
