"""The network in torch; see ``speech.training.shape``."""

from __future__ import annotations

import torch
from torch import nn
from torch.nn import functional

from speech.training.shape import FIRST, SECOND, SKIP, STRIDE, NetworkShape


class Factored(nn.Module):
    """One factored layer: B x width x T becomes B x width x (T - 2 dilation)."""

    def __init__(self, width: int, bottleneck: int, dilation: int, dropout: float) -> None:
        super().__init__()
        self.dilation = dilation
        self.back = nn.Conv1d(width, bottleneck, 2, dilation=dilation, bias=False)
        self.ahead = nn.Conv1d(bottleneck, width, 2, dilation=dilation)
        self.norm = nn.BatchNorm1d(width, affine=False)
        self.dropout = dropout

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y = self.norm(functional.relu(self.ahead(self.back(x))))
        y = functional.dropout1d(y, self.dropout, self.training)
        return y + SKIP * x[:, :, self.dilation : -self.dilation]


class Network(nn.Module):
    """Features B x T x coefficients to log-probabilities B x ceil(T / 3) x tokens."""

    def __init__(self, shape: NetworkShape, tokens: int, dropout: float = 0.05) -> None:
        super().__init__()
        self.shape = shape
        self.register_buffer("mean", torch.zeros(shape.coefficients))
        self.register_buffer("deviation", torch.ones(shape.coefficients))
        self.first = nn.Conv1d(shape.coefficients, shape.width, len(FIRST))
        self.first_norm = nn.BatchNorm1d(shape.width, affine=False)
        self.second = nn.Conv1d(shape.width, shape.width, len(SECOND), stride=STRIDE)
        self.second_norm = nn.BatchNorm1d(shape.width, affine=False)
        layers = [Factored(shape.width, shape.bottleneck, dilation, dropout) for dilation in shape.dilations]
        self.layers = nn.ModuleList(layers)
        self.out = nn.Conv1d(shape.width, tokens, 1)

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        x = ((features - self.mean) / self.deviation).transpose(1, 2)
        outputs = -(-x.shape[2] // STRIDE)
        context = self.shape.context
        x = functional.pad(x, (context, context + STRIDE), mode="replicate")
        x = self.first_norm(functional.relu(self.first(x)))
        x = self.second_norm(functional.relu(self.second(x)))
        for layer in self.layers:
            x = layer(x)
        return functional.log_softmax(self.out(x)[:, :, :outputs].transpose(1, 2).float(), -1)
