"""Suites of utterances as data: what is said at which place of a job, and what must come of it.

A context is reached by named answers, ``{through: [set-up], open: test-run, at: dial_setting}``, or by lines after
those of another context, ``[+rows, eight]`` or ``{base: shift, say: [row five stopped], later: 41}``.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, ConfigDict, Field

from engine.data.definitions import read_definition
from engine.data.languages import Language
from engine.frozen_model import FrozenModel

SPOKEN = {"english": "en", "spanish": "es"}
"""How a suite names the language that somebody wants to go on in."""


class _Part(FrozenModel):
    model_config = ConfigDict(populate_by_name=True)


class Context(_Part):
    """A place in a conversation.

    ``through`` are dialogs answered to their end, ``open`` one that is answered up to where ``at`` is asked (to its
    end where nothing is). ``base`` is a context to begin with, ``say`` are lines after all that. ``later`` are
    minutes since the evening began.
    """

    base: str | None = None
    through: tuple[str, ...] = ()
    open: str | None = None
    at: str | None = None
    answers: Mapping[str, str] = {}
    say: tuple[str, ...] = ()
    later: float | None = None


def _context(data: Any) -> Any:
    if not isinstance(data, list):
        return data
    lines = [str(line) for line in data]
    base = lines[0][1:] if lines and lines[0].startswith("+") else None
    return {"base": base, "say": lines[1:] if base else lines}


def _texts(data: Any) -> Any:
    return [str(one) for one in data] if isinstance(data, list) else (str(data),)


Texts = Annotated[tuple[str, ...], BeforeValidator(_texts)]


class UtteranceCase(_Part):
    """One utterance with what must come of it; see ``bot.bench.judging`` for how it is judged.

    ``keep`` are values as ``slot[/rows] value``, ``alt`` others that are right; ``report`` and ``reports`` as
    ``kind[/rows] [value]``; ``skip`` a slot that is skipped; ``undo`` where the last thing is taken back; ``none``
    where nothing may be kept; ``reply`` and ``says`` are patterns of the reply; with ``ask`` a question is as good.
    ``asks`` is a topic that is asked about, ``does`` a command, ``opens`` a dialog, ``leaves`` rows left out.
    """

    context: str = Field(alias="c")
    said: Annotated[str, BeforeValidator(str)] = Field(alias="s")
    keep: Texts = ()
    alt: Texts = ()
    report: str | None = None
    reports: Texts = ()
    altreport: str | None = None
    skip: str | None = None
    undo: bool = False
    none: bool = False
    ask: bool = False
    reply: str | None = None
    says: str | None = None
    asks: str | None = None
    does: str | None = None
    opens: str | None = None
    yes: bool | None = None
    leaves: str | None = None
    takes_in: str | None = None

    @property
    def wanted_reports(self) -> tuple[str, ...]:
        return self.reports or ((self.report,) if self.report else ())


class Taught(_Part):
    """Many ways to say one thing at some places: ``means`` is the meaning that is learned from them."""

    places: tuple[str, ...] = Field(alias="at")
    means: str
    lines: Texts


class Suite(_Part):
    """``answers`` are said to whatever is asked on the way to a context, by slot; without one it is skipped."""

    language: Language | None = None
    opens: Mapping[str, str] = {}
    answers: Mapping[str, str] = {}
    contexts: dict[str, Annotated[Context, BeforeValidator(_context)]] = {}
    cases: tuple[UtteranceCase, ...] = ()
    lessons: tuple[Taught, ...] = ()


def load_suite(path: Path, places: Path | None = None) -> Suite:
    """A suite, with the contexts of ``places`` beside its own; DefinitionError says what in a file is wrong."""
    suite = read_definition(path).into(Suite)
    if places is None:
        return suite
    shared = read_definition(places).into(Suite)
    return suite.model_copy(
        update={
            "language": suite.language or shared.language,
            "opens": {**shared.opens, **suite.opens},
            "answers": {**shared.answers, **suite.answers},
            "contexts": {**shared.contexts, **suite.contexts},
        }
    )
