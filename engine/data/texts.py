"""Texts for people in every language, and catalogues of them: a key declares what its text is given, or it is refused.

A catalogue is an enum of keys and a file in the folder of every language with one text per key. ``Texts`` is the schema
that all such files share; a file with more than texts in it is a subclass with more fields.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Annotated, Any, ClassVar, Generic, Literal, Self, TypeVar, cast, get_args

from pydantic import (
    AfterValidator,
    Field,
    RootModel,
    StringConstraints,
    ValidationInfo,
    field_validator,
    model_validator,
)

from engine.data.definitions import PlacedError, dialogs_directory
from engine.data.gathering import gather
from engine.data.languages import LANGUAGES, Language
from engine.frozen_model import FrozenModel

_FORMATTER = Formatter()
_FORMS = re.compile(r"\[([^\[\]|]*)\|([^\[\]|]*)\]")


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
    if set("[]") & set(_FORMS.sub("", template)):
        raise ValueError("what stands in [ ] is not two forms, one|many")
    return template


class Several(str):
    """A value that names more than one, like rows 1 and 2: with it, a text takes the second of its forms [one|many]."""

    __slots__ = ()


def formed(template: str, values: Mapping[str, str]) -> str:
    """The text with the forms that agree with the values it is given."""
    many = any(isinstance(value, Several) for value in values.values())
    return _FORMS.sub(lambda match: match[2 if many else 1], template)


Template = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1), AfterValidator(_well_formed)]


OfLanguage = TypeVar("OfLanguage")
Code = Annotated[str, StringConstraints(pattern=r"^[a-z]{2,3}$")]


class InEachLanguage(RootModel[dict[Code, OfLanguage]], Generic[OfLanguage]):
    """The same for every language, by its code. What was written before there was a language need not have it."""

    @model_validator(mode="after")
    def _complete(self, info: ValidationInfo) -> Self:
        wanted = (info.context or {}).get("languages", ())
        if missing := [code for code in wanted if code not in self.root]:
            raise PlacedError((missing[0],), f"{missing[0]} is missing", "say it in every language")
        if not self.root:
            raise ValueError("says nothing in any language")
        return self

    def of(self, language: Language) -> OfLanguage:
        """In this language, else in the first one there is."""
        return self.root[language] if language in self.root else next(iter(self.root.values()))


class Text(InEachLanguage[Template]):
    """One text in every language, with the same placeholders in each."""

    @model_validator(mode="after")
    def _same_placeholders(self) -> Self:
        found = {code: placeholders(text) for code, text in self.root.items()}
        shared = frozenset.intersection(*found.values())
        for code, names in found.items():
            if more := names - shared:
                wrong = f"{{{min(more)}}} stands in one language only"
                raise PlacedError((code,), wrong, "write the same values in every language")
        return self

    @property
    def names(self) -> frozenset[str]:
        return placeholders(next(iter(self.root.values())))

    def fill(self, language: Language, values: Mapping[str, str]) -> str:
        """The text with every placeholder replaced; KeyError where a value is missing."""
        return formed(self.of(language), values).format_map(values)


def everywhere(text: str) -> Text:
    """The same text in every language."""
    return Text(dict.fromkeys(LANGUAGES, text))


class Words(InEachLanguage[Annotated[tuple[str, ...], Field(min_length=1)]]):
    """The words a person may use for one thing, in every language."""


class TextKey(StrEnum):
    """The key of a text, written with the names of what the text is given: ``KEPT = "kept", "name", "value"``."""

    given: tuple[str, ...]

    def __new__(cls, key: str, *given: str) -> Self:
        member = str.__new__(cls, key)
        member._value_ = key
        member.given = given
        return member

    def only(self, **offered: str) -> dict[str, str]:
        """Those of the values that this text is given."""
        return {name: value for name, value in offered.items() if name in self.given}


AnyKey = TypeVar("AnyKey", bound=TextKey)


class Texts(FrozenModel, Generic[AnyKey]):
    """A text in every language for every key, with exactly the values in it that the key declares."""

    file: ClassVar[str]
    """The file in the folder of a language that holds the catalogue."""

    format: Literal["1"]
    texts: dict[AnyKey, Text]

    @field_validator("texts", mode="before")
    @classmethod
    def _only_known(cls, texts: object) -> object:
        known = [str(key) for key in cls._keys()]
        for key in texts if isinstance(texts, Mapping) else ():
            if key not in known:
                near = get_close_matches(key, known, 1)
                mend = f"write {near[0]}" if near else "remove it, or add it to the keys"
                raise PlacedError((key,), f"{key} is not a text that is said anywhere", mend)
        return texts

    @model_validator(mode="after")
    def _fit_their_keys(self) -> Self:
        missing = [key for key in self._keys() if key not in self.texts]
        if missing:
            raise PlacedError(("texts",), f"{missing[0]} is missing", "add it in every language")
        for key, text in self.texts.items():
            _fits(key, text)
        return self

    @classmethod
    def _keys(cls) -> type[TextKey]:
        return cast(type[TextKey], get_args(cls.model_fields["texts"].annotation)[0])

    @classmethod
    def load(cls, directory: Path | None = None) -> Self:
        """The catalogue of a dialogs folder, DefinitionError where it is wrong; that of the package is read once."""
        if directory is None:
            return cast(Self, _read_once(cls))
        return gather(directory, cls.file).into(cls)

    def say(self, key: AnyKey, language: Language, **values: str) -> str:
        """The text of a key with its values: exactly those that the key declares."""
        return self.texts[key].fill(language, values)


def _fits(key: TextKey, text: Text) -> None:
    declared = frozenset(key.given)
    given = f"it is given {', '.join(key.given) or 'no value'}"
    if extra := text.names - declared:
        near = get_close_matches(min(extra), key.given, 1)
        mend = f"write {{{near[0]}}}: {given}" if near else f"leave it out: {given}"
        raise PlacedError(("texts", str(key)), f"{{{min(extra)}}} is not a value of this text", mend)
    if lost := declared - text.names:
        raise PlacedError(("texts", str(key)), f"{{{min(lost)}}} is missing", f"say it too: {given}")


@cache
def _read_once(model: type[Texts[Any]]) -> Texts[Any]:
    return model.load(dialogs_directory())
