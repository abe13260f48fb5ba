"""How the weights of the third opinion are learnt, on made-up decodings of digits."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.bench.arbitrate import Decoding, crossed, fitted, line, weighed
from bot.bench.recording import Recording
from bot.bench.state import state
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from speech.panel.arbiter import Scores, certainty
from speech.transcript import Transcript, TranscriptWord

AGREED, OTHERWISE = Scores((-1.0, -9.0), -1.0), Scores((-14.0, -2.0), -1.0)


def recording(speaker: str, chatter: bool = False) -> Recording:
    return Recording(Path(f"{speaker}.ogg"), "digits", "five", speaker, chatter)


WAITING = state([recording("a")], load_vocabulary("en"), load_acceptance())


def decoding(speaker: str, sure: float, scores: Scores | None, right: bool, chatter: bool = False) -> Decoding:
    heard = Transcript((TranscriptWord("five", sure, 0.0, 0.5),), ("nine",), "panel", 0.1)
    scored = None if scores is None else (1, scores)
    return Decoding(recording(speaker, chatter), heard, scored, True, right, WAITING)


KNOWN = [
    *(decoding(speaker, 0.98, AGREED, True) for speaker in "abcdef" * 4),
    *(decoding(speaker, 0.98, OTHERWISE, False) for speaker in "abcdef" * 2),
]


def test_what_both_hold_is_kept_and_what_one_holds_is_not() -> None:
    limits = weighed(fitted(KNOWN))
    assert certainty(0.98, 1, AGREED, limits) > 0.9 > certainty(0.98, 1, OTHERWISE, limits)
    assert [one.kept(limits) for one in KNOWN] == [one.right for one in KNOWN]


def test_the_panel_alone_keeps_both() -> None:
    assert all(one.kept(None) for one in KNOWN)


def test_what_it_has_no_answer_for_stays_with_the_panel() -> None:
    limits = weighed(fitted(KNOWN))
    assert decoding("a", 0.98, None, True).kept(limits)
    assert not decoding("a", 0.6, None, True).kept(limits)


def test_more_added_keeps_more() -> None:
    weights = fitted(KNOWN)
    less, more = (certainty(0.7, 1, AGREED, weighed(weights, added)) for added in (0.0, 0.75))
    assert less < more


def test_everyone_is_judged_by_weights_of_other_speakers() -> None:
    odd = [decoding("z", 0.98, OTHERWISE, True) for _ in range(200)]
    found = list(crossed([*KNOWN, *odd], folds=50))
    assert len(found) == len(KNOWN) + len(odd)
    of_odd = {weights for one, weights in found if one.clip.speaker == "z"}
    assert [certainty(0.98, 1, OTHERWISE, weighed(weights)) < 0.5 for weights in of_odd] == [True]


def test_shares_are_of_talk_and_other_talk_is_counted_apart() -> None:
    right, wrong = decoding("a", 0.9, None, True), decoding("b", 0.9, None, False)
    other = decoding("c", 0.9, None, False, chatter=True)
    told = line("both", [(right, True), (right, False), (wrong, True), (wrong, False), (other, True), (other, False)])
    assert told == "both: kept right 0.2500, kept wrong 0.2500, of other talk 1 of 2\n"


def test_nothing_is_fitted_where_nothing_was_scored() -> None:
    with pytest.raises(ValueError, match="scored"):
        fitted([decoding("a", 0.9, None, True)])
