"""Every formula of the house: importing this module fills the catalogue."""

from __future__ import annotations

import importlib

from engine.calculations.catalogue import formulas

__all__ = ["formulas"]

_MODULES = (
    "advisor.advice",
    "runs.approach",
    "runs.calibration",
    "catch",
    "course",
    "coverage",
    "hoppers.density",
    "hoppers.drawdown",
    "runs.drive",
    "runs.fitness",
    "advisor.handbook",
    "hoppers.hopper",
    "runs.run_verdict",
    "hoppers.label",
    "hoppers.leftover",
    "meter",
    "runs.patterns",
    "hoppers.product",
    "rate",
    "runs.repeat",
    "runs.run",
    "hoppers.season",
    "advisor.starting",
    "hoppers.stopped",
    "target",
    "runs.trend",
    "runs.uniformity",
    "hoppers.use",
    "hoppers.wear",
    "wheel",
)

for _module in _MODULES:
    importlib.import_module(f"engine.calculations.{_module}")
