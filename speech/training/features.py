"""Kaldi's MFCC on the accelerator: 25 ms Povey windows every 10 ms, as ``conf/mfcc.conf`` of the exported model asks.

Follows the definitions in Kaldi's feature documentation (mel scale 1127 ln(1 + f/700), cepstral lifter 22, no dither,
no energy); ``speech.training.export`` writes the matching settings.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import torch

from speech.training.shape import NetworkShape

RATE = 16_000
WINDOW, HOP, POINTS = 400, 160, 512
LIFTER = 22
FLOOR = 1.1920928955078125e-07
WARPS = (0.88, 0.92, 0.96, 1.0, 1.04, 1.08, 1.12)
"""Stretches of the frequency axis: throats longer and shorter than the speaker's."""


def _mel(hz: npt.NDArray[np.float64] | float) -> npt.NDArray[np.float64]:
    return np.asarray(1127.0 * np.log1p(np.asarray(hz) / 700.0))


def mel_bank(shape: NetworkShape, warp: float = 1.0) -> npt.NDArray[np.float32]:
    """Triangles, mel_bins x 257; the last row (at 8 kHz) is never used, as in Kaldi."""
    edges = np.linspace(float(_mel(shape.low_hz)), float(_mel(shape.high_hz)), shape.mel_bins + 2)
    places = _mel(np.minimum(np.arange(POINTS // 2) * RATE / POINTS * warp, RATE / 2))
    bank = np.zeros((shape.mel_bins, POINTS // 2 + 1), dtype=np.float32)
    for row in range(shape.mel_bins):
        left, middle, right = edges[row : row + 3]
        rising, falling = (places - left) / (middle - left), (right - places) / (right - middle)
        bank[row, :-1] = np.maximum(np.minimum(rising, falling), 0.0)
    return bank


class Mfcc:
    """Sound B x N at 16-bit scale to B x T x coefficients."""

    def __init__(self, shape: NetworkShape, device: str) -> None:
        self.banks = torch.tensor(np.stack([mel_bank(shape, warp) for warp in WARPS]), device=device)
        self.plain = WARPS.index(1.0)
        self.window = torch.hann_window(WINDOW, periodic=False, device=device) ** 0.85
        bins = np.arange(shape.mel_bins) + 0.5
        cosines = [np.cos(math.pi / shape.mel_bins * bins * k) for k in range(shape.coefficients)]
        scale = math.sqrt(2.0 / shape.mel_bins)
        matrix = np.stack([scale * (row / math.sqrt(2.0) if k == 0 else row) for k, row in enumerate(cosines)])
        lift = 1 + 0.5 * LIFTER * np.sin(math.pi * np.arange(shape.coefficients) / LIFTER)
        self.cosines = torch.tensor((matrix * lift[:, None]).T, dtype=torch.float32, device=device)

    def log_mel(self, sound: torch.Tensor, warps: torch.Tensor | None = None) -> torch.Tensor:
        frames = sound.unfold(1, WINDOW, HOP)
        frames = frames - frames.mean(2, keepdim=True)
        before = torch.cat([frames[..., :1], frames[..., :-1]], 2)
        power = torch.fft.rfft((frames - 0.97 * before) * self.window, POINTS).abs() ** 2
        bank = self.banks[self.plain] if warps is None else self.banks[warps]
        return torch.log((power @ bank.transpose(-1, -2)).clamp_min(FLOOR))

    def __call__(self, sound: torch.Tensor) -> torch.Tensor:
        return self.log_mel(sound) @ self.cosines
