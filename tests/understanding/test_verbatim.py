"""A text is kept as it was typed: nothing in it was put there by the program."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.entries.phrases.tokens import fold
from engine.messages import Given
from tests.understanding.test_laws import LANGUAGES, say

PLACES = ("named", "new_field", "applicator", "crop", "location", "formulation", "protection", "store", "delivered")
SHORT = ["pa", "n", "w", "ta", "fer", "r", "u", "gm", "hrs", "thou", "aker", "ta", "ozs", "k", "q", "x", "d", "pal"]
"""Ways to write that stand for other words elsewhere."""
PLAIN = ["Kelbrick", "Mill", "Loma", "North", "Norte", "10G", "12B", "gloves", "guantes", "shed", "galpón", "corn"]
WORDS = st.lists(st.sampled_from([*SHORT, *PLAIN]), min_size=1, max_size=5)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("place", PLACES)
@given(words=WORDS)
@settings(max_examples=12, deadline=None)
def test_no_word_of_a_text_was_put_there(language: str, place: str, words: list[str]) -> None:
    text = " ".join(words)
    for one in say(language, place, text).reading.entries:
        if isinstance(one, Given) and isinstance(one.value, str) and one.doubt is None:
            assert fold(one.value) in fold(text), (text, one.value)


@pytest.mark.parametrize(
    ("language", "place", "text", "value"),
    [
        ("es", "certification", "PA-88-1936", "PA-88-1936"),
        ("en", "store", "on pallets in the north bay, tarped", "on pallets in the north bay, tarped"),
        ("en", "delivered", "Ridgeline 15G again", "Ridgeline 15G"),
        ("en", "protection", "N95 or better, gloves, and eye wear", "N95 or better, gloves, and eye wear"),
        ("en", "crop", "field corn, not the sweet", "field corn"),
    ],
)
def test_texts_as_people_tell_them(language: str, place: str, text: str, value: str) -> None:
    told = say(language, place, text).reading.entries
    assert [(one.value, one.doubt) for one in told if isinstance(one, Given)] == [(value, None)]


@pytest.mark.parametrize("place", ["new_field", "applicator"])
def test_a_name_leaves_no_number_behind(place: str) -> None:
    """A number beside a name that is kept surely belongs to another answer, or the name is asked about."""
    for text in ("Tall Oak 44 something", "call it Tall Oak with 44 on the sign"):
        for one in say("en", place, text).reading.entries:
            if isinstance(one, Given) and isinstance(one.value, str):
                assert one.doubt is not None or "44" in one.value, text
