"""Hear recordings, for scripts: ``rowhand hear FILES…`` prints what was said, what it means and whether to keep it.

Exit codes: 0 when every file could be heard, 3 when any could not be read (the others are heard all the same),
2 for options that cannot be used.
"""

from __future__ import annotations

import json
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, assert_never

import typer

from bot.options import one_of
from bot.settings import load_settings
from engine.data.languages import DEFAULT, LANGUAGES, Language, listed
from engine.entries.grammar import grammar
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.errors import InputError
from engine.expectation import Asking, Expectation, ExpectedSlot, Range, SlotKind
from engine.frozen_model import FrozenModel
from engine.messages import (
    Decision,
    Either,
    Entry,
    Given,
    HeardWord,
    Reading,
    Unclear,
    UnclearReason,
    Utterance,
)
from engine.quantities import Dimension, Measure, read_measure
from engine.values import Value
from speech.audio import decode
from speech.errors import AudioError, SpeechError
from speech.recognizer import Recognizer
from speech.recognizer_choice import PREFERENCES, choose
from speech.transcript import SoundTrouble, Transcript

UNITS = ("g", "oz", "lb", "kg")
USUAL_SHARE = 0.5
UNREADABLE_EXIT = 3
USAGE_EXIT = 2


class HeardFile(FrozenModel):
    """What one file gave; ``error`` is one sentence where the file could not be read."""

    file: str
    words: tuple[HeardWord, ...] = ()
    text: str = ""
    entries: tuple[dict[str, Any], ...] = ()
    decision: Decision = Decision.UNCLEAR
    reason: str | None = None
    engine: str | None = None
    seconds: float = 0.0
    error: str | None = None


def expectation(
    language: Language, rows: int | None, target: Measure | None, next_row: int | None = None
) -> Expectation:
    """Catches of rows 1 to ``rows``, or a bare catch; usual is within half of the target.

    A value that names no row is for ``next_row``, and for row 1 where that is the only one; else it is not known whose.
    """
    usual = None
    only = 1 if rows == 1 else None
    if target is not None:
        usual = Range(low=target.value * (1 - USUAL_SHARE), high=target.value * (1 + USUAL_SHARE), unit=target.unit)
    slot = ExpectedSlot(
        name="catch",
        kind=SlotKind.MEASURE,
        dimensions=(Dimension.MASS,),
        units=UNITS,
        default_unit="g",
        decimals=2,
        usual=usual,
        per_row=rows is not None,
        open_rows=tuple(range(1, rows + 1)) if rows else (),
        next_row=next_row or only,
    )
    return Expectation(language=language, asking=Asking.SLOT, slots=(slot,), rows=rows)


def hear(
    files: Annotated[list[Path], typer.Argument(help="recordings: Ogg, WAV or FLAC", metavar="FILES...")],
    *,
    rows: Annotated[int | None, typer.Option(min=1, max=99, help="rows of the planter, else a bare catch")] = None,
    next_row: Annotated[
        int | None, typer.Option("--next", min=1, max=99, help="row that a value without a row is for")
    ] = None,
    target: Annotated[str | None, typer.Option(help='wanted catch, such as "49.5 g"')] = None,
    language: Annotated[str, typer.Option(help=listed())] = DEFAULT,
    engine: Annotated[str, typer.Option(help="auto, vosk or pocketsphinx")] = "auto",
    as_json: Annotated[bool, typer.Option("--json", help="one JSON object a line")] = False,
) -> None:
    """Hear recordings of catches: the words, the entries, and whether to keep, ask, or say it again."""
    try:
        spoken = one_of(language, LANGUAGES)
        wanted = read_measure(target, Dimension.MASS) if target else None
        expected = expectation(spoken, rows, wanted, _next(next_row, rows))
        ears = choose(spoken, one_of(engine, PREFERENCES), load_settings().models)
    except (InputError, SpeechError) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(USAGE_EXIT) from error
    heard = []
    for file in files:
        heard.append(_heard(file, ears, expected))
        typer.echo(_line(heard[-1]) if as_json else _told(heard[-1]))
    if any(hearing.error for hearing in heard):
        raise typer.Exit(UNREADABLE_EXIT)


def _next(row: int | None, rows: int | None) -> int | None:
    if row is not None and row > (rows or 0):
        raise typer.BadParameter(f"row {row} is not one of the rows of --rows")
    return row


def _heard(file: Path, ears: Recognizer, expected: Expectation) -> HeardFile:
    """One file from sound to decision; one that cannot be read is unclear, with its sentence."""
    started = time.perf_counter()
    name = str(file).encode(errors="replace").decode()
    vocabulary = load_vocabulary(expected.language)
    try:
        clip = decode(file)
        transcript = ears.transcribe(clip, expected.language, grammar(expected, vocabulary))
    except AudioError as error:
        seconds = time.perf_counter() - started
        return HeardFile(file=name, reason=error.reason.value, error=str(error), seconds=seconds)
    reading = read(utterance(transcript, expected.language), expected, vocabulary)
    return HeardFile(
        file=name,
        words=_words(transcript),
        text=transcript.text,
        entries=tuple(_entry(entry) for entry in reading.entries),
        decision=reading.decision,
        reason=_reason(reading, transcript),
        engine=transcript.engine,
        seconds=time.perf_counter() - started,
    )


def utterance(transcript: Transcript, language: Language) -> Utterance:
    """What was heard, as the engine takes it."""
    return Utterance(
        id="hear",
        conversation="hear",
        text=transcript.text,
        language=language,
        said_at=datetime.now(UTC),
        spoken=True,
        words=_words(transcript),
        alternatives=transcript.alternatives,
        noisy=transcript.trouble in (SoundTrouble.TOO_NOISY, SoundTrouble.CLIPPED),
    )


def _words(transcript: Transcript) -> tuple[HeardWord, ...]:
    return tuple(HeardWord(text=word.text, confidence=word.confidence) for word in transcript.words)


def _reason(reading: Reading, transcript: Transcript) -> str | None:
    """Why it is not simply kept: the sound, else the first entry that is in doubt."""
    match reading.decision:
        case Decision.KEEP:
            return None
        case Decision.UNCLEAR if transcript.trouble is not None:
            return transcript.trouble.value
        case Decision.UNCLEAR | Decision.ASK:
            return next(filter(None, map(_doubt, reading.entries)), UnclearReason.NOTHING_HEARD.value)
        case other:
            assert_never(other)


def _doubt(entry: Entry) -> str | None:
    match entry:
        case Given(doubt=doubt):
            return doubt.value if doubt else None
        case Either():
            return "two_readings"
        case Unclear(reason=reason):
            return reason.value
        case _:
            return None


def _entry(entry: Entry) -> dict[str, Any]:
    """An entry as scripts get it: values given as row, value and unit, all else by its kind."""
    match entry:
        case Given(doubt=None):
            return {"kind": entry.kind, "row": entry.row, **_value(entry.value)}
        case Given(doubt=doubt):
            rivals = [_value(rival) for rival in entry.rivals]
            return {"kind": entry.kind, "row": entry.row, **_value(entry.value), "doubt": doubt, "rivals": rivals}
        case Either():
            return {"kind": entry.kind, "readings": [[_entry(given) for given in way] for way in entry.readings]}
        case _:
            return entry.model_dump(mode="json", exclude_none=True)


def _value(value: Value) -> dict[str, Any]:
    return {"value": value.value, "unit": value.unit} if isinstance(value, Measure) else {"value": str(value)}


def _line(hearing: HeardFile) -> str:
    data = hearing.model_dump(mode="json", exclude=set() if hearing.error else {"error"})
    data["seconds"] = round(hearing.seconds, 3)
    return json.dumps(data, ensure_ascii=False)


def _told(hearing: HeardFile) -> str:
    """A few lines for a person."""
    if hearing.error:
        return f"{hearing.file}: {hearing.error}"
    why = f" ({hearing.reason.replace('_', ' ')})" if hearing.reason else ""
    least = min((word.confidence for word in hearing.words), default=0.0)
    said = f'"{hearing.text}"' if hearing.text else "no words"
    entries = [f"    {_shown(entry)}" for entry in hearing.entries]
    head = f"{hearing.file}: {hearing.decision.value}{why}"
    return "\n".join([head, f"    {said}, {least:.0%} sure, {hearing.engine}, {hearing.seconds:.2f} s", *entries])


def _shown(entry: dict[str, Any]) -> str:
    if entry["kind"] == "either":
        return " or ".join(" and ".join(_shown(given) for given in way) for way in entry["readings"])
    if entry["kind"] != "given":
        return " ".join(str(part).replace("_", " ") for part in entry.values())
    row = f"row {entry['row']}: " if entry["row"] else ""
    return f"{row}{entry['value']} {entry.get('unit', '')}".rstrip()
