"""Phrases of the vocabulary: patterns with what is known of them, and how they are found in a file."""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from functools import cached_property
from typing import Annotated, Any, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from engine.data.definitions import Place
from engine.entries.phrases.pattern import Choice, Node, Rule, openings, parse_pattern, walk


class Meaning(StrEnum):
    """How the numbers in a phrase go together; see the head of a vocabulary file."""

    SAME = "same"
    SUM = "sum"
    SCALE = "scale"
    JOIN = "join"
    POINT = "point"
    PART = "part"
    UNSAID = "unsaid"
    UNSAID_LAST = "unsaid_last"


class Phrase(BaseModel):
    """One pattern. ``heard`` is no for what is understood and not expected to be spoken."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    say: str
    means: Meaning = Meaning.SAME
    heard: bool = True

    @model_validator(mode="after")
    def _reads(self) -> Self:
        parse_pattern(self.say)
        return self

    @cached_property
    def node(self) -> Node:
        return parse_pattern(self.say)

    @cached_property
    def openings(self) -> frozenset[str] | None:
        """What the pattern may begin with; None for anything."""
        return openings(self.node)


def _phrase(data: Any) -> Any:
    return {"say": data} if isinstance(data, str) else data


Said = Annotated[Phrase, BeforeValidator(_phrase)]
Phrases = Annotated[tuple[Said, ...], Field(min_length=1)]
SomePhrases = Annotated[Phrases, BeforeValidator(lambda data: [data] if isinstance(data, str) else data)]


def rules_of(one: Phrase) -> set[str]:
    """The names of the rules in a phrase."""
    return {part.name for part in walk(one.node) if isinstance(part, Rule)}


def placed(value: Any, place: Place = ()) -> Iterator[tuple[Place, Phrase]]:
    """Every phrase anywhere in a vocabulary or in a part of it, with its place in the file."""
    match value:
        case Phrase():
            yield place, value
        case BaseModel():
            for name in type(value).model_fields:
                yield from placed(getattr(value, name), (*place, name))
        case dict():
            for key, inner in value.items():
                yield from placed(inner, (*place, str(key)))
        case tuple():
            for number, inner in enumerate(value):
                yield from placed(inner, (*place, number))
        case _:
            return


def spoken(phrases: Phrases) -> Node:
    """Any of these phrases."""
    nodes = tuple(one.node for one in phrases)
    return nodes[0] if len(nodes) == 1 else Choice(nodes)
