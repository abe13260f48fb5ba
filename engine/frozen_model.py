"""The base of everything that is told, stored or read: frozen and closed, also where it is copied with changes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Self

from pydantic import BaseModel, ConfigDict


class FrozenModel(BaseModel):
    """A value that never changes. A field that it does not have is refused: when it is made (ValidationError), and when
    it is copied (TypeError), where pydantic would take any name and the change would be lost."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        if update and not update.keys() <= type(self).model_fields.keys():
            unknown = sorted(update.keys() - type(self).model_fields.keys())
            raise TypeError(f"{type(self).__name__} has no {', '.join(unknown)}")
        return super().model_copy(update=update, deep=deep)
