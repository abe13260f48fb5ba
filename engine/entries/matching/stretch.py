"""From when to when: "we had lunch from noon to one", "row five was plugged from ten past one to half past one"."""

from __future__ import annotations

from collections.abc import Iterator

from engine.clock import ClockTime, Moment
from engine.entries.matching.clock_phrases import moment_of
from engine.entries.matching.match_context import MatchContext
from engine.entries.phrases.match import Match
from engine.entries.phrases.phrase import Phrases
from engine.messages import Report, Reported

BEFORE_THE_HOUR = frozenset({5, 10})
"""In "from ten to one" they may be minutes before the hour."""


class Stretches:
    """Finds what is over by when it is told: pauses of the planter, and rows that fed wrong meanwhile."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary

    def told(self, start: int) -> Iterator[tuple[int, Reported]]:
        """Every such pause that begins at a token, with the token after it; its times may stand before what it was."""
        if Report.PAUSED not in self.hearing.expectation.reports:
            return
        phrases = (*self.words.reports[Report.PAUSED], *self.words.stood)
        for match in self.hearing.find(phrases, start):
            place = self.hearing.after_breaks(match.end)
            for end, since, until in (*self._times(place), *self._between(place)):
                yield end, self._pause(start, end, since, until)
        for place, since, until in self._times(start):
            for match in self.hearing.find(phrases, self.hearing.after_breaks(place)):
                yield match.end, self._pause(start, match.end, since, until)

    def of_rows(self, phrases: Phrases, start: int) -> Iterator[tuple[int, Match, Moment, Moment]]:
        """Phrases about rows with from when to when that was: the token after it, the phrase, both moments."""
        for match in self.hearing.find(phrases, start):
            for end, since, until in self._times(self.hearing.after_breaks(match.end)):
                yield end, match, since, until
        for place, since, until in self._times(start):
            for match in self.hearing.find(phrases, self.hearing.after_breaks(place)):
                yield match.end, match, since, until

    def _pause(self, start: int, end: int, since: Moment, until: Moment) -> Reported:
        said = self.hearing.said(start, end)
        return Reported(report=Report.PAUSED, when=since, until=until, said=said)

    def _times(self, start: int) -> Iterator[tuple[int, Moment, Moment]]:
        for begin in {match.end for match in self.hearing.find(self.words.times.starts, start)}:
            yield from self._between(begin)

    def _between(self, start: int) -> Iterator[tuple[int, Moment, Moment]]:
        for place, since in self._clocks(start):
            for after in {match.end for match in self.hearing.find(self.words.times.ends, place)}:
                yield from ((end, since, until) for end, until in self._clocks(after))

    def _clocks(self, start: int) -> Iterator[tuple[int, ClockTime]]:
        found = {(match.end, moment_of(match.captures)) for match in self.hearing.find(self.words.times.within, start)}
        return ((end, moment) for end, moment in found if isinstance(moment, ClockTime))


def is_plain(told: Reported) -> bool:
    """Whether its times can be read in this way alone."""
    first = told.when
    return not (isinstance(first, ClockTime) and first.minute == 0 and first.hour in BEFORE_THE_HOUR)
