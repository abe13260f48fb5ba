"""Agreement becomes confidence."""

from speech.transcript import Word
from speech.votes import CONFIDENCE, TALK_FACTOR, count


def said(text: str) -> tuple[Word, ...]:
    return tuple(Word(word, 1.0, float(at), at + 1.0) for at, word in enumerate(text.split()))


def test_most_votes_win_and_losers_are_alternatives() -> None:
    ballot = count([said("row one"), said("row nine"), said("row nine")], talk=False)
    assert " ".join(word.text for word in ballot.words) == "row nine"
    assert ballot.others == ("row one",)
    assert {word.confidence for word in ballot.words} == {CONFIDENCE[2]}


def test_without_a_majority_the_most_trusted_wins() -> None:
    ballot = count([said("yes"), said("no"), said("stop")], talk=False)
    assert ballot.words[0].text == "yes"
    assert ballot.words[0].confidence == CONFIDENCE[1]


def test_more_agreement_is_never_less_confidence() -> None:
    assert CONFIDENCE[1] < CONFIDENCE[2] < CONFIDENCE[3] <= 1


def test_other_talk_lowers_it() -> None:
    sure = count([said("yes")] * 3, talk=False).words[0].confidence
    assert count([said("yes")] * 3, talk=True).words[0].confidence == sure * TALK_FACTOR


def test_abstentions_do_not_count() -> None:
    assert count([(), said("yes"), ()], talk=False).words[0].confidence == CONFIDENCE[1]
    assert count([(), (), ()], talk=False).words == ()
