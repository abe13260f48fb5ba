"""Every formula of the house: importing this module fills the catalogue."""

from __future__ import annotations

import importlib

_MODULES = (
    "advice",
    "approach",
    "calibration",
    "catch",
    "course",
    "coverage",
    "density",
    "drawdown",
    "drive",
    "fitness",
    "handbook",
    "hopper",
    "run_verdict",
    "label",
    "leftover",
    "meter",
    "patterns",
    "product",
    "rate",
    "repeat",
    "run",
    "season",
    "starting",
    "stopped",
    "target",
    "trend",
    "uniformity",
    "use",
    "wear",
    "wheel",
)

for _module in _MODULES:
    importlib.import_module(f"engine.calculations.{_module}")
