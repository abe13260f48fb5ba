"""Phrases of a channel: the whole of a text, the beginning of one with a name behind it, and what is refused."""

from __future__ import annotations

import pytest

from engine.entries.phrases.channel_phrases import ChannelPhrases, said_plainly

PHRASES = ChannelPhrases({"photo": ("[show me] the photo (of | for)", "the photo"), "leave": ("dejar [el] rancho",)})


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ("the photo", "photo"),
        ("The Photo!", "photo"),
        ("…the, photo?", "photo"),
        ("Dejar el rancho.", "leave"),
        ("déjar rancho", "leave"),
        ("the photos", None),
        ("the photo please", None),
        ("", None),
        ("?!", None),
    ],
)
def test_a_whole_text_is_one_phrase_whatever_its_marks(said: str, asked: str | None) -> None:
    assert PHRASES.whole(said) == asked


@pytest.mark.parametrize(
    ("said", "behind"),
    [
        ("the photo of Ridge 40", "Ridge 40"),
        ("Show me the photo for:  Ridge 40, west ", "Ridge 40, west"),
        ("the photo", None),
        ("photo of Ridge 40", None),
    ],
)
def test_behind_the_longest_phrase_stands_what_is_meant(said: str, behind: str | None) -> None:
    assert PHRASES.before(said) == (("photo", behind) if behind else None)


def test_a_channel_has_words_alone() -> None:
    with pytest.raises(ValueError, match="<row> is not known to a channel"):
        ChannelPhrases({"look": ("look at <row>",)})
    with pytest.raises(ValueError, match="a bracket closes nothing"):
        ChannelPhrases({"look": ("look)",)})


def test_texts_are_compared_by_words_and_numbers() -> None:
    assert said_plainly("¡Sí, déjalo! (2,5)") == said_plainly("si dejalo 2,5") == "si dejalo 2,5"
