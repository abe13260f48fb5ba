"""How long until a reply is sound: ``python -m tests.bench_voice_out [--language en] [--voice auto] [--folder PLACE]``.

Sentences made anew, the same ones said before, and one said before in the first moment of a new process that has loaded
no voice: without its start and imports, and with them. Times are from text to samples, in milliseconds; the
loudspeaker's own delay is not in them.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from bot.say import fixed_sentences
from engine.data.forms import load_forms
from engine.data.languages import LANGUAGES
from speech.synthesis.phrase_cache import PhraseCache
from speech.synthesis.voices import choose

NEW_PROCESS = """
import sys, time
from pathlib import Path
from speech.synthesis.voices import choose
began = time.perf_counter()
voice = choose(sys.argv[1], sys.argv[2], Path(sys.argv[3]) if sys.argv[3] else None,
               by_espeak=sys.argv[6], cache=Path(sys.argv[4]))
voice.speak(sys.argv[5])
print(1e3 * (time.perf_counter() - began))
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--language", choices=LANGUAGES, default="en")
    parser.add_argument("--voice", choices=("auto", "piper", "espeak-ng"), default="auto")
    parser.add_argument("--folder", type=Path, help="folder of Piper voices")
    parser.add_argument("--sentences", type=int, default=40)
    parser.add_argument("--starts", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as cache:
        by_espeak = load_forms(given.language).speech.voice
        voice = choose(given.language, given.voice, given.folder, by_espeak=by_espeak, cache=Path(cache))
        if voice is None:
            raise SystemExit(f"nothing here speaks {given.language!r} with {given.voice}")
        sentences = fixed_sentences(given.language)[: given.sentences]
        voice.voice.speak(sentences[0])
        fresh, sound = _fresh(voice, sentences)
        kept = [_milliseconds(lambda said=said: voice.speak(said)) for said in sentences]  # type: ignore[misc]
        place = [given.language, given.voice, str(given.folder or ""), cache, sentences[0], by_espeak]
        starts = [_started(place) for _ in range(given.starts)]
    about = {"voice": voice.identity, "sentences": len(sentences), "sound_s": round(sound, 1)}
    inside, whole = zip(*starts, strict=True)
    times = {"made": fresh, "kept": kept, "kept, new process": inside, "kept, new process with imports": whole}
    print(json.dumps(about | {name: _told(taken) for name, taken in times.items()}, indent=2))


def _fresh(voice: PhraseCache, sentences: Sequence[str]) -> tuple[list[float], float]:
    """Times of sentences made anew, and the seconds of sound they give."""
    times = [_milliseconds(lambda said=said: voice.speak(said)) for said in sentences]  # type: ignore[misc]
    return times, sum(voice.speak(said).duration_s for said in sentences)


def _milliseconds(act: Callable[[], object]) -> float:
    began = time.perf_counter()
    act()
    return 1e3 * (time.perf_counter() - began)


def _started(place: Sequence[str]) -> tuple[float, float]:
    """A sentence from the cache in a process of its own: inside of it, and with its start and end."""
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", NEW_PROCESS, *place], capture_output=True, text=True, check=True)
    return float(done.stdout), 1e3 * (time.perf_counter() - began)


def _told(taken: Sequence[float]) -> dict[str, float]:
    middle, most = np.quantile(taken, [0.5, 0.95])
    return {"p50_ms": round(float(middle), 1), "p95_ms": round(float(most), 1), "max_ms": round(max(taken), 1)}


if __name__ == "__main__":
    main()
