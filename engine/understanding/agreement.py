"""Whether what was read of a sentence part by part says all that was found in it as a whole."""

from __future__ import annotations

from collections.abc import Sequence

from engine.messages import Entry, Given


def agree(answers: Sequence[Given], found: Sequence[Entry], corrected: bool, asked: str) -> bool:
    """Whether all that was found in the sentence as a whole is among the answers, but, where something is put right,
    what was in doubt; what was taken for a name may be the whole sentence."""
    given = {(one.slot, one.row): one.value for one in answers}
    read = [one for one in found if isinstance(one, Given) and not (corrected and one.doubt is not None)]
    read = [one for one in read if not (_is_guess(one, asked) and (one.slot, one.row) in given)]
    same = {(one.slot, one.row) for one in read if given.get((one.slot, one.row)) == one.value}
    read = [one for one in read if one.doubt is None or (one.slot, one.row) not in same]
    told = [(given.get((one.slot, one.row)), one.value) for one in read]
    texts = [one.value for one in answers if isinstance(one.value, str)]
    values = [one.value for one in answers if one.correcting]
    told = [(one, other) for one, other in told if not (one is None and corrected and other in values)]
    return all(
        one == other or (isinstance(one, str) and (one in str(other) or str(other) in one or other in texts))
        for one, other in told
    )


def _is_guess(entry: Given, asked: str) -> bool:
    """Whether an entry was taken from the whole sentence and is in doubt: a name, or a number that is not asked now."""
    plain = entry.row is not None or entry.doubt is None
    return not plain and (isinstance(entry.value, str) or entry.slot != asked)
