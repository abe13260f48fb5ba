"""What was said is at hand: whole, made again where it is damaged, and never more than fits."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from speech.errors import VoiceMissing
from speech.synthesis.espeak import Espeak
from speech.synthesis.phrase_cache import PAUSE_S, PhraseCache
from tests.helpers.voices import needs_espeak

pytestmark = needs_espeak
FIRST, SECOND, THIRD = "Once more.", "How many rows?", "Row three."


@pytest.fixture
def spoken(tmp_path: Path) -> PhraseCache:
    return PhraseCache(Espeak("en"), "en", tmp_path / "said")


def silence(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on no program speaks."""
    monkeypatch.setenv("PATH", "")


def test_what_was_said_needs_no_voice(spoken: PhraseCache, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = spoken.speak(FIRST)
    silence(monkeypatch)
    kept = spoken.speak(FIRST)
    assert np.abs(kept.samples - fresh.samples).max() < 2 / 2**15
    with pytest.raises(VoiceMissing):
        spoken.speak(SECOND)


def test_a_reply_is_its_sentences_with_pauses(spoken: PhraseCache, monkeypatch: pytest.MonkeyPatch) -> None:
    assert spoken.warm([f"{FIRST}\n{SECOND}", SECOND, "🙂"]) == 2
    assert spoken.warm([FIRST]) == 0
    silence(monkeypatch)
    parts = [spoken.speak(sentence).duration_s for sentence in (SECOND, FIRST)]
    assert spoken.speak(f"{SECOND} {FIRST}").duration_s == pytest.approx(sum(parts) + PAUSE_S)
    assert spoken.speak("🙂").duration_s == 0


def test_another_language_voice_or_pace_is_another_sound(tmp_path: Path) -> None:
    voices = [Espeak("en"), Espeak("en", 1.2), Espeak("es")]
    places = {PhraseCache(voice, voice.language, tmp_path).place(FIRST) for voice in voices}
    assert len(places) == 3


def flipped(data: bytes) -> bytes:
    middle = len(data) // 2
    return data[:middle] + bytes([data[middle] ^ 1]) + data[middle + 1 :]


@pytest.mark.parametrize("damage", [flipped, lambda data: data[:-1], lambda data: b"", lambda data: data[:40]])
def test_a_damaged_sound_is_made_again(
    damage: Callable[[bytes], bytes], spoken: PhraseCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken.speak(FIRST)
    place = spoken.place(FIRST)
    whole = place.read_bytes()
    place.write_bytes(damage(whole))
    assert spoken.speak(FIRST).duration_s > 0.3
    assert place.read_bytes() == whole
    place.write_bytes(damage(whole))
    silence(monkeypatch)
    with pytest.raises(VoiceMissing):
        spoken.speak(FIRST)


def test_the_least_used_go_first(spoken: PhraseCache) -> None:
    spoken.warm([FIRST, SECOND])
    for age, text in ((100, FIRST), (50, SECOND)):
        place = spoken.place(text)
        os.utime(place, (place.stat().st_mtime - age,) * 2)
    spoken.speak(FIRST)
    full = sum(spoken.place(text).stat().st_size for text in (FIRST, SECOND))
    small = PhraseCache(spoken.voice, "en", spoken.folder, full)
    small.speak(THIRD)
    assert [small.place(text).exists() for text in (FIRST, SECOND, THIRD)] == [True, False, True]
    assert sum(file.stat().st_size for file in spoken.folder.iterdir()) <= full


def test_a_folder_that_cannot_be_used_costs_no_word(tmp_path: Path) -> None:
    taken = tmp_path / "said"
    taken.write_text("a file")
    spoken = PhraseCache(Espeak("en"), "en", taken)
    assert spoken.speak(FIRST).duration_s > 0.3
    assert spoken.warm([FIRST]) == 1


def test_many_at_once_leave_whole_files_only(spoken: PhraseCache) -> None:
    with ThreadPoolExecutor(8) as pool:
        said = list(pool.map(spoken.speak, [FIRST, SECOND] * 8))
    assert {round(clip.duration_s, 3) for clip in said[::2]} == {round(said[0].duration_s, 3)}
    assert {file.name for file in spoken.folder.iterdir()} == {spoken.place(text).name for text in (FIRST, SECOND)}
