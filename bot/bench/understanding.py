"""``rowhand bench understanding``: what is understood of utterances that nobody wrote the vocabulary for.

Each case of a suite is said at its place of a conversation, in memory, and what was kept is compared.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from bot.bench.judging import CaseOutcome, Grade, judge
from bot.bench.suite import Suite, UtteranceCase, load_suite
from bot.bench.suite_stage import SuiteStage
from engine.data.languages import Language
from engine.errors import RowhandError

USAGE_EXIT = 2


@dataclass(frozen=True)
class CaseResult:
    """One case with its class; ``seconds`` are those of reading and taking the turn."""

    case: UtteranceCase
    judged: Grade
    outcome: CaseOutcome
    seconds: float

    @property
    def kept(self) -> dict[str, Any]:
        return {f"{slot}/{row}" if row else slot: value for (slot, row), value in self.outcome.kept.items()}

    def as_json(self) -> dict[str, Any]:
        return {
            "context": self.case.context,
            "said": self.case.said,
            "judged": self.judged.value,
            "kept": self.kept,
            "noted": self.outcome.noted,
            "skipped": self.outcome.skipped,
            "reply": self.outcome.reply,
        }


def results(suite: Suite, language: Language) -> Iterator[CaseResult]:
    """Every case of a suite, judged."""
    stage = SuiteStage(suite, language)
    for case in suite.cases:
        place = stage.place(case.context)
        begun = time.perf_counter()
        outcome = CaseOutcome(stage.say(place, case.said))
        yield CaseResult(case, judge(case, outcome), outcome, time.perf_counter() - begun)


def understanding(
    suites: Annotated[list[Path], typer.Argument(help="files of utterances", exists=True, dir_okay=False)],
    places: Annotated[Path | None, typer.Option(help="a file with contexts that the suites share")] = None,
    language: Annotated[str | None, typer.Option(help="where a suite does not name its own")] = None,
    every: Annotated[bool, typer.Option("--every", help="a line for each case")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="one object a line")] = False,
) -> None:
    """Measure what is understood of utterances: right, asked, not understood, kept wrong."""
    try:
        for path in suites:
            suite = load_suite(path, places)
            _print(path, list(results(suite, suite.language or language or "en")), every, as_json)
    except RowhandError as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(USAGE_EXIT) from error


def _print(path: Path, found: list[CaseResult], every: bool, as_json: bool) -> None:
    for one in found if every else ():
        typer.echo(json.dumps(one.as_json(), ensure_ascii=False) if as_json else _line(one))
    for context in sorted({one.case.context for one in found}):
        _total(path, context, [one for one in found if one.case.context == context], as_json)
    _total(path, None, found, as_json)


def _line(one: CaseResult) -> str:
    reply = one.outcome.reply.replace("\n", " / ")[:160]
    told = f"{one.kept or ''} {one.outcome.noted or ''}"
    return f"{one.judged:15}[{one.case.context}] {one.case.said!r} -> {told} | {reply!r}"


def _total(path: Path, context: str | None, found: list[CaseResult], as_json: bool) -> None:
    counts = Counter(one.judged for one in found)
    slowest = sorted(one.seconds for one in found)[min(len(found) - 1, int(0.95 * len(found)))] if found else 0.0
    figures = {str(judged): counts[judged] for judged in Grade}
    if as_json:
        row = {
            "suite": path.name,
            "context": context,
            "cases": len(found),
            **figures,
            "p95_ms": round(1e3 * slowest, 1),
        }
        typer.echo(json.dumps(row, ensure_ascii=False))
    else:
        told = ", ".join(f"{name.replace('_', ' ')} {count}" for name, count in figures.items())
        typer.echo(f"{path.name} {context or 'all'}: {len(found)} cases, {told}, p95 {1e3 * slowest:.0f} ms")
