"""How long a typed line takes to be read, with 24 rows, and that none of many random ones hangs or fails.

``python -m tests.bench_reading --lines 10000 --seed 1``: words, numbers and marks of the suites in any order, each said
at one of the places of a job. One object a language.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from pathlib import Path

from bot.bench.suite import load_suite
from bot.bench.suite_stage import SuiteStage

UTTERANCES = Path(__file__).parent / "utterances"
PLACES = ("rows", "dial", "product", "rate", "check", "dial_setting", "catch3", "doubtful", "verdict", "lot", "field",
          "in_use", "loaded", "shift", "stopped", "refilled", "paused", "ended", "away", "locked")  # fmt: skip
ROWS = {"en": "twenty four", "es": "veinticuatro"}
STRANGE = [
    "?",
    ",",
    ".",
    "-",
    "/",
    "'",
    '"',
    "%",
    "½",
    "🚜",
    "\u202e",
    "\x00",
    "999999999999",
    "0.0000001",
    "1/0",
    "-5",
    "1e9",
    "ñ",
    "ﬁ",
]
MOST_WORDS = 40


def words(language: str) -> list[str]:
    suites = sorted((UTTERANCES / language).glob("round-*.yaml"))
    return [word for path in suites for case in load_suite(path).cases for word in case.said.split()]


def lines(language: str, count: int, seed: int) -> list[str]:
    chance = random.Random(seed)
    known = words(language)
    return [
        " ".join(
            chance.choice(STRANGE if chance.random() < 0.1 else known) for _ in range(chance.randint(1, MOST_WORDS))
        )
        for _ in range(count)
    ]


def measured(language: str, count: int, seed: int) -> dict[str, object]:
    """Milliseconds of a reading and its turn."""
    suite = load_suite(UTTERANCES / language / "contexts.yaml")
    wide = suite.model_copy(update={"answers": {**suite.answers, "rows": ROWS[language]}})
    stage, chance = SuiteStage(wide, language), random.Random(seed)
    for name in PLACES:
        stage.place(name)
    took = []
    for line in lines(language, count, seed):
        place = stage.place(chance.choice(PLACES))
        begun = time.perf_counter()
        stage.say(place, line)
        took.append(1e3 * (time.perf_counter() - begun))
    took.sort()
    share = {name: round(took[min(count - 1, int(part * count))], 1) for name, part in (("p50", 0.5), ("p95", 0.95))}
    return {"language": language, "lines": count, "rows": 24, **share, "longest": round(took[-1], 1)}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--lines", type=int, default=10000)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    for language in ROWS:
        print(json.dumps(measured(language, chosen.lines, chosen.seed)))


if __name__ == "__main__":
    main()
