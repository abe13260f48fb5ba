"""Fits of a pattern to a piece of a text."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple, TypeAlias


class Capture(NamedTuple):
    """What a rule found: its name and its value."""

    name: str
    value: object


Captures: TypeAlias = tuple[Capture, ...]


class Match(NamedTuple):
    """One fit: the token after it, and what was found on the way."""

    end: int
    captures: Captures


Matches: TypeAlias = tuple[Match, ...]


def captured(name: str, value: object, matches: Iterable[Match]) -> Matches:
    """The same fits with this found in each, whatever was found on the way."""
    return tuple(Match(match.end, (Capture(name, value),)) for match in matches)


def once(matches: Iterable[Match]) -> Matches:
    """Each fit one time, in the order in which they were found."""
    return tuple(dict.fromkeys(matches))
