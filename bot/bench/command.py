"""``rowhand bench``: the measurements, imported when one of them is run."""

from __future__ import annotations

import typer

from bot.extras import Extra
from bot.late import LatePlace, late

BENCHES = {
    "voice": LatePlace(
        "bot.bench.voice:voice",
        "Measure what is heard of recordings, in noise, and what is kept wrong.",
        extra=Extra.SPEECH,
    ),
    "conversation": LatePlace(
        "bot.bench.voice_runs:conversation",
        "Measure whole test runs by voice in noise, with an operator who listens and mends.",
        extra=Extra.SPEECH,
    ),
    "understanding": LatePlace(
        "bot.bench.understanding:understanding",
        "Measure what is understood of utterances: right, asked, not understood, kept wrong.",
    ),
    "learn": LatePlace("bot.bench.learning:learning", "Learn how meanings are told apart."),
    "turns": LatePlace(
        "bot.bench.turns:turns",
        "Measure what a typed turn takes beside a bare commit, where it goes, and how a long talk opens.",
    ),
    "reminders": LatePlace(
        "bot.bench.reminders:reminders",
        "Measure what a turn takes while many reminders wait, and how late those that are due leave.",
    ),
    "crowd": LatePlace(
        "bot.bench.crowd:crowd",
        "Measure how many updates a second the engine takes of many chats at once, beside bare commits.",
    ),
}

app = typer.Typer(cls=late(BENCHES), help="Measure what Rowhand can do.", no_args_is_help=True)
