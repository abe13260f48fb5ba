"""Kaldi's binary files, as far as an acoustic model needs them: tokens, numbers, vectors, compressed matrices.

Layouts follow Kaldi's public sources (base/io-funcs, matrix/kaldi-matrix, matrix/compressed-matrix, hmm/hmm-topology,
hmm/transition-model, nnet3/nnet-simple-component), as the stock vosk package reads them.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from speech.training.shape import FIRST, SECOND, SKIP, STRIDE, NetworkShape

Array = npt.NDArray[np.float32]
HALF = 0.5
LARGEST_STEP = 0.1
"""Largest 8-bit step, in deviations of the weights (own decision): with .26 and .12 in its first two matrices the
second Spanish model heard .44 of the development phrases in noise, and .89 in 16 bits."""
MAGIC = b"\0B"


def token(text: str) -> bytes:
    return text.encode() + b" "


def integer(value: int) -> bytes:
    return struct.pack("<bi", 4, value)


def real(value: float) -> bytes:
    return struct.pack("<bf", 4, value)


def vector(values: npt.ArrayLike) -> bytes:
    array = np.asarray(values, dtype="<f4")
    return token("FV") + integer(array.size) + array.tobytes()


def integers(values: Sequence[int]) -> bytes:
    return struct.pack("<bi", 4, len(values)) + np.asarray(values, dtype="<i4").tobytes()


def matrix(values: Array) -> bytes:
    """A matrix in 16-bit steps of its range (Kaldi's two-byte compressed form): half the size."""
    low, span = float(values.min()), float(np.ptp(values)) or 1.0
    steps = np.round((values - low) / span * 65_535).astype("<u2")
    return token("CM2") + struct.pack("<ffii", low, span, *values.shape) + steps.tobytes()


def coarse_matrix(values: Array) -> bytes:
    """A matrix in 8-bit steps of its range (Kaldi's one-byte compressed form): a quarter of the size."""
    low, span = float(values.min()), float(np.ptp(values)) or 1.0
    steps = np.round((values - low) / span * 255).astype("u1")
    return token("CM3") + struct.pack("<ffii", low, span, *values.shape) + steps.tobytes()


def _is_even(values: Array) -> bool:
    """Whether 8-bit steps are small beside what the weights are; a few far ones make them large."""
    return float(np.ptp(values)) / 255 <= LARGEST_STEP * float(values.std())


def transition_model(tokens: int) -> bytes:
    """One state a token, with a loop: token ``i`` has pdf ``i`` and the transition ids of ``transducer``."""
    phones = range(1, tokens + 1)
    state = integer(0) + integer(2) + integer(0) + real(HALF) + integer(1) + real(HALF)
    topology = [
        token("<Topology>"),
        integers(list(phones)),
        integers([-1] + [0] * tokens),
        integer(1),
        integer(2),
        state,
        integer(-1) + integer(0),
        token("</Topology>"),
    ]
    triples = b"".join(integer(phone) + integer(0) + integer(phone - 1) for phone in phones)
    probabilities = vector([0.0] + [np.log(HALF)] * (2 * tokens))
    return b"".join(
        [
            token("<TransitionModel>"),
            *topology,
            token("<Triples>") + integer(tokens) + triples + token("</Triples>"),
            token("<LogProbs>") + probabilities + token("</LogProbs>"),
            token("</TransitionModel>"),
        ]
    )


def affine(weights: Array, bias: Array, coarse: bool) -> bytes:
    kept = coarse_matrix(weights) if coarse and _is_even(weights) else matrix(weights)
    return b"".join(
        [
            token("<AffineComponent>") + token("<LearningRate>") + real(0.001),
            token("<LinearParams>") + kept,
            token("<BiasParams>") + vector(bias),
            token("</AffineComponent>"),
        ]
    )


def _nonlinear(kind: str, size: int) -> bytes:
    empty = vector([])
    return b"".join(
        [
            token(f"<{kind}>") + token("<Dim>") + integer(size),
            token("<ValueAvg>") + empty + token("<DerivAvg>") + empty + token("<Count>") + real(0.0),
            token("<OderivRms>") + empty + token("<OderivCount>") + real(0.0),
            token("<NumDimsSelfRepaired>") + real(0.0) + token("<NumDimsProcessed>") + real(0.0),
            token(f"</{kind}>"),
        ]
    )


@dataclass(slots=True)
class NetworkBuilder:
    """An nnet3 under construction: its graph as lines, and its components."""

    lines: list[str]
    components: list[tuple[str, bytes]]
    coarse: bool

    def add(self, name: str, body: bytes, source: str) -> str:
        self.lines.append(f"component-node name={name} component={name} input={source}")
        self.components.append((name, body))
        return name

    def affine(self, name: str, weights: Array, bias: Array, source: str) -> str:
        return self.add(name, affine(weights, bias, self.coarse), source)

    def relu(self, name: str, size: int, source: str) -> str:
        return self.add(name, _nonlinear("RectifiedLinearComponent", size), source)

    def bytes(self) -> bytes:
        parts = [token("<Nnet3>"), ("\n" + "\n".join(self.lines) + "\n\n").encode()]
        parts.append(token("<NumComponents>") + integer(len(self.components)))
        parts += [token("<ComponentName>") + token(name) + body for name, body in self.components]
        return b"".join([*parts, token("</Nnet3>")])


def _spliced(source: str, offsets: Sequence[int]) -> str:
    terms = [source if offset == 0 else f"Offset({source}, {offset})" for offset in offsets]
    return f"Append({', '.join(terms)})"


def _flat(weights: Array) -> Array:
    """Torch's out x in x taps to Kaldi's out x (taps of in)."""
    return np.ascontiguousarray(weights.transpose(0, 2, 1).reshape(len(weights), -1))


def _normal(weights: dict[str, Array], name: str) -> tuple[Array, Array]:
    """Batch norm without gain as a scale and an offset."""
    scale = 1.0 / np.sqrt(weights[f"{name}.running_var"] + 1e-5)
    return scale, -weights[f"{name}.running_mean"] * scale


def acoustic_model(weights: dict[str, Array], shape: NetworkShape, priors: Array, coarse: bool) -> bytes:
    """A whole ``final.mdl``. Batch norm is folded away: scales go before the ReLU, offsets into the biases after it."""
    net = NetworkBuilder([f"input-node name=input dim={shape.coefficients}"], [], coarse)
    scale = 1.0 / weights["deviation"]
    constant = -weights["mean"] * scale
    kernel = weights["first.weight"]
    bias = weights["first.bias"] + np.einsum("oik,i->o", kernel, constant)
    norm_scale, constant = _normal(weights, "first_norm")
    kernel = kernel * scale[None, :, None] * norm_scale[:, None, None]
    last = net.affine("first", _flat(kernel), bias * norm_scale, _spliced("input", FIRST))
    last = net.relu("first-relu", shape.width, last)
    kernel = weights["second.weight"]
    bias = weights["second.bias"] + np.einsum("oik,i->o", kernel, constant)
    norm_scale, constant = _normal(weights, "second_norm")
    last = net.affine("second", _flat(kernel * norm_scale[:, None, None]), bias * norm_scale, _spliced(last, SECOND))
    last = net.relu("second-relu", shape.width, last)
    for at, dilation in enumerate(shape.dilations):
        last, constant = _factored(net, weights, at, STRIDE * dilation, last, constant)
    kernel = weights["out.weight"][:, :, 0]
    last = net.affine("out", kernel, weights["out.bias"] + kernel @ constant, last)
    net.add("output-softmax", _nonlinear("LogSoftmaxComponent", len(kernel)), last)
    net.lines.append("output-node name=output input=output-softmax objective=linear")
    context = token("<LeftContext>") + integer(shape.context) + token("<RightContext>") + integer(shape.context)
    return MAGIC + transition_model(len(kernel)) + net.bytes() + context + token("<Priors>") + vector(priors)


def _factored(
    net: NetworkBuilder, weights: dict[str, Array], at: int, reach: int, below: str, constant: Array
) -> tuple[str, Array]:
    """One factored layer; gives the sum that is its output, less the constant that is to be added to it."""
    back, ahead, bias = (weights[f"layers.{at}.{name}"] for name in ("back.weight", "ahead.weight", "ahead.bias"))
    lost = np.einsum("oik,i->o", back, constant)
    bias = bias + np.einsum("oik,i->o", ahead, lost)
    scale, offset = _normal(weights, f"layers.{at}.norm")
    squeezed = net.affine(f"back{at}", _flat(back), np.zeros(len(back), np.float32), _spliced(below, (-reach, 0)))
    wide = net.affine(f"ahead{at}", _flat(ahead * scale[:, None, None]), bias * scale, _spliced(squeezed, (0, reach)))
    relu = net.relu(f"relu{at}", len(ahead), wide)
    total = net.add(
        f"sum{at}",
        token("<NoOpComponent>")
        + token("<Dim>")
        + integer(len(ahead))
        + token("<BackpropScale>")
        + real(1.0)
        + token("</NoOpComponent>"),
        f"Sum({relu}, Scale({SKIP}, {below}))",
    )
    return total, offset + SKIP * constant
