"""Engine noise made up at random: rumble, harmonics of the firing rate, hydraulic whine, wind and hiss."""

from __future__ import annotations

import math

import torch

RATE = 16_000


def _unit(sound: torch.Tensor) -> torch.Tensor:
    return sound / sound.std(1, keepdim=True).clamp_min(1e-6)


def coloured(rows: int, samples: int, device: str) -> torch.Tensor:
    """Noise whose power falls as a random power of frequency, 0 (white) to 2.4 (darker than brown), above 15 Hz."""
    spectrum = torch.fft.rfft(torch.randn(rows, samples, device=device))
    hz = torch.fft.rfftfreq(samples, 1 / RATE, device=device).clamp_min(15.0)
    fall = torch.rand(rows, 1, device=device) * 1.2
    return _unit(torch.fft.irfft(spectrum * hz[None] ** -fall, samples))


def _drifting(rows: int, samples: int, device: str) -> torch.Tensor:
    """Slow random curves about 0, deviation about 1, changing within a second or so."""
    points = torch.randn(rows, 1, samples // 12_000 + 4, device=device)
    return torch.nn.functional.interpolate(points, samples, mode="linear", align_corners=False)[:, 0]


def engine(rows: int, samples: int, device: str) -> torch.Tensor:
    """Harmonics (and half harmonics) of 12 to 75 Hz with random strengths, through a random broad resonance."""
    base = 12 + 63 * torch.rand(rows, 1, device=device) ** 1.5
    rate = base * (1 + 0.015 * torch.rand(rows, 1, device=device) * _drifting(rows, samples, device))
    phase = 2 * math.pi * torch.cumsum(rate / RATE, 1)
    total = torch.zeros(rows, samples, device=device)
    middle = torch.exp(torch.rand(rows, 1, device=device) * 3 + 4)
    breadth = 0.6 + torch.rand(rows, 1, device=device)
    fall = 0.2 + torch.rand(rows, 1, device=device)
    for step in range(1, 49):
        order = step / 2
        peak = 1 + 3 * torch.exp(-(((torch.log(base * order) - torch.log(middle)) / breadth) ** 2))
        odd = 0.3 if step % 2 else 1.0
        strength = odd * peak * order**-fall * torch.rand(rows, 1, device=device)
        total += strength * torch.sin(order * phase + 2 * math.pi * torch.rand(rows, 1, device=device))
    knock = 1 + 0.6 * torch.rand(rows, 1, device=device) * torch.sin(phase / 2).clamp_min(0) ** 4
    return _unit(total * knock)


def whine(rows: int, samples: int, device: str) -> torch.Tensor:
    """A pump or a turbine: three tones at 200 to 4000 Hz that wander."""
    total = torch.zeros(rows, samples, device=device)
    for _ in range(3):
        pitch = torch.exp(torch.rand(rows, 1, device=device) * 3 + 5.3)
        rate = pitch * (1 + 0.01 * _drifting(rows, samples, device))
        total += torch.rand(rows, 1, device=device) * torch.sin(2 * math.pi * torch.cumsum(rate / RATE, 1))
    return _unit(total)


def bank(rows: int, seconds: float, device: str) -> torch.Tensor:
    """Rows of noise, unit deviation each: random mixtures of all of the above."""
    samples = int(seconds * RATE)

    def share(power: float) -> torch.Tensor:
        return torch.rand(rows, 1, device=device) ** power

    swell = (1 + 0.25 * _drifting(rows, samples, device)).clamp(0.3, 2.0)
    rough = coloured(rows, samples, device) * swell
    beat = engine(rows, samples, device)
    mixed = (
        share(1.0) * rough
        + share(1.0) * beat
        + share(3.0) * coloured(rows, samples, device)
        + 0.6 * share(6.0) * whine(rows, samples, device)
    )
    throb = 1 + 0.5 * share(2.0) * beat.abs().clamp_max(2.0)
    return _unit(mixed * throb)
