"""Reads grammar texts in a subset of JSGF (JSpeech Grammar Format, W3C Note 5 June 2000).

Read are the header, the grammar's name, comments, rules (``public`` or not) made of tokens, ``<rule>``, ``<NULL>``,
sequences, ``|``, ``( )``, ``[ ]``, ``*`` and ``+``. Imports, weights, tags and recursion are refused with their place.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TypeAlias

from speech.errors import GrammarError


@dataclass(frozen=True, slots=True)
class JsgfToken:
    text: str


@dataclass(frozen=True, slots=True)
class Reference:
    rule: str


@dataclass(frozen=True, slots=True)
class JsgfSequence:
    parts: tuple[Expansion, ...]


@dataclass(frozen=True, slots=True)
class JsgfChoice:
    options: tuple[Expansion, ...]


@dataclass(frozen=True, slots=True)
class JsgfRepeat:
    """Any number of times; ``least`` is 0 or 1."""

    part: Expansion
    least: int


Expansion: TypeAlias = JsgfToken | Reference | JsgfSequence | JsgfChoice | JsgfRepeat
NOTHING = JsgfSequence(())

_COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.DOTALL)
_HEADER = re.compile(r"\s*#JSGF\s+V1\.0[^;]*;\s*grammar\s+[\w.]+\s*;")
_RULE = re.compile(r"\s*(?P<public>public\s+)?<(?P<name>[\w.-]+)>\s*=(?P<body>[^;]*);")
_PIECE = re.compile(r"\s*(?:(?P<rule><[^<>]*>)|(?P<mark>[|()\[\]*+])|(?P<token>[\w'.-]+))")


@dataclass(frozen=True, slots=True)
class JsgfRules:
    """All rules by name, and the names of the public ones in order."""

    bodies: dict[str, Expansion]
    public: tuple[str, ...]


def read(text: str) -> JsgfRules:
    """Read a whole grammar text; raises GrammarError."""
    clean = _COMMENT.sub(" ", text)
    header = _HEADER.match(clean)
    if header is None:
        raise GrammarError("header", "expected '#JSGF V1.0; grammar NAME;'")
    bodies: dict[str, Expansion] = {}
    public: list[str] = []
    at = header.end()
    while clean[at:].strip():
        rule = _RULE.match(clean, at)
        if rule is None:
            raise GrammarError(f"near {clean[at : at + 30].strip()!r}", "expected '<name> = ... ;'")
        if rule["name"] in bodies:
            raise GrammarError(f"<{rule['name']}>", "defined twice")
        bodies[rule["name"]] = _Body(rule["name"], rule["body"]).read()
        if rule["public"]:
            public.append(rule["name"])
        at = rule.end()
    if not public:
        raise GrammarError("rules", "none of them is public")
    return JsgfRules(bodies, tuple(public))


class _Body:
    """The right side of one rule, read from left to right."""

    def __init__(self, rule: str, text: str) -> None:
        self.rule = rule
        self.pieces = self._split(text)
        self.at = 0

    def _split(self, text: str) -> list[str]:
        pieces, at = [], 0
        text = text.rstrip()
        while at < len(text):
            piece = _PIECE.match(text, at)
            if piece is None:
                raise self._error(f"cannot read {text[at : at + 20].strip()!r}")
            pieces.append(piece[0].strip())
            at = piece.end()
        return pieces

    def _error(self, wrong: str) -> GrammarError:
        return GrammarError(f"<{self.rule}>", wrong)

    def _next(self) -> str:
        return self.pieces[self.at] if self.at < len(self.pieces) else ""

    def _take(self) -> str:
        self.at += 1
        return self.pieces[self.at - 1]

    def read(self) -> Expansion:
        whole = self._choice()
        if self._next():
            raise self._error(f"{self._next()!r} has no beginning")
        return whole

    def _choice(self) -> Expansion:
        options = [self._sequence()]
        while self._next() == "|":
            self._take()
            options.append(self._sequence())
        return options[0] if len(options) == 1 else JsgfChoice(tuple(options))

    def _sequence(self) -> Expansion:
        parts: list[Expansion] = []
        while self._next() not in ("", "|", ")", "]"):
            parts.append(self._repeated())
        if not parts:
            raise self._error("an empty choice; write <NULL> for nothing")
        return parts[0] if len(parts) == 1 else JsgfSequence(tuple(parts))

    def _repeated(self) -> Expansion:
        part = self._single()
        while self._next() in ("*", "+"):
            part = JsgfRepeat(part, least=0 if self._take() == "*" else 1)
        return part

    def _single(self) -> Expansion:
        piece = self._take()
        if piece in ("*", "+"):
            raise self._error(f"{piece!r} has nothing to repeat")
        if piece == "(":
            return self._closed(")")
        if piece == "[":
            return JsgfChoice((self._closed("]"), NOTHING))
        if piece == "<NULL>":
            return NOTHING
        return Reference(piece[1:-1]) if piece.startswith("<") else JsgfToken(piece.lower())

    def _closed(self, mark: str) -> Expansion:
        inside = self._choice()
        if self._next() != mark:
            raise self._error(f"{mark!r} is missing")
        self._take()
        return inside
