"""Agreement becomes confidence."""

import pytest

from speech.panel.voting import CONFIDENCE, count
from speech.transcript import TranscriptWord


def said(text: str) -> tuple[TranscriptWord, ...]:
    return tuple(TranscriptWord(word, 1.0, float(at), at + 1.0) for at, word in enumerate(text.split()))


def test_most_votes_win_and_losers_are_alternatives() -> None:
    ballot = count([said("row one"), said("row nine"), said("row nine")], talk=False)
    assert " ".join(word.text for word in ballot.words) == "row nine"
    assert ballot.others == ("row one",)
    assert {word.confidence for word in ballot.words} == {CONFIDENCE[False][2]}


def test_without_a_majority_the_most_trusted_wins() -> None:
    ballot = count([said("yes"), said("no"), said("stop")], talk=False)
    assert ballot.words[0].text == "yes"
    assert ballot.words[0].confidence == CONFIDENCE[False][1]


@pytest.mark.parametrize("talk", [False, True])
def test_more_agreement_is_never_less_confidence(talk: bool) -> None:
    found = [count([said("yes")] * votes, talk).words[0].confidence for votes in (2, 3)]
    assert found == sorted(set(found))
    assert 0 < found[0] < found[-1] < 1


def test_other_talk_makes_three_votes_worth_less_than_two() -> None:
    talked = count([said("yes")] * 3, talk=True).words[0].confidence
    assert talked < count([said("yes")] * 2, talk=False).words[0].confidence


def test_abstentions_do_not_count() -> None:
    assert count([(), said("yes"), ()], talk=False).words[0].confidence == CONFIDENCE[False][1]
    assert count([(), (), ()], talk=False).words == ()


def test_one_vote_against_other_talk_is_not_heard() -> None:
    ballot = count([said("yes"), said("no"), ()], talk=True)
    assert ballot.words == ()
    assert ballot.others == ("yes", "no")
