"""How likely the general recogniser holds given texts for a clip, beside what it reads itself; needs onnxruntime."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from math import inf
from pathlib import Path
from threading import Timer
from typing import Any

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from speech.audio import AudioClip, Samples
from speech.errors import ModelBroken
from speech.moonshine.model import DECODER, ENCODER, TOKENIZER
from speech.moonshine.spelling import written
from speech.moonshine.tokenizer import Tokenizer
from speech.panel.arbiter import OutOfTime, Scores

START, END = 1, 2
LAYERS, HEADS, WIDTH = 6, 8, 36
"""The shape of the decoder's memory; it stands in the inputs of the model."""
TOKENS_A_SECOND = 6.5
"""A reading of more tokens a second goes round in a loop (figure of the authors of the model)."""
FEWEST_TOKENS = 8
STOP = "."
FATAL = 4
"""The least severe line that onnxruntime writes: a run that is ended on purpose is no error."""

Logits = NDArray[np.float32]
Memory = dict[str, NDArray[np.float32]]


class Moonshine:
    """The recogniser in one folder. One thread works for it; a call is not shared between threads.

    ``batch`` is how many ways of writing are scored at once. Raises ModelBroken.
    """

    def __init__(self, folder: Path, batch: int) -> None:
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.enable_cpu_mem_arena = options.enable_mem_pattern = False  # they keep memory for the longest clip
        self._batch = batch
        try:
            self._encoder, self._decoder = (
                onnxruntime.InferenceSession(str(folder / name), options, providers=["CPUExecutionProvider"])
                for name in (ENCODER, DECODER)
            )
            self._tokenizer = Tokenizer.of(folder / TOKENIZER)
        except Exception as error:  # onnxruntime has no root of its own for what a bad file raises
            raise ModelBroken(folder, str(error)) from error
        self._kept = [output.name.replace("present", "past_key_values") for output in self._decoder.get_outputs()[1:]]

    def scores(self, clip: AudioClip, texts: Sequence[str], within_s: float) -> Scores:
        """Score texts for a clip; OutOfTime where it takes longer than ``within_s`` seconds."""
        with _limited(within_s) as limit:
            heard = self._run(self._encoder, _sound(clip.samples), limit)[0]
            free = self._free(heard, clip.duration_s, limit)
            ways = sorted(((at, way) for at, text in enumerate(texts) for way in written(text)), key=_length)
            found = [-inf] * len(texts)
            for start in range(0, len(ways), self._batch):
                part = ways[start : start + self._batch]
                values = self._together(heard, [way for _, way in part], limit)
                for (at, _), value in zip(part, values, strict=True):
                    found[at] = float(np.logaddexp(found[at], value))
        return Scores(tuple(found), free)

    def _free(self, heard: Logits, seconds: float, limit: Any) -> float:
        """The probability of the likeliest token after the likeliest tokens, up to the end."""
        memory, total, last = _blank(1), 0.0, START
        for step in range(max(FEWEST_TOKENS, int(seconds * TOKENS_A_SECOND))):
            logits, memory = self._step(np.array([[last]]), heard, memory, step > 0, limit)
            shares = _logarithms(logits[0, -1])
            last = int(shares.argmax())
            total += float(shares[last])
            if last == END:
                break
        return total

    def _together(self, heard: Logits, texts: Sequence[str], limit: Any) -> Iterator[float]:
        """Each text, ended with a full stop or without. What fills short ones up stands behind them, unseen."""
        rows = [[START, *self._tokenizer.tokens(text + STOP)] for text in texts]
        tokens = np.full((len(rows), max(map(len, rows))), END)
        for at, row in enumerate(rows):
            tokens[at, : len(row)] = row
        states = np.repeat(heard, len(rows), axis=0)
        logits, _ = self._step(tokens, states, _blank(len(rows)), False, limit)
        for at, row in enumerate(rows):
            shares = _logarithms(logits[at, : len(row)])
            said = shares[np.arange(len(row) - 1), row[1:]]
            yield float(said[:-1].sum() + np.logaddexp(shares[-2, END], said[-1] + shares[-1, END]))

    def _step(
        self, tokens: NDArray[np.int64], heard: Logits, memory: Memory, going_on: bool, limit: Any
    ) -> tuple[Logits, Memory]:
        """What may follow each token. The part of the memory that holds the sound is made by the first step alone."""
        feed = {
            "input_ids": tokens.astype(np.int64),
            "encoder_hidden_states": heard,
            "encoder_attention_mask": np.ones(heard.shape[:2], np.int64),
            "use_cache_branch": np.array([going_on]),
        }
        logits, *made = self._run(self._decoder, feed | memory, limit)
        fresh = dict(zip(self._kept, made, strict=True))
        if going_on:
            fresh |= {name: value for name, value in memory.items() if ".encoder." in name}
        return logits, fresh

    def _run(self, session: Any, feed: dict[str, Any], limit: Any) -> list[Any]:
        if limit.terminate:
            raise OutOfTime
        try:
            return list(session.run(None, feed, limit))
        except Exception as error:
            if limit.terminate:
                raise OutOfTime from error
            raise


@contextmanager
def _limited(within_s: float) -> Iterator[Any]:
    """Options of a run that end it when the time is over, in the middle of its work too."""
    options, started = onnxruntime.RunOptions(), time.perf_counter()
    options.log_severity_level = FATAL
    timer = Timer(within_s, lambda: setattr(options, "terminate", True))
    timer.daemon = True
    timer.start()
    try:
        yield options
    finally:
        timer.cancel()
    if time.perf_counter() - started > within_s:
        raise OutOfTime


def _sound(samples: Samples) -> dict[str, Any]:
    return {"input_values": samples[None], "attention_mask": np.ones((1, len(samples)), np.int64)}


def _blank(rows: int) -> Memory:
    nothing = np.zeros((rows, HEADS, 0, WIDTH), np.float32)
    parts = (
        f"{layer}.{part}.{what}"
        for layer in range(LAYERS)
        for part in ("decoder", "encoder")
        for what in ("key", "value")
    )
    return {f"past_key_values.{part}": nothing for part in parts}


def _logarithms(logits: Logits) -> Logits:
    """Logarithms of the shares along the last axis."""
    down = logits - logits.max(axis=-1, keepdims=True)
    return np.asarray(down - np.log(np.exp(down).sum(axis=-1, keepdims=True)))


def _length(way: tuple[int, str]) -> int:
    return len(way[1])
