"""Spanish letters to phones: what each spelling stands for, and that every word of the vocabulary can be said."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.decoding.pronunciation import pronounce
from speech.decoding.transducer import PHONES

SOUNDS = {
    "hilera": "IY L EH R AA",
    "surco": "S UW R K OW",
    "cero": "S EH R OW",
    "seis": "S EY S",
    "siete": "S Y EH T EH",
    "ocho": "OW CH OW",
    "nueve": "N W EH B EH",
    "dieciséis": "D Y EH S IY S EY S",
    "veintidós": "B EY N T IY D OW S",
    "treinta": "T R EY N T AA",
    "cuarenta": "K W AA R EH N T AA",
    "quinientos": "K IY N Y EH N T OW S",
    "corrige": "K OW R IY HH EH",
    "rellené": "R EH Y EH N EH",
    "ajuste": "AA HH UW S T EH",
    "sigue": "S IY G EH",
    "agua": "AA G W AA",
    "guion": "G Y OW N",
    "pingüino": "P IY N G W IY N OW",
    "español": "EH S P AA N Y OW L",
    "día": "D IY AA",
    "continúa": "K OW N T IY N UW AA",
    "avería": "AA B EH R IY AA",
    "estoy": "EH S T OY",
    "rey": "R EY",
    "y": "IY",
    "ya": "Y AA",
    "hueso": "W EH S OW",
    "hielo": "Y EH L OW",
    "ahora": "AA OW R AA",
    "ciudad": "S Y UW D AA D",
    "cuidado": "K W IY D AA D OW",
    "causa": "K AW S AA",
    "máximo": "M AA K S IY M OW",
    "báscula": "B AA S K UW L AA",
    "vacía": "B AA S IY AA",
    "lluvia": "Y UW B Y AA",
    "quedó": "K EH D OW",
    "que": "K EH",
    "hay": "AY",
    "mayo": "M AA Y OW",
    "hoy": "OY",
    "guardar": "G W AA R D AA R",
}


@pytest.mark.parametrize(("word", "sound"), SOUNDS.items())
def test_letters_sound_as_in_latin_america(word: str, sound: str) -> None:
    assert " ".join(pronounce(word)[0]) == sound


def test_what_is_often_said_another_way_has_both() -> None:
    assert pronounce("parado") == (("P", "AA", "R", "AA", "D", "OW"), ("P", "AA", "R", "AA", "OW"))
    assert pronounce("tapados")[1] == ("T", "AA", "P", "AA", "OW", "S")
    assert pronounce("ya")[1] == ("JH", "AA")
    assert pronounce("exceso")[0] == ("EH", "K", "S", "EH", "S", "OW")
    assert ("EH", "S", "P", "EH", "R", "AA") in pronounce("expera")


@pytest.mark.parametrize("word", ["", "4", "a-b", "c/u", "naïve", "h", "ß"])
def test_what_is_no_spanish_word_has_no_sound(word: str) -> None:
    assert pronounce(word) == ()


@given(st.text("abcdefghijklmnopqrstuvwxyzñáéíóúü", min_size=1, max_size=12))
def test_any_letters_sound_as_known_phones_and_capitals_change_nothing(word: str) -> None:
    for way in pronounce(word):
        assert way
        assert set(way) <= set(PHONES)
    assert pronounce(word.upper()) == pronounce(word)
