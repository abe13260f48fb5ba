"""How Spanish words sound, by rule: letters to the phones of ``transducer``, as Latin America says them.

Spelling tells nearly all: c before e and i, z and s are one sound (seseo), ll and y another (yeísmo), b and v a third,
h none. The phones are those of the English models, so that one set serves both languages: the five vowels are AA, EH,
IY, OW and UW, those that glide AY, EY, OY and AW, j is HH, ñ is N Y, and r and rr are both R. Rules after the
Real Academia Española, "Ortografía de la lengua española" (2010), chapter 1, from memory; the second ways are common
practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from speech.decoding.transducer import Ways

LANGUAGE = "es"
_PLAIN = str.maketrans("áéó", "aeo")
_ONE = {"b": "B", "d": "D", "f": "F", "k": "K", "l": "L", "m": "M", "n": "N", "p": "P", "r": "R", "s": "S", "t": "T"}
_ONE |= {"v": "B", "w": "W", "j": "HH", "z": "S", "y": "Y", "c": "K", "g": "G", "q": "K", "ñ": "N Y", "h": ""}
_ONE |= {"a": "AA", "e": "EH", "i": "IY", "í": "IY", "o": "OW", "u": "UW", "ú": "UW", "ü": "UW", "x": "K S"}
_RULES: tuple[tuple[str, str], ...] = (
    (r"^x", "S"),
    (r"xc(?=[eií])", "K S"),
    (r"ch", "CH"),
    (r"ll", "Y"),
    (r"rr", "R"),
    (r"qu(?=[eií])", "K"),
    (r"gu(?=[eií])", "G"),
    (r"gü(?=[eií])", "G W"),
    (r"c(?=[eií])", "S"),
    (r"g(?=[eií])", "HH"),
    (r"hu(?=[aeo])", "W"),
    (r"hi(?=[aeo])", "Y"),
    (r"a[iy](?![aeou])", "AY"),
    (r"e[iy](?![aeou])", "EY"),
    (r"o[iy](?![aeou])", "OY"),
    (r"au(?![aeoi])", "AW"),
    (r"eu(?![aeoi])", "EH W"),
    (r"ou(?![aeoi])", "OW W"),
    (r"i(?=[aeouú])", "Y"),
    (r"u(?=[aeoií])", "W"),
    (r"y$", "IY"),
)
_LETTERS = re.compile("[a-zñáéíóúü]+")


@lru_cache(maxsize=4096)
def pronounce(word: str) -> Ways:
    """The ways a Spanish word may sound, the usual one first; empty where it has other signs than letters."""
    text = unicodedata.normalize("NFC", word.lower())
    if not _LETTERS.fullmatch(text):
        return ()
    phones = tuple(_phones(text.translate(_PLAIN)))
    return tuple(dict.fromkeys(way for way in (phones, *_others(text, phones)) if way))


def _phones(text: str) -> list[str]:
    found: list[str] = []
    at = 0
    while at < len(text):
        rule = next(((end, sound) for end, sound in _matching(text, at)), (at + 1, _ONE[text[at]]))
        at = rule[0]
        found += rule[1].split()
    return found


def _matching(text: str, at: int) -> list[tuple[int, str]]:
    """Where a rule for several letters, or for a letter by its neighbours, ends, and what it says."""
    tried = ((re.compile(pattern).match(text, at), sound) for pattern, sound in _RULES if at == 0 or pattern[0] != "^")
    return [(match.end(), sound) for match, sound in tried if match]


def _others(text: str, phones: tuple[str, ...]) -> list[tuple[str, ...]]:
    """An initial y said hard, -ado without its d, and the x of a prefix as s."""
    others = []
    if phones[:1] == ("Y",) and text[0] in "yl":
        others.append(("JH", *phones[1:]))
    if re.search("[aá]dos?$", text):
        kept = len(phones) - (2 if text.endswith("o") else 3)
        others.append((*phones[:kept], *phones[kept + 1 :]))
    if "K S" in " ".join(phones) and re.match("[aeiou]x[^aeiou]", text):
        others.append((phones[0], *phones[2:]))
    return others
