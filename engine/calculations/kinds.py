"""Types for the doors of formulas: a quantity with its dimension, and one value per row or per row and run.

``Mass`` and its like are pint quantities for the type checker; the dimension rides along for the catalogue, which
checks every argument against it before a formula runs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, TypeAlias, TypeVar

from engine.quantities import Dimension, Quantity

T = TypeVar("T")

Mass: TypeAlias = Annotated[Quantity, Dimension.MASS]
Volume: TypeAlias = Annotated[Quantity, Dimension.VOLUME]
Length: TypeAlias = Annotated[Quantity, Dimension.LENGTH]
Area: TypeAlias = Annotated[Quantity, Dimension.AREA]
Time: TypeAlias = Annotated[Quantity, Dimension.TIME]
Speed: TypeAlias = Annotated[Quantity, Dimension.SPEED]
Density: TypeAlias = Annotated[Quantity, Dimension.DENSITY]
AreaRate: TypeAlias = Annotated[Quantity, Dimension.AREA_RATE]
RowRate: TypeAlias = Annotated[Quantity, Dimension.ROW_RATE]
Rate: TypeAlias = Annotated[Quantity, Dimension.AREA_RATE, Dimension.ROW_RATE]
WorkRate: TypeAlias = Annotated[Quantity, Dimension.WORK_RATE]
Ratio: TypeAlias = Annotated[Quantity, Dimension.RATIO]

PerRow: TypeAlias = Mapping[int, T]
"""One value for each row, by row number from 1."""

EveryRun: TypeAlias = Sequence[Mapping[int, T]]
"""One value for each row in each test run, oldest run first; a row left out of a run is missing there."""
