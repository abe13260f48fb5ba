"""How long replies take to be said: ``python -m tests.bench_aloud [--language en] [--voice espeak-ng] [--most 5]``.

Every golden conversation of the language is played, and each reply spoken by the real voice: verdicts of test runs with
what is read back before them and asked behind; ``verdict alone``; what is answered to "help"; and all others. The
longest of each are shown with their text. Durations are of the sound, in seconds.
"""

from __future__ import annotations

import argparse
import json
import re
import statistics
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import dropwhile
from pathlib import Path
from typing import Any

import yaml

from engine.data.forms import load_forms
from engine.data.languages import LANGUAGES
from engine.dialog.reply.speech_text import aloud
from engine.history.store.journal import StoredTurn
from engine.messages import System
from speech.synthesis.phrase_cache import PhraseCache
from speech.synthesis.voices import choose
from tests.helpers.talking import Conversation, beginnings

IN_TURN = re.compile(r": (\w[\w ]*, ){2,}")
"""A line that reads several rows back in one breath."""
CONVERSATIONS = Path(__file__).parent / "conversations"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--language", choices=LANGUAGES, default="en")
    parser.add_argument("--voice", choices=("auto", "piper", "espeak-ng"), default="espeak-ng")
    parser.add_argument("--most", type=int, default=5, help="how many of the longest to show of each kind")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        by_espeak = load_forms(given.language).speech.voice
        voice = choose(given.language, given.voice, by_espeak=by_espeak, cache=Path(folder) / "said")
        if voice is None:
            raise SystemExit(f"nothing here speaks {given.language!r} with {given.voice}")
        said = _said(given.language, Path(folder))
        told = {kind: _told(texts, voice, given.most) for kind, texts in sorted(said.items())}
    print(json.dumps({"voice": voice.identity} | told, indent=2, ensure_ascii=False))


def _said(language: str, folder: Path) -> Mapping[str, Sequence[str]]:
    """The spoken texts of every golden conversation, by kind."""
    said: dict[str, list[str]] = defaultdict(list)
    for path in sorted(CONVERSATIONS.glob("*.yaml")):
        script = yaml.safe_load(path.read_text(encoding="utf-8"))
        if script["language"] == language:
            for text, turn in _turns(script, folder / f"{path.stem}.db"):
                for kind, spoken in _kinds(text, turn, language):
                    said[kind].append(spoken)
    return said


def _turns(script: Mapping[str, Any], database: Path) -> Iterator[tuple[str, StoredTurn]]:
    talk = Conversation(database, script["language"], System(script.get("system", "us")))
    for name in script.get("begins", ()):
        for text in beginnings()[name]:
            yield text, talk.say(text)
    for turn in script["turns"]:
        talk.wait(turn.get("wait", 0))
        if "say" in turn:
            yield turn["say"], talk.say(turn["say"], turn.get("heard"))


def _kinds(text: str, turn: StoredTurn, language: str) -> Iterator[tuple[str, str]]:
    reply = turn.reply
    judged = any(fact["kind"] == "computed" and fact["formula"] == "judge-run" for fact in turn.facts)
    kind = "verdict" if judged else "help" if text in ("help", "ayuda") else "other"
    yield kind, reply.speech
    if judged:
        yield "verdict alone", _verdict(turn, language)


def _verdict(turn: StoredTurn, language: str) -> str:
    """The verdict without the values read back in the lines above its title, and without the question at the end."""
    shown, said = turn.reply.text.splitlines(), turn.reply.speech.splitlines()
    above = next((place for place, line in enumerate(shown) if line.endswith("):")), 0)
    read_back = {aloud(line, language) for line in shown[:above]}
    told = dropwhile(lambda line: line in read_back or IN_TURN.search(line), said[:-1])
    return "\n".join(told)


def _told(texts: Sequence[str], voice: PhraseCache, most: int) -> dict[str, Any]:
    taken = sorted(((voice.speak(text).duration_s, text) for text in dict.fromkeys(texts)), reverse=True)
    seconds = [second for second, _ in taken]
    return {
        "replies": len(seconds),
        "median_s": round(statistics.median(seconds), 1),
        "longest_s": round(max(seconds), 1),
        "longest": [f"{second:.1f} s: {text}" for second, text in taken[:most]],
    }


if __name__ == "__main__":
    main()
