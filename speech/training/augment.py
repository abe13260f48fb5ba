"""What training speech goes through: joining, speed, rooms, channels, noise, clipping, telephone bands, levels.

Everything runs on the accelerator over whole batches; ``Speech`` holds all clips end to end in one buffer there.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass

import torch
from torch.nn import functional

from speech.decoding.transducer import TOKEN, Ways
from speech.training import noise

RATE = 16_000
FULL = 32_000.0
JOINED = frozenset({"fsdd", "prompts"})
"""Groups of single words, which are put together to sentences of one speaker."""


@dataclass(frozen=True, slots=True)
class BufferedClip:
    """One clip in the buffer: samples ``start`` to ``end``, and the ways each of its words may sound."""

    start: int
    end: int
    speaker: str
    words: tuple[Ways, ...]


@dataclass(frozen=True, slots=True)
class BatchPiece:
    """A clip to be put into row ``row`` of a batch at sample ``at``, played at ``speed`` with gain ``gain``."""

    item: BufferedClip
    row: int
    at: int
    speed: float
    gain: float

    @property
    def length(self) -> int:
        return int((self.item.end - self.item.start) / self.speed)


def tokens(words: Sequence[Ways], rng: random.Random) -> list[int]:
    """The tokens of a sentence; each word sounds the first of its ways, three times in ten any of them."""
    chosen = [rng.choice(ways) if rng.random() < 0.3 else ways[0] for ways in words]
    return [TOKEN[phone] for way in chosen for phone in way]


class Composer:
    """Fills rows of a batch with clips of the groups, ``shares[group]`` of the rows each, joined up to the length."""

    def __init__(self, groups: dict[str, list[BufferedClip]], shares: dict[str, float], seed: int) -> None:
        self.groups = groups
        self.names = [name for name in shares if groups.get(name)]
        self.shares = [shares[name] for name in self.names]
        self.rng = random.Random(seed)
        self.speakers: dict[str, list[BufferedClip]] = {}
        for item in (item for items in groups.values() for item in items):
            self.speakers.setdefault(item.speaker, []).append(item)

    def row(self, row: int, samples: int) -> tuple[list[BatchPiece], list[int]]:
        rng = self.rng
        group = rng.choices(self.names, self.shares)[0]
        item = min(
            (rng.choice(self.groups[group]) for _ in range(3)), key=lambda item: item.end - item.start > samples * 0.7
        )
        same = self.speakers[item.speaker]
        speed = math.exp(rng.gauss(0.0, 0.07))
        spoken: list[int] = []
        pieces: list[BatchPiece] = []
        at = rng.randint(800, 8_000)
        joined = group in JOINED
        more = 0.85 if joined else 0.3
        while True:
            piece = BatchPiece(
                item,
                row,
                at,
                min(max(speed * math.exp(rng.gauss(0.0, 0.02)), 0.8), 1.25),
                math.exp(rng.gauss(0.0, 0.2)),
            )
            if at + piece.length + 1_600 > samples:
                break
            pieces.append(piece)
            spoken += tokens(item.words, rng)
            at += piece.length + (rng.randint(0, 5_000) if joined else rng.randint(800, 8_000))
            if rng.random() > more:
                break
            anyone = rng.choice(self.groups[rng.choices(self.names, self.shares)[0]])
            item = rng.choice(same) if joined or rng.random() < 0.5 else anyone
        return pieces, spoken

    def batch(self, rows: int, samples: int) -> tuple[list[BatchPiece], list[list[int]]]:
        made = [self.row(row, samples) for row in range(rows)]
        return [piece for pieces, _ in made for piece in pieces], [spoken for _, spoken in made]


class NoisyField:
    """Makes batches sound as they may beside a tractor; ``real`` is an optional list of recorded loops."""

    def __init__(self, buffer: torch.Tensor, real: Sequence[torch.Tensor], device: str) -> None:
        self.buffer = buffer
        self.device = device
        banks = [noise.bank(32, 24.0, device) for _ in range(6)]
        samples = banks[0].shape[1]
        loops = [loop.repeat(samples // len(loop) + 1)[:samples] for loop in real]
        loud = [(loop / loop.std())[None] for loop in loops for _ in range(24)]
        self.noise = torch.cat([*banks, *loud])
        self.rooms = self._rooms(256)

    def _rooms(self, count: int) -> torch.Tensor:
        """Spectra-to-be: a direct sound and a decaying tail, reverberation times of 0.08 to 0.6 s."""
        samples = 8_000
        time = torch.arange(samples, device=self.device) / RATE
        decay = 6.9 / (0.08 + 0.52 * torch.rand(count, 1, device=self.device) ** 1.5)
        tail = torch.randn(count, samples, device=self.device) * torch.exp(-decay * time)
        tail[:, : int(0.002 * RATE)] = 0.0
        tail = tail / tail.norm(dim=1, keepdim=True) * 10 ** (-(torch.rand(count, 1, device=self.device) * 1.4 - 0.2))
        tail[:, 0] = 1.0
        return tail

    def joined(self, pieces: Sequence[BatchPiece], rows: int, samples: int) -> torch.Tensor:
        """The clips of a batch at their places, by linear interpolation in the buffer."""
        longest = max(piece.length for piece in pieces)
        column = [
            torch.tensor([value(piece) for piece in pieces], device=self.device, dtype=kind)[:, None]
            for value, kind in (
                (lambda p: p.item.start, torch.int64),
                (lambda p: p.length, torch.int64),
                (lambda p: p.speed, torch.float32),
                (lambda p: p.gain, torch.float32),
                (lambda p: p.row * samples + p.at, torch.int64),
            )
        ]
        start, length, speed, gain, place = column
        steps = torch.arange(longest, device=self.device)[None]
        exact = steps * speed
        whole = exact.floor().long()
        share = exact - whole
        index = (start + whole).clamp_max(len(self.buffer) - 2)
        sound = (1 - share) * self.buffer[index].float() + share * self.buffer[index + 1].float()
        inside = steps < length
        sound = sound * inside
        level = (sound.pow(2).sum(1, keepdim=True) / inside.sum(1, keepdim=True)).sqrt().clamp_min(1.0)
        out = torch.zeros(rows * samples, device=self.device)
        out.index_add_(0, (place + steps)[inside], (sound / level * gain)[inside])
        return out.view(rows, samples)

    def _curve(self, rows: int, bins: int, depth: float) -> torch.Tensor:
        """Random smooth gains over a logarithmic frequency axis, deviation ``depth`` dB."""
        points = torch.randn(rows, 1, 9, device=self.device) * depth
        curve = functional.interpolate(points, 256, mode="linear", align_corners=True)[:, 0]
        hz = torch.linspace(0, RATE / 2, bins, device=self.device)
        place = (torch.log2(hz.clamp_min(60.0) / 60.0) / math.log2(RATE / 2 / 60.0) * 255).long()
        return 10 ** (curve[:, place] / 20)

    def _some(self, rows: int, share: float) -> torch.Tensor:
        return torch.rand(rows, 1, device=self.device) < share

    def _channel(self, sound: torch.Tensor) -> torch.Tensor:
        """Rooms for half of the rows, a microphone's curve for most."""
        rows, samples = sound.shape
        points = samples + 8_000
        room = self.rooms[torch.randint(len(self.rooms), (rows,), device=self.device)].clone()
        room[:, 1:] *= self._some(rows, 0.5)
        curve = self._curve(rows, points // 2 + 1, 5.0)
        curve = torch.where(self._some(rows, 0.7), curve, torch.ones_like(curve))
        spectrum = torch.fft.rfft(sound, points) * torch.fft.rfft(room, points) * curve
        return torch.fft.irfft(spectrum, points)[:, :samples]

    def _noises(self, rows: int, samples: int) -> torch.Tensor:
        """Noise from the bank at random places and speeds, through random curves."""
        total = self.noise.shape[1]
        speed = 0.75 + 0.6 * torch.rand(rows, 1, device=self.device)
        start = torch.rand(rows, 1, device=self.device) * max(total - samples * 1.36 - 2, 0)
        place = (start + torch.arange(samples, device=self.device)[None] * speed).long().clamp_max(total - 1)
        row = torch.randint(len(self.noise), (rows, 1), device=self.device)
        sound = self.noise.view(-1)[row * total + place]
        spectrum = torch.fft.rfft(sound) * self._curve(rows, samples // 2 + 1, 6.0)
        sound = torch.fft.irfft(spectrum, samples)
        return sound / sound.std(1, keepdim=True).clamp_min(1e-6)

    def _band(self, sound: torch.Tensor, share: float) -> torch.Tensor:
        """Some rows lose everything above 3.2 to 7.5 kHz and below 50 to 350 Hz, as headsets and codecs do."""
        rows, samples = sound.shape
        hz = torch.linspace(0, RATE / 2, samples // 2 + 1, device=self.device)[None]
        high = 3_200 + 4_300 * torch.rand(rows, 1, device=self.device) ** 2
        low = 50 + 300 * torch.rand(rows, 1, device=self.device)
        mask = torch.sigmoid((high - hz) / 80) * torch.sigmoid((hz - low) / 25)
        mask = torch.where(self._some(rows, share), mask, torch.ones_like(mask))
        return torch.fft.irfft(torch.fft.rfft(sound) * mask, samples)

    def heard(self, sound: torch.Tensor) -> torch.Tensor:
        """Rows of speech (B x N) as a microphone might give them, at 16-bit scale."""
        rows, samples = sound.shape
        sound = self._channel(sound)
        loud = sound.abs()
        speaking = loud > 0.05 * loud.amax(1, keepdim=True)
        level = ((sound**2 * speaking).sum(1, keepdim=True) / speaking.sum(1, keepdim=True).clamp_min(1)).sqrt()
        silent = level < 1e-3
        level = torch.where(silent, torch.ones_like(level), level)
        ratio = torch.rand(rows, 1, device=self.device) * 33 - 2
        ratio = torch.where(self._some(rows, 0.15), torch.full_like(ratio, 45.0), ratio)
        others = torch.roll(sound, 1, 0) * 10 ** (-(12 + 14 * torch.rand(rows, 1, device=self.device)) / 20)
        sound = sound + others * (self._some(rows, 0.1) & ~silent)
        sound = sound + self._noises(rows, samples) * level / 10 ** (ratio / 20)
        sound = self._band(sound, 0.35)
        peak = sound.abs().amax(1, keepdim=True).clamp_min(1e-6)
        limit = 0.25 + 0.75 * torch.rand(rows, 1, device=self.device)
        limit = torch.where(self._some(rows, 0.12), limit, torch.ones_like(limit))
        sound = torch.minimum(torch.maximum(sound / peak, -limit), limit)
        sound = sound * 10 ** (-1.6 * torch.rand(rows, 1, device=self.device)) * FULL
        hiss = torch.randn_like(sound) * 10 ** (torch.rand(rows, 1, device=self.device) * 2.2 - 1)
        return (sound + hiss * self._some(rows, 0.6)).round()
