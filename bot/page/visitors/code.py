"""A QR code drawn in a terminal, dark on light whatever the terminal's colours are."""

from __future__ import annotations

import io

import segno

LIGHT, PLAIN = "\x1b[97;40m", "\x1b[0m"
"""White on black, in which a filled block is a light piece of the code; left out where no terminal reads it."""


def drawn(text: str) -> str:
    """The lines of the code, two rows of it in each."""
    out = io.StringIO()
    segno.make(text, micro=False, error="l").terminal(out, border=2, compact=True)
    return "\n".join(f"{LIGHT}{line}{PLAIN}" for line in out.getvalue().rstrip("\n").splitlines())
