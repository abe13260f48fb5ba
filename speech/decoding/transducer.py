"""Decoding graphs as finite-state transducers, in OpenFst's own file form, for models with one state a phone.

Input labels are Kaldi transition ids, output labels are words. A word is its phones, each held for a frame or more,
with blank between them if it is wanted (the topology of connectionist temporal classification). Unknown speech is any
run of phones, each at a cost.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field

PHONES = tuple(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH".split()  # noqa: SIM905
)
"""ARPAbet without stress; phone ``i`` is token ``i + 1`` of a model, token 0 is the blank."""
BLANK = 0
TOKEN = {phone: at + 1 for at, phone in enumerate(PHONES)}
UNKNOWN = "[unk]"

Ways = tuple[tuple[str, ...], ...]
"""How a word may sound: phones, in any of several ways."""


def stay(token: int) -> int:
    """The transition id of a token held for another frame."""
    return 2 * token + 1


def enter(token: int) -> int:
    """The transition id of a token's first frame."""
    return 2 * token + 2


@dataclass(slots=True)
class Transducer:
    """States are numbered from 0, which is where decoding starts; costs are negative natural logarithms."""

    arcs: list[list[tuple[int, int, float, int]]] = field(default_factory=lambda: [[]])
    final: dict[int, float] = field(default_factory=dict)

    def state(self) -> int:
        self.arcs.append([])
        return len(self.arcs) - 1

    def arc(self, ends: tuple[int, int], label: int = 0, word: int = 0, cost: float = 0.0) -> None:
        self.arcs[ends[0]].append((label, word, cost, ends[1]))

    def wait(self, state: int) -> None:
        """Silence may pass at this state."""
        self.arc((state, state), stay(BLANK))

    def say(self, ends: tuple[int, int], word: int, ways: Ways, cost: float = 0.0) -> None:
        """A word, each of its ways for itself."""
        for way in ways:
            self._way(ends, [TOKEN[phone] for phone in way], word, cost)

    def _way(self, ends: tuple[int, int], tokens: Sequence[int], word: int, cost: float) -> None:
        before, rest, last = ends[0], -1, BLANK
        for token in tokens:
            state = self.state()
            first = last == BLANK
            if token != last:
                self.arc((before, state), enter(token), word if first else 0, cost if first else 0.0)
            if not first:
                self.arc((rest, state), enter(token))
            self.arc((state, state), stay(token))
            rest = self.state()
            self.arc((state, rest), enter(BLANK))
            self.wait(rest)
            before, last = state, token
        self.arc((before, ends[1]))
        self.arc((rest, ends[1]))

    def anything(self, ends: tuple[int, int], word: int, first: float, each: float) -> None:
        """One phone or more, at cost ``first`` once and ``each`` for every phone."""
        inside = self.state()
        for token in TOKEN.values():
            for start, output, cost in ((ends[0], word, first + each), (inside, 0, each)):
                held = self.state()
                self.arc((start, held), enter(token), output, cost)
                self.arc((held, held), stay(token))
                self.arc((held, inside))
        self.wait(inside)
        self.arc((inside, ends[1]))

    def binary(self) -> bytes:
        """OpenFst's vector form: a header, then each state's final cost and arcs."""
        count = sum(map(len, self.arcs))
        names = b"".join(struct.pack("<i", len(name)) + name for name in (b"vector", b"standard"))
        header = (
            struct.pack("<i", _MAGIC)
            + names
            + struct.pack("<iiQqqq", 2, 0, _EXPANDED_MUTABLE, 0, len(self.arcs), count)
        )
        body = bytearray()
        for state, arcs in enumerate(self.arcs):
            body += struct.pack("<fq", self.final.get(state, math.inf), len(arcs))
            for label, word, cost, end in sorted(arcs):
                body += struct.pack("<iifi", label, word, cost, end)
        return header + bytes(body)


_MAGIC = 2_125_659_606
_EXPANDED_MUTABLE = 0x3
