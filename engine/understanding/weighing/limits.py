"""How likely a meaning must be before something is done about it.

Chosen on suites, see ``rowhand bench understanding``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class MeaningLimits:
    """Shares from 0 to 1.

    ``kept``: a value or a report is kept; ``asked``: it is asked about; ``asked_unreal``: so it is where it is told as
    a question or as not so now; ``chosen``: a closed answer (``chosen_denied`` beside a word of denial,
    ``chosen_revised`` among the answers to one question, where that is put right); from ``alike`` on a like meaning
    makes a report doubtful; ``acted``: commands and answers; ``moved``: those by which something is lost or left
    (``declined_unsaid``: a question is gone past in no plain words);
    ``answered``: questions; ``emergency``: what may be one; ``ignored``: talk (``ignored_rows`` where it names a row
    during a shift); ``remark``: talk beside something that is clear; ``piece``: one piece of what is talk as a whole
    (``piece_kept`` to keep it); ``name_kept``: a name; ``described``: a description beside what
    is put right; ``nameless``: a person whose name is not found.
    """

    kept: float = 0.65
    asked: float = 0.3
    asked_unreal: float = 0.6
    chosen: float = 0.75
    chosen_denied: float = 0.97
    chosen_revised: float = 0.9
    alike: float = 0.1
    acted: float = 0.5
    moved: float = 0.7
    declined_unsaid: float = 0.93
    emergency: float = 0.3
    answered: float = 0.3
    piece: float = 0.6
    piece_kept: float = 0.85
    ignored: float = 0.45
    ignored_rows: float = 0.8
    remark: float = 0.3
    name_kept: float = 0.5
    described: float = 0.9
    nameless: float = 0.9


LIMITS = MeaningLimits()
