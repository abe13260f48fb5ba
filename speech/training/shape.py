"""Shapes of the networks and their front ends, shared by training (torch) and export (numpy).

Every network is: five frames spliced at 10 ms, three of those spliced, then factored layers at 30 ms (a bottleneck that
looks back, an affine that looks ahead, ReLU, batch norm without gain, and a skip). Factored layers follow Povey et
al., "Semi-Orthogonal Low-Rank Matrix Factorization for Deep Neural Networks", Interspeech 2018.
"""

from __future__ import annotations

from dataclasses import dataclass

STRIDE = 3
SKIP = 0.66
"""Share of the layer below that is added, as in the paper."""
FIRST = (-2, -1, 0, 1, 2)
SECOND = (-1, 0, 1)


@dataclass(frozen=True, slots=True)
class NetworkShape:
    """``dilations`` gives each factored layer's reach in units of 30 ms; frequencies in Hz."""

    width: int
    bottleneck: int
    dilations: tuple[int, ...]
    coefficients: int
    mel_bins: int
    low_hz: float
    high_hz: float

    @property
    def context(self) -> int:
        """Frames of 10 ms needed on each side of an output."""
        return FIRST[-1] + SECOND[-1] + STRIDE * sum(self.dilations)


SHAPES = {
    "wide": NetworkShape(640, 160, (1, 1, 1, 1, 1, 1, 1, 1, 2, 2), 40, 40, 20.0, 7600.0),
    "narrow": NetworkShape(448, 112, (1, 1, 1, 1, 1, 1, 1, 2, 2), 30, 30, 80.0, 3800.0),
}
"""``wide`` is the recogniser; ``narrow`` hears the telephone band only, so that it errs differently."""
