"""Phrases of the vocabulary: patterns with what is known of them, and how they are found in a file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from enum import StrEnum
from functools import cached_property
from operator import itemgetter
from typing import Annotated, Any, Generic, Self, TypeAlias, TypeVar

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from engine.data.definitions import Place
from engine.entries.phrases.match import Matches
from engine.entries.phrases.pattern import Choice, KeyedText, Leads, Node, Rule, Word, leads, parse_pattern, walk
from engine.frozen_model import FrozenModel

Name = TypeVar("Name")


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


class Phrase(FrozenModel):
    """One pattern. ``heard`` is no for what is understood and not expected to be spoken."""

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
    def leads(self) -> Leads | None:
        """What the pattern may begin with; None for anything."""
        return leads(self.node)

    @cached_property
    def rules(self) -> frozenset[str]:
        """The names of the rules in it."""
        return frozenset(part.name for part in walk(self.node) if isinstance(part, Rule))

    @cached_property
    def words(self) -> frozenset[str]:
        """The words in it, as they are compared."""
        return frozenset(part.key for part in walk(self.node) if isinstance(part, Word))

    def fits(self, text: KeyedText, start: int) -> Matches:
        """Every fit of the pattern, not even tried where nothing that it may begin with stands."""
        return self.node.fits(text, start) if self.may_begin(text, start) else ()

    def may_begin(self, text: KeyedText, start: int) -> bool:
        """Whether anything that the pattern may begin with stands there."""
        lead = self.leads
        if lead is None or text.keys[start] in lead.keys:
            return True
        return bool(lead.rules) and any(text.rule(name, start) for name in lead.rules)


Said = Annotated[Phrase, BeforeValidator(lambda data: {"say": data} if isinstance(data, str) else data)]
Phrases = Annotated[tuple[Said, ...], Field(min_length=1)]
SomePhrases = Annotated[Phrases, BeforeValidator(lambda data: [data] if isinstance(data, str) else data)]


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


_Placed: TypeAlias = list[tuple[int, Name, Phrase]]


class PhraseIndex(Generic[Name]):
    """Phrases by a name, found by the key that a text goes on with."""

    def __init__(self, named: Mapping[Name, Phrases]) -> None:
        always: _Placed[Name] = []
        own: defaultdict[str, _Placed[Name]] = defaultdict(list)
        said = ((name, one) for name, phrases in named.items() for one in phrases)
        for place, (name, one) in enumerate(said):
            for those in _those(one, always, own):
                those.append((place, name, one))
        self._by_key = {key: _by_name([*always, *those]) for key, those in own.items()}
        self._otherwise = _by_name(always)

    def at(self, key: str) -> Mapping[Name, Phrases]:
        """Those that may begin with a key, in the order in which they were given."""
        return self._by_key.get(key, self._otherwise)


def _those(one: Phrase, always: _Placed[Name], own: Mapping[str, _Placed[Name]]) -> list[_Placed[Name]]:
    """The lists a phrase belongs to: that of each key it may begin with, or where that is open, of all."""
    return [always] if one.leads is None or one.leads.rules else [own[key] for key in one.leads.keys]


def _by_name(found: _Placed[Name]) -> Mapping[Name, Phrases]:
    named: dict[Name, Phrases] = {}
    for _, name, one in sorted(found, key=itemgetter(0)):
        named[name] = (*named.get(name, ()), one)
    return named


def spoken(phrases: Phrases) -> Node:
    """Any of these phrases."""
    nodes = tuple(one.node for one in phrases)
    return nodes[0] if len(nodes) == 1 else Choice(nodes)
