"""Sentences an operator may say, drawn at random: what the synthetic voices read.

The rules stand in ``phrases.yaml``; ``RULES`` maps each name to its alternatives.
"""

from __future__ import annotations

import random
import re
from pathlib import Path
from typing import NewType

import yaml

Sentence = NewType("Sentence", str)

RULES: dict[str, tuple[str, ...]] = {
    name: tuple(option.strip() for option in options.split("|"))
    for name, options in yaml.safe_load(Path(__file__).with_suffix(".yaml").read_text(encoding="utf-8")).items()
}

_PART = re.compile(r"\[(?P<left_out>[^\]]*)\]|<(?P<rule>\w+)>|(?P<word>[^\s<\[]+)")


def phrase(rng: random.Random, rule: str = "entry") -> Sentence:
    """A sentence of ``rule``, in small letters; the same generator state gives the same sentence."""
    return Sentence(" ".join(_drawn(rng, f"<{rule}>")))


def _drawn(rng: random.Random, text: str) -> list[str]:
    words: list[str] = []
    for part in _PART.finditer(text):
        if part["word"]:
            words.append(part["word"])
        elif part["rule"]:
            words.extend(_drawn(rng, _alternative(rng, part["rule"])))
        elif rng.random() < 0.5:
            words.extend(_drawn(rng, part["left_out"]))
    return words


def _alternative(rng: random.Random, rule: str) -> str:
    options = RULES[rule]
    stars = [len(option) - len(option.lstrip("*")) for option in options]
    return rng.choices(options, [4.0**count for count in stars])[0].lstrip("*")


def words(rule: str = "entry") -> frozenset[str]:
    """Every word that a rule can say, however deep."""
    found: set[str] = set()
    waiting, seen = [rule], {rule}
    while waiting:
        for option in RULES[waiting.pop()]:
            text = option.lstrip("*").replace("[", " ").replace("]", " ")
            found.update(part["word"] for part in _PART.finditer(text) if part["word"])
            deeper = {part["rule"] for part in _PART.finditer(text) if part["rule"]} - seen
            seen |= deeper
            waiting.extend(deeper)
    return frozenset(found)


def jsgf(rule: str) -> str:
    """A grammar text of a rule and those it names."""
    seen, waiting = {rule}, [rule]
    lines = []
    while waiting:
        name = waiting.pop()
        options = [option.lstrip("*") for option in RULES[name]]
        deeper = {part["rule"] for option in options for part in re.finditer(r"<(?P<rule>\w+)>", option)} - seen
        seen |= deeper
        waiting.extend(sorted(deeper))
        lines.append(f"{'public ' if name == rule else ''}<{name}> = {' | '.join(options)};")
    return "\n".join(["#JSGF V1.0;", f"grammar {rule};", *lines, ""])
