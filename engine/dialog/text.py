"""Texts of a dialog in every language, with placeholders that only name values."""

from __future__ import annotations

from collections.abc import Mapping
from string import Formatter
from typing import Annotated, Self

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from engine.definitions import PlacedError
from engine.messages import Language, Message

_FORMATTER = Formatter()


def placeholders(template: str) -> frozenset[str]:
    """The names in braces; ValueError where something else than a plain name stands there."""
    found = set()
    for _, name, spec, conversion in _FORMATTER.parse(template):
        if name is None:
            continue
        if not name.isidentifier() or spec or conversion:
            raise ValueError(f"{{{name}}} is not a plain name in braces")
        found.add(name)
    return frozenset(found)


def _well_formed(template: str) -> str:
    placeholders(template)
    return template


Template = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1), AfterValidator(_well_formed)]


class Text(Message):
    """One text in every language, with the same placeholders in each."""

    en: Template
    es: Template

    @model_validator(mode="after")
    def _same_placeholders(self) -> Self:
        only = placeholders(self.en) ^ placeholders(self.es)
        if only:
            raise PlacedError(
                (), f"{{{min(only)}}} stands in one language only", "write the same values in every language"
            )
        return self

    @property
    def names(self) -> frozenset[str]:
        return placeholders(self.en)

    def template(self, language: Language) -> str:
        return self.es if language == "es" else self.en

    def fill(self, language: Language, values: Mapping[str, str]) -> str:
        """The text with every placeholder replaced; KeyError where a value is missing."""
        return self.template(language).format_map(values)


class Words(Message):
    """The words a person may use for one thing, in every language."""

    en: tuple[str, ...] = Field(min_length=1)
    es: tuple[str, ...] = Field(min_length=1)

    def of(self, language: Language) -> tuple[str, ...]:
        return self.es if language == "es" else self.en
