"""The languages that Rowhand speaks: those that have a folder below ``dialogs``, named by their code."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

DEFAULT = "en"
"""The language to begin with where nobody chose one; it stands first."""
_CODE = re.compile(r"[a-z]{2,3}")


def dialogs_directory() -> Path:
    """Where the definition files stand that come with the package: beside it, in a checkout as in the wheel."""
    return Path(__file__).parents[2] / "dialogs"


def languages_of(directory: Path) -> tuple[str, ...]:
    """The languages that have a folder in a folder of dialogs."""
    inside = directory.iterdir() if directory.is_dir() else ()
    found = [place.name for place in inside if place.is_dir() and _CODE.fullmatch(place.name)]
    return tuple(sorted(found, key=lambda code: (code != DEFAULT, code)))


LANGUAGES: tuple[str, ...] = languages_of(dialogs_directory())


class _Spoken:
    """Lets a schema take the codes of ``LANGUAGES`` alone."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        from pydantic_core import core_schema  # noqa: PLC0415

        return core_schema.literal_schema(list(LANGUAGES))


Language = Annotated[str, _Spoken()]


def spoken(code: object) -> str:
    """A code from elsewhere, or the default where it is of no language there is."""
    return str(code) if code in LANGUAGES else DEFAULT


def listed(languages: Sequence[str] = LANGUAGES) -> str:
    """ "en or es" """
    *head, last = languages
    return f"{', '.join(head)} or {last}" if head else last
