"""How words sound that no model was made with, names above all.

English: the CMU dictionary in pocketsphinx; Spanish: by rule (``speech.decoding.pronunciation``).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import lru_cache
from pathlib import Path

import pocketsphinx

from speech.decoding import pronunciation
from speech.decoding.transducer import PHONES, Ways

MOST_WAYS = 3


def sounds(words: Collection[str], language: str = "en") -> Mapping[str, Ways]:
    """The pronunciations of those of the words of a language that are known."""
    if language == pronunciation.LANGUAGE:
        return {word: ways for word in words if (ways := pronunciation.pronounce(word))}
    return _sounds(frozenset(words)) if words else {}


@lru_cache(maxsize=16)
def _sounds(words: frozenset[str]) -> Mapping[str, Ways]:
    """Read through the file for a few words, since all of it takes tens of megabytes in memory."""
    found: dict[str, list[tuple[str, ...]]] = {}
    with _file().open(encoding="utf-8") as lines:
        for line in lines:
            name, _, phones = line.partition(" ")
            word = name.partition("(")[0]
            if word in words and set(phones.split()) <= set(PHONES):
                found.setdefault(word, []).append(tuple(phones.split()))
    return {word: tuple(ways[:MOST_WAYS]) for word, ways in found.items()}


def _file() -> Path:
    return Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
