"""Typed text as it is read: digits of any script as plain ones, without marks that only steer how text is laid out."""

from __future__ import annotations

import unicodedata

from engine.messages import Utterance

LAYOUT = frozenset("\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff")
"""Marks of direction (Unicode Standard Annex 9) and spaces without width, which come along with pasted text."""


def plain_utterance(utterance: Utterance) -> Utterance:
    """The same where nothing has to be changed."""
    plain = plainly(utterance.text)
    return utterance if plain == utterance.text else utterance.model_copy(update={"text": plain})


def plainly(text: str) -> str:
    """Each decimal digit as 0 to 9, forms of full width as usual ones, no marks of layout."""
    if text.isascii():
        return text
    return "".join(_plain(mark) for mark in text if mark not in LAYOUT)


def _plain(mark: str) -> str:
    if mark.isdecimal():
        return str(unicodedata.decimal(mark))
    wide = unicodedata.decomposition(mark).startswith("<wide>")
    return unicodedata.normalize("NFKC", mark) if wide else mark
