"""``python -m speech.training.train OUT PACK...``: train one network for a number of seconds on an accelerator.

Needs torch and one CUDA card (two of 80 GB were used, one for each shape; less memory needs a smaller
``--seconds-per-batch``). Connectionist temporal classification over phones (Graves et al., "Connectionist Temporal
Classification", ICML 2006); AdamW with one rise and one fall of the learning rate over the given time; what is kept is
a running average of the weights, with batch norm statistics of its own. The seed fixes what is drawn; how many steps
fit into the time depends on the machine. ``--start`` goes on from trained weights, with a lower ``--peak``.
"""

from __future__ import annotations

import argparse
import copy
import io
import json
import math
import random
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import torch
from torch.nn import functional

from speech.decoding.transducer import PHONES
from speech.training.augment import RATE, BufferedClip, Composer, NoisyField
from speech.training.features import WARPS, Mfcc
from speech.training.network import Network
from speech.training.shape import SHAPES, STRIDE

SHARES = {
    "en": {
        "an4": 0.24,
        "fsdd": 0.11,
        "gsc": 0.09,
        "kokoro": 0.22,
        "espeak": 0.05,
        "flite": 0.04,
        "festival": 0.03,
        "told": 0.22,
    },
    "es": {"kokoro": 0.36, "espeak": 0.17, "flite": 0.14, "prompts": 0.16, "an4": 0.08, "fsdd": 0.05, "gsc": 0.04},
}
"""How many rows of a batch begin with a clip of each group, by language; ``told`` is what is told during a shift. Few
people were recorded in Spanish, so those who speak English and Italian help."""
SECONDS = (2.5, 4.0, 6.5)
PEAK_RATE = 1.5e-3
AVERAGE = 0.999
SETTLING = 80
"""Batches from which the averaged network takes its batch norm statistics."""
TRIM = 0.01


def _sound(data: bytes) -> np.ndarray[Any, np.dtype[np.int16]]:
    sound, rate = soundfile.read(io.BytesIO(data), dtype="float32")
    sound = sound if sound.ndim == 1 else sound.mean(axis=1)
    if rate != RATE:
        import soxr

        sound = soxr.resample(sound, rate, RATE)
    speaking = np.flatnonzero(np.abs(sound) > TRIM * np.abs(sound).max())
    sound = sound[max(speaking[0] - 800, 0) : speaking[-1] + 1_200]
    return np.asarray(np.round(sound / max(float(np.abs(sound).max()), 1e-4) * 20_000), dtype=np.int16)


def _clips(pack: Path) -> Iterator[tuple[str, str, list[Any], bytes]]:
    stored = np.load(pack)
    ways = json.loads(str(stored["lexicon"]))
    start = 0
    data = stored["sound"].tobytes()
    for end, group, speaker, text in zip(
        stored["ends"], stored["group"], stored["speaker"], stored["text"], strict=True
    ):
        words = [ways.get(word) for word in str(text).split()]
        if all(words):
            yield str(group), str(speaker), words, data[start:end]
        start = int(end)


def load(packs: list[Path], device: str) -> tuple[torch.Tensor, dict[str, list[BufferedClip]]]:
    """All clips end to end on the device, and where each lies, by group."""
    found = [clip for pack in packs for clip in _clips(pack)]
    with ThreadPoolExecutor(16) as pool:
        sounds = list(pool.map(_sound, [data for *_, data in found]))
    groups: dict[str, list[BufferedClip]] = {}
    at = 0
    for (group, speaker, words, _), sound in zip(found, sounds, strict=True):
        spoken = tuple(tuple(tuple(way) for way in ways) for ways in words)
        groups.setdefault(group, []).append(BufferedClip(at, at + len(sound), speaker, spoken))
        at += len(sound)
    return torch.from_numpy(np.concatenate(sounds)).to(device), groups


def _masked(mel: torch.Tensor) -> torch.Tensor:
    """Bands and short times replaced by the mean in half of the rows (after Park et al., "SpecAugment", 2019)."""
    rows, frames, bins = mel.shape
    filled = mel.mean((1, 2), keepdim=True)
    bands, times = _holes(rows, bins, 6, mel.device), _holes(rows, frames, 8, mel.device)
    return torch.where(bands[:, None, :] | times[:, :, None], filled, mel)


def _holes(rows: int, size: int, widest: int, device: torch.device) -> torch.Tensor:
    """Rows x size: true inside up to two stretches a row, each up to ``widest`` long."""
    start = torch.rand(rows, 2, 1, device=device) * size
    length = torch.rand(rows, 2, 1, device=device) * widest * (torch.rand(rows, 2, 1, device=device) < 0.5)
    place = torch.arange(size, device=device)
    return ((place >= start) & (place < start + length)).any(1)


class Training:
    """One network with its data; ``step`` trains on one batch."""

    def __init__(
        self,
        shape: str,
        composer: Composer,
        field: NoisyField,
        seed: int,
        batch_seconds: float,
        device: str,
        start: Path | None = None,
    ) -> None:
        self.device = device
        self.batch_seconds = batch_seconds
        self.mfcc = Mfcc(SHAPES[shape], device)
        self.composer = composer
        self.rng = random.Random(seed)
        self.field = field
        self.network = Network(SHAPES[shape], len(PHONES) + 1).to(device)
        if start is None:
            self._standardise()
        else:
            self._go_on_from(start)
        self.average = copy.deepcopy(self.network).eval()
        self.optimizer = torch.optim.AdamW(
            self.network.parameters(), PEAK_RATE, weight_decay=1e-2, betas=(0.9, 0.98), fused=True
        )

    def batch(self) -> tuple[torch.Tensor, list[list[int]]]:
        seconds = self.rng.choices(SECONDS, (0.3, 0.4, 0.3))[0]
        rows, samples = int(self.batch_seconds / seconds), int(seconds * RATE)
        pieces, spoken = self.composer.batch(rows, samples)
        return self.field.heard(self.field.joined(pieces, rows, samples)), spoken

    def features(self, sound: torch.Tensor, plain: bool = False) -> torch.Tensor:
        if plain:
            return self.mfcc(sound)
        warps = torch.randint(len(WARPS), (len(sound),), device=self.device)
        return _masked(self.mfcc.log_mel(sound, warps)) @ self.mfcc.cosines

    def _standardise(self) -> None:
        with torch.no_grad():
            seen = torch.cat([self.features(self.batch()[0], plain=True).flatten(0, 1) for _ in range(4)])
        self.network.mean.copy_(seen.mean(0))
        self.network.deviation.copy_(seen.std(0))

    def _go_on_from(self, start: Path) -> None:
        """Weights and statistics that ``save`` wrote."""
        stored = np.load(start)
        weights = {name: torch.from_numpy(stored[name].astype(np.float32)) for name in stored.files if "." in name}
        plain = {name: torch.from_numpy(stored[name]) for name in ("mean", "deviation")}
        missing, unknown = self.network.load_state_dict(weights | plain, strict=False)
        if unknown or not all(name.endswith("num_batches_tracked") for name in missing):
            raise ValueError(f"{start} holds another network: {[*missing, *unknown][:3]}")

    def step(self, rate: float) -> torch.Tensor:
        for group in self.optimizer.param_groups:
            group["lr"] = rate
        sound, spoken = self.batch()
        features = self.features(sound)
        with torch.autocast(self.device, dtype=torch.bfloat16):
            outputs = self.network(features)
        lengths = torch.tensor([len(row) for row in spoken])
        targets = torch.tensor([token for row in spoken for token in row])
        frames = torch.full((len(spoken),), -(-features.shape[1] // STRIDE))
        summed = functional.ctc_loss(
            outputs.transpose(0, 1), targets.to(self.device), frames, lengths, reduction="sum", zero_infinity=True
        )
        loss = summed / len(targets)
        self.optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(self.network.parameters(), 2.0)
        self.optimizer.step()
        return loss.detach()

    def remember(self, step: int) -> None:
        share = min(AVERAGE, step / (step + 20))
        with torch.no_grad():
            for kept, new in zip(self.average.state_dict().values(), self.network.state_dict().values(), strict=True):
                if kept.dtype.is_floating_point:
                    kept.lerp_(new, 1 - share)
                else:
                    kept.copy_(new)

    def settle(self) -> None:
        """Batch norm statistics of the averaged weights themselves."""
        norms = [module for module in self.average.modules() if isinstance(module, torch.nn.BatchNorm1d)]
        for norm in norms:
            norm.reset_running_stats()
            norm.momentum = None
            norm.train()
        with torch.no_grad():
            for _ in range(SETTLING):
                self.average(self.features(self.batch()[0]))
        self.average.eval()

    def priors(self, batches: int = 12) -> torch.Tensor:
        with torch.no_grad():
            outputs = [
                self.average(self.features(self.batch()[0], plain=True)).exp().flatten(0, 1) for _ in range(batches)
            ]
        return torch.cat(outputs).mean(0)


def learning_rate(done: float, peak: float = PEAK_RATE) -> float:
    """Rises over the first 8 % of the time, then falls as a cosine."""
    return peak * (done / 0.08 if done < 0.08 else 0.5 * (1 + math.cos(math.pi * (done - 0.08) / 0.92)) + 1e-3)


def save(training: Training, shape: str, out: Path) -> None:
    training.settle()
    weights = {
        name: value.float().cpu().numpy()
        for name, value in training.average.state_dict().items()
        if value.dtype.is_floating_point
    }
    halves = {name: value.astype(np.float16) if value.size > 4_000 else value for name, value in weights.items()}
    np.savez_compressed(out, shape=json.dumps(asdict(SHAPES[shape])), priors=training.priors().cpu().numpy(), **halves)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("out", type=Path)
    arguments.add_argument("packs", type=Path, nargs="+")
    arguments.add_argument("--shape", choices=sorted(SHAPES), default="wide")
    arguments.add_argument("--language", choices=sorted(SHARES), default="en")
    arguments.add_argument("--seconds", type=float, default=540.0, help="time to train for")
    arguments.add_argument("--seconds-per-batch", type=float, default=700.0, help="seconds of sound in a batch")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--start", type=Path, help="weights of an earlier training to go on from")
    arguments.add_argument("--peak", type=float, default=PEAK_RATE, help="highest learning rate")
    arguments.add_argument("--noise", type=Path, nargs="*", default=[], help="recorded engine loops to mix in as well")
    given = arguments.parse_args()
    started = time.monotonic()
    device = "cuda"
    torch.manual_seed(given.seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    buffer, groups = load(given.packs, device)
    print({name: len(items) for name, items in groups.items()}, f"{len(buffer) / RATE / 3600:.2f} h", flush=True)
    loops = [torch.from_numpy(_sound(file.read_bytes())).float().to(device) for file in given.noise]
    field = NoisyField(buffer, loops, device)
    shares = SHARES[given.language]
    composer = Composer(groups, shares, given.seed)
    training = Training(given.shape, composer, field, given.seed, given.seconds_per_batch, device, given.start)
    size = sum(value.numel() for value in training.network.parameters())
    print(f"{size} weights, ready after {time.monotonic() - started:.0f} s", flush=True)
    started, step, running = time.monotonic(), 0, 0.0
    while (done := (time.monotonic() - started) / given.seconds) < 1.0:
        loss = training.step(learning_rate(done, given.peak))
        training.remember(step)
        if step % 25 == 0:
            running = 0.8 * running + 0.2 * loss.item() if step else loss.item()
        if step % 500 == 0:
            print(f"step {step} loss {running:.3f} at {done:.2f}", flush=True)
        step += 1
    save(training, given.shape, given.out)
    print(f"{step} steps, loss {running:.3f}", flush=True)


if __name__ == "__main__":
    main()
