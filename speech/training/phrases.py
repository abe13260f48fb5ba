"""Sentences an operator may say, drawn at random: what the synthetic voices read.

The rules of a language stand in ``phrases.LANGUAGE.yaml``; ``rules`` maps each name to its alternatives.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import NewType

import yaml

Sentence = NewType("Sentence", str)
Rules = Mapping[str, tuple[str, ...]]

ENGLISH = "en"
_PART = re.compile(r"\[(?P<left_out>[^\]]*)\]|<(?P<rule>\w+)>|(?P<word>[^\s<\[]+)")


@cache
def rules(language: str = ENGLISH) -> Rules:
    """The rules of a language."""
    text = Path(__file__).with_suffix(f".{language}.yaml").read_text(encoding="utf-8")
    return {name: tuple(one.strip() for one in options.split("|")) for name, options in yaml.safe_load(text).items()}


def phrase(rng: random.Random, rule: str = "entry", language: str = ENGLISH) -> Sentence:
    """A sentence of ``rule``, in small letters; the same generator state gives the same sentence."""
    return Sentence(" ".join(_drawn(rng, f"<{rule}>", rules(language))))


def soup(rng: random.Random, words: Sequence[str]) -> Sentence:
    """Two to four of ``words`` that have nothing to do with each other, so that each of them is heard in training."""
    return Sentence(" ".join(rng.choice(words) for _ in range(rng.randint(2, 4))))


def _drawn(rng: random.Random, text: str, known: Rules) -> list[str]:
    words: list[str] = []
    for part in _PART.finditer(text):
        if part["word"]:
            words.append(part["word"])
        elif part["rule"]:
            words.extend(_drawn(rng, _alternative(rng, known[part["rule"]]), known))
        elif rng.random() < 0.5:
            words.extend(_drawn(rng, part["left_out"], known))
    return words


def _alternative(rng: random.Random, options: Sequence[str]) -> str:
    stars = [len(option) - len(option.lstrip("*")) for option in options]
    return rng.choices(options, [4.0**count for count in stars])[0].lstrip("*")


def words(rule: str = "entry", language: str = ENGLISH) -> frozenset[str]:
    """Every word that a rule can say, however deep."""
    found: set[str] = set()
    waiting, seen = [rule], {rule}
    while waiting:
        for option in rules(language)[waiting.pop()]:
            text = option.lstrip("*").replace("[", " ").replace("]", " ")
            found.update(part["word"] for part in _PART.finditer(text) if part["word"])
            deeper = {part["rule"] for part in _PART.finditer(text) if part["rule"]} - seen
            seen |= deeper
            waiting.extend(deeper)
    return frozenset(found)


def jsgf(rule: str, language: str = ENGLISH) -> str:
    """A grammar text of a rule and those it names."""
    seen, waiting = {rule}, [rule]
    lines = []
    while waiting:
        name = waiting.pop()
        options = [option.lstrip("*") for option in rules(language)[name]]
        deeper = {part["rule"] for option in options for part in re.finditer(r"<(?P<rule>\w+)>", option)} - seen
        seen |= deeper
        waiting.extend(sorted(deeper))
        lines.append(f"{'public ' if name == rule else ''}<{name}> = {' | '.join(options)};")
    return "\n".join(["#JSGF V1.0;", f"grammar {rule};", *lines, ""])
