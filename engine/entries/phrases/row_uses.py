"""What is told of rows outside a shift: that they are done without, in use again, rebuilt, or not rebuilt after all."""

from __future__ import annotations

from engine.entries.phrases.phrase import Phrases
from engine.entries.phrases.vocabulary import Vocabulary
from engine.messages import LeavingOut, Repairing


def row_uses(vocabulary: Vocabulary) -> tuple[tuple[Phrases, type[LeavingOut] | type[Repairing], bool], ...]:
    """The phrases, what they tell, and whether they take it back."""
    return (
        (vocabulary.left_out, LeavingOut, False),
        (vocabulary.taken_in, LeavingOut, True),
        (vocabulary.repaired, Repairing, False),
        (vocabulary.not_repaired, Repairing, True),
    )
