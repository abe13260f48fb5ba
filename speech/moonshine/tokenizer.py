"""Texts as tokens of the general recogniser, from its file of pieces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path

GAP = "▁"
"""Stands for a space, and before the first word."""
BYTES_FROM = 3
"""A byte that is no piece of its own has the token of its value and this."""
LONG = 0x80


class Tokenizer:
    """Byte pairs: a text is cut into characters and the two neighbours of the lowest token are joined until none are.

    The file holds every piece in the order of its token: its length in bytes (one byte, from 128 on two, of which the
    first has seven bits more to give) and the bytes. As tokens are numbered in the order in which pairs were joined
    while the pieces were learnt, no list of joins is needed. Raises ValueError where the file ends within a piece.
    """

    def __init__(self, data: bytes) -> None:
        self._tokens: dict[bytes, int] = {}
        for token, piece in enumerate(_pieces(data)):
            self._tokens.setdefault(piece, token)

    @classmethod
    def of(cls, file: Path) -> Tokenizer:
        return cls(file.read_bytes())

    def tokens(self, text: str) -> list[int]:
        parts = [letter.encode() for letter in (GAP + text).replace(" ", GAP)]
        while (at := self._lowest(parts)) is not None:
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        return list(self._numbered(parts))

    def _lowest(self, parts: Sequence[bytes]) -> int | None:
        """Where the two neighbours are that are joined first; None where no two are a piece."""
        joined = ((self._tokens.get(left + right), at) for at, (left, right) in enumerate(pairwise(parts)))
        return min(((token, at) for token, at in joined if token is not None), default=(0, None))[1]

    def _numbered(self, parts: Iterable[bytes]) -> Iterator[int]:
        for part in parts:
            if part in self._tokens:
                yield self._tokens[part]
            else:
                yield from (byte + BYTES_FROM for byte in part)


def _pieces(data: bytes) -> Iterator[bytes]:
    at = 0
    while at < len(data):
        size, start = data[at], at + 1
        if size >= LONG:
            size, start = (size - LONG) + data[start] * LONG if start < len(data) else LONG, start + 1
        at = start + size
        if at > len(data):
            raise ValueError("the file of pieces ends within a piece")
        yield data[start:at]
