"""How words sound. English: the CMU dictionary (in the pocketsphinx package, BSD-2-Clause) and a few words of our own;
Spanish: by rule (``speech.decoding.pronunciation``). Phones are those of ``speech.decoding.transducer``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from speech.decoding.pronunciation import pronounce
from speech.decoding.transducer import Ways
from speech.training import phrases

DIALOGS = Path(__file__).parents[2] / "dialogs"
MOST_WAYS = 3
OURS = {
    "a": ("AH", "EY"),
    "the": ("DH AH", "DH IY"),
    "and": ("AH N D", "AE N D", "AH N"),
    "erm": ("ER M",),
    "fourty": ("F AO R T IY",),
    "fine": ("F AY N",),
    "litre": ("L IY T ER",),
    "litres": ("L IY T ER Z",),
    "nought": ("N AO T",),
    "recatch": ("R IY K AE CH",),
    "refilled": ("R IY F IH L D",),
    "tare": ("T EH R",),
    "hundred": ("HH AH N D R AH D", "HH AH N D ER D", "HH AH N R AH D"),
    "ninety": ("N AY N T IY", "N AY N D IY"),
    "twenty": ("T W EH N T IY", "T W EH N IY"),
    "seventy": ("S EH V AH N T IY", "S EH V AH N D IY"),
    "forty": ("F AO R T IY", "F AO R D IY"),
    "thirty": ("TH ER T IY", "TH ER D IY"),
    "eighty": ("EY T IY", "EY D IY"),
}
_TEN = "D IY CH IY"
ITALIAN = {
    word: (sound,)
    for word, sound in {
        "uno": "UW N OW",
        "due": "D UW EH",
        "tre": "T R EH",
        "quattro": "K W AA T R OW",
        "cinque": "CH IY N K W EH",
        "sei": "S EY",
        "sette": "S EH T EH",
        "otto": "OW T OW",
        "dieci": "D Y EH CH IY",
        "undici": f"UW N {_TEN}",
        "dodici": f"D OW {_TEN}",
        "tredici": f"T R EH {_TEN}",
        "quattordici": f"K W AA T OW R {_TEN}",
        "quindici": f"K W IY N {_TEN}",
        "sedici": f"S EH {_TEN}",
        "diciassette": "D IY CH AA S EH T EH",
        "diciotto": "D IY CH OW T OW",
        "trenta": "T R EH N T AA",
        "quaranta": "K W AA R AA N T AA",
        "cinquanta": "CH IY N K W AA N T AA",
        "sessanta": "S EH S AA N T AA",
        "settanta": "S EH T AA N T AA",
        "ottanta": "OW T AA N T AA",
        "cento": "CH EH N T OW",
        "mille": "M IY L EH",
        "minuti": "M IY N UW T IY",
        "secondi": "S EH K OW N D IY",
        "ore": "OW R EH",
        "aprile": "AA P R IY L EH",
        "agosto": "AA G OW S T OW",
        "settembre": "S EH T EH M B R EH",
        "ottobre": "OW T OW B R EH",
        "dicembre": "D IY CH EH M B R EH",
    }.items()
}
"""Italian words whose sounds Spanish has too, by rule and from memory: people who say the same five vowels."""
NEAREST = {
    "AE": "AA",
    "AH": "AA",
    "AO": "OW",
    "DH": "D",
    "ER": "EH R",
    "IH": "IY",
    "NG": "N",
    "SH": "CH",
    "TH": "T",
    "UH": "UW",
    "V": "B",
    "Z": "S",
    "ZH": "Y",
}
"""English phones as a Spanish ear takes them, so that people recorded in English can teach a Spanish model."""


def in_spanish(ways: Ways) -> Ways:
    """English pronunciations in the phones of Spanish alone."""
    return tuple(tuple(part for phone in way for part in NEAREST.get(phone, phone).split()) for way in ways)


@lru_cache(maxsize=1)
def _dictionary() -> dict[str, list[tuple[str, ...]]]:
    import pocketsphinx

    found: dict[str, list[tuple[str, ...]]] = {}
    file = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
    for line in file.read_text(encoding="utf-8").splitlines():
        name, *phones = line.split()
        found.setdefault(name.split("(")[0], []).append(tuple(phones))
    return found


def ways(word: str, language: str = "en") -> Ways:
    """Every pronunciation kept for a word; empty where none is known."""
    if language == "es":
        return pronounce(word)
    if language == "it":
        return tuple(tuple(way.split()) for way in ITALIAN.get(word, ()))
    if word in OURS:
        return tuple(tuple(way.split()) for way in OURS[word])
    return tuple(_dictionary().get(word, ())[:MOST_WAYS])


def lexicon(words: Iterable[str], language: str = "en") -> dict[str, Ways]:
    """The words that can be pronounced, in order."""
    known = {word: ways(word, language) for word in sorted(set(words))}
    return {word: found for word, found in known.items() if found}


def shipped(dialogs: Path, language: str = "en") -> dict[str, Ways]:
    """The lexicon of a language's shipped models: all that a folder of dialogs lets an operator say in it, and the
    words that ``phrases`` gives one."""
    folder = dialogs / language
    vocabulary = _words({key: part for key, part in _read(folder / "vocabulary.yaml").items() if key not in TYPED})
    said = (_said(_read(file)) for file in folder.rglob("*.yaml"))
    drawn = (phrases.words(rule, language) for rule in ("entry", "night", "choice"))
    return lexicon(vocabulary.union(*drawn, *said), language)


def _read(file: Path) -> Any:
    return yaml.safe_load(file.read_text(encoding="utf-8"))


SAID = frozenset({"opens", "called", "declined", "words", "label", "phrases", "services"})
"""Keys of a dialog file under which stands what may be said."""
_LETTERS = re.compile(r"[^\W\d_](?:[^\W\d_]|')*")
TYPED = frozenset({"danger", "loose", "naming"})
"""Parts of a vocabulary by which only typed text is read."""
UNSAID = frozenset({"means", "sizes", "decimals", "spelling"})
"""Keys under which a vocabulary names its own rules."""


def _said(node: Any) -> frozenset[str]:
    """The words under the keys of ``SAID``."""
    match node:
        case dict():
            return frozenset().union(*(_heard(part) if key in SAID else _said(part) for key, part in node.items()))
        case list():
            return frozenset().union(*map(_said, node))
        case _:
            return frozenset()


def _heard(part: Any) -> frozenset[str]:
    """The words under such a key; of what is asked of the chat, those that are listened for."""
    match part:
        case {"says": says}:
            return _words([says, part.get("sure", "")])
        case dict() if all(isinstance(one, dict) for one in part.values()):
            return frozenset().union(*map(_heard, part.values()))
        case _:
            return _words(part)


def _words(node: Any) -> frozenset[str]:
    """The words in a part of a file; not those of a phrase that is only typed."""
    match node:
        case {"heard": "no"}:
            return frozenset()
        case dict():
            return frozenset().union(*(_words(part) for key, part in node.items() if key not in UNSAID))
        case list():
            return frozenset().union(*map(_words, node))
        case str():
            return frozenset(_LETTERS.findall(re.sub(r"<[^>]*>", " ", node.lower())))
        case _:
            return frozenset()
