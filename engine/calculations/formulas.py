"""Every formula of the house: importing this module fills the catalogue from all modules beside it."""

from __future__ import annotations

import importlib
import pkgutil

import engine.calculations
from engine.calculations.catalogue import formulas

__all__ = ["formulas"]

for _module in pkgutil.walk_packages(engine.calculations.__path__, f"{engine.calculations.__name__}."):
    importlib.import_module(_module.name)
