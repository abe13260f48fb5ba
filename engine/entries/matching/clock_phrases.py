"""Moments in a text: "at ten past one", "since twenty to two", "twenty minutes ago", typed 1:10 or 0110; and from when
to when: "we had lunch from noon to one", "row five was plugged from ten past one to half past one"."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain

from engine.clock import Ago, ClockTime, Moment
from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.row_numbers import number_of, numerals
from engine.entries.phrases.match import Capture, Captures, Match, Matches, captured
from engine.entries.phrases.phrase import Phrases
from engine.messages import Report, Reported
from engine.quantities import Measure

NOON, DAY = 12, 24
HOUR = 60
_WHOLE = re.compile(r"[0-9]{1,2}")
_MINUTES = re.compile(r"[0-5][0-9]")
_DOTTED = re.compile(r"([0-9]{1,2})[.,]([0-5][0-9])")
_FOUR = re.compile(r"([0-2][0-9])([0-5][0-9])")
_IN_WORDS = {"clock_hour": False, "clock_named": True}
"""Rules for an hour in words, and whether it is plainly one of twenty-four."""
_BETWEEN = frozenset({":", "h"})
NIGHT_ENDS = 6
"""Up to this hour "at night" is after midnight."""
BEFORE_THE_HOUR = frozenset({5, 10})
"""In "from ten to one" they may be minutes before the hour."""


class Clocks:
    """Finds moments in a text; ``when`` is the rule for one."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary.times
        hearing.matcher.hooks |= {
            "hour": self._hour,
            "minute": self._minute,
            "past_hour": lambda start: self._number("minute", ("clock_past", "clock_minute", "written"), start),
            "to_hour": lambda start: self._number("before", ("clock_before", "clock_minute", "written"), start),
            "half_day": self._half,
            "typed_clock": self._typed,
            "length": self._length,
        }

    def moments(self, start: int) -> Iterator[tuple[int, Moment]]:
        """Every moment that begins at a token, with the token after it."""
        for match in self.hearing.find(self.words.said, start):
            moment = moment_of(match.captures)
            if moment is not None:
                yield match.end, moment

    # ---- rules

    def _hour(self, start: int) -> Matches:
        """An hour in words, with what it is called, or typed: whether it is plainly one of twenty-four goes along."""
        rule = self.hearing.matcher.rule
        found = [(match, plain) for name, plain in _IN_WORDS.items() for match in rule(name, start)]
        digits = [(match, numerals(match.captures)[0].digits) for match in rule("written", start)]
        found += [(match, _is_plain(one)) for match, one in digits if _WHOLE.fullmatch(one)]
        hours = ((match.end, int(number_of(match)), plain) for match, plain in found)
        return tuple(Match(end, _told(hour, plain)) for end, hour, plain in hours if hour <= DAY)

    def _minute(self, start: int) -> Matches:
        spoken = self._number("minute", ("clock_minute",), start)
        typed = self.hearing.tokens[start : start + 1]
        is_minute = bool(typed and _MINUTES.fullmatch(typed[0].text))
        return (*spoken, Match(start + 1, (Capture("minute", int(typed[0].text)),))) if is_minute else spoken

    def _number(self, name: str, rules: tuple[str, ...], start: int) -> Matches:
        found = (match for rule in rules for match in self.hearing.matcher.rule(rule, start))
        values = ((match.end, number_of(match)) for match in found)
        return tuple(Match(end, (Capture(name, int(one)),)) for end, one in values if one.is_integer() and one < HOUR)

    def _half(self, start: int) -> Matches:
        halves = self.words.halves.items()
        found = (captured("half_day", half, self.hearing.find(phrases, start)) for half, phrases in halves)
        return tuple(chain.from_iterable(found))

    def _typed(self, start: int) -> Matches:
        """1:10, 1.10, 13h10 and 0110."""
        keys = [token.key for token in self.hearing.tokens[start : start + 3]]
        if len(keys) == 3 and keys[1] in _BETWEEN and _WHOLE.fullmatch(keys[0]) and _MINUTES.fullmatch(keys[2]):
            return _typed_match(start + 3, keys[0], keys[2])
        one = (_DOTTED.fullmatch(keys[0]) or _FOUR.fullmatch(keys[0])) if keys else None
        return _typed_match(start + 1, one[1], one[2]) if one else ()

    def _length(self, start: int) -> Matches:
        lengths = ((Measure(value=float(one), unit="min"), said) for one, said in self.words.lengths.items())
        found = (captured("span", length, self.hearing.find(phrases, start)) for length, phrases in lengths)
        return tuple(chain.from_iterable(found))


def _is_plain(digits: str) -> bool:
    """Whether an hour in digits is one of twenty-four: 13 and 01, not 1."""
    return digits.startswith("0") or int(digits) > NOON


def _told(hour: int, plain: bool) -> Captures:
    return (Capture("hour", hour), *((Capture("plain", True),) if plain else ()))


def _typed_match(end: int, hour: str, minute: str) -> Matches:
    if int(hour) > DAY:
        return ()
    return (Match(end, (*_told(int(hour), _is_plain(hour)), Capture("minute", int(minute)))),)


def moment_of(captures: Captures) -> Moment | None:
    """The moment that a pattern found; None where its numbers are none of a clock."""
    found = dict(captures)
    match found:
        case {"span": Measure() as length}:
            return Ago(length=length.to("min"))
        case {"hour": int(hour)}:
            return _clock_time(hour, found)
        case _:
            return None


def _clock_time(hour: int, found: dict[str, object]) -> ClockTime | None:
    minute, before = found.get("minute", 0), found.get("before", 0)
    assert isinstance(minute, int)
    assert isinstance(before, int)
    half = found.get("half_day")
    twice = half is None and "plain" not in found
    if half is not None:
        if hour > NOON and half == "am":
            return None
        hour = _of_half(hour, str(half))
    total = hour * HOUR + minute - before
    total %= (NOON if twice else DAY) * HOUR
    return ClockTime(hour=total // HOUR, minute=total % HOUR, twice=twice)


def _of_half(hour: int, half: str) -> int:
    if hour > NOON:
        return hour
    after_noon = half == "pm" or (half == "night" and NIGHT_ENDS <= hour < NOON)
    return hour % NOON + (NOON if after_noon else 0)


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
        for end, _, since, until in self.of(phrases, start, unled=True):
            said = self.hearing.said(start, end)
            yield end, Reported(report=Report.PAUSED, when=since, until=until, said=said)

    def of(self, phrases: Phrases, start: int, unled: bool = False) -> Iterator[tuple[int, Match, Moment, Moment]]:
        """Phrases with from when to when that was: the token after it, the phrase, both moments. ``unled``: behind the
        phrase no word need lead to the first one."""
        for match in self.hearing.find(phrases, start):
            place = self.hearing.after_breaks(match.end)
            for end, since, until in (*self._times(place), *(self._between(place) if unled else ())):
                yield end, match, since, until
        for place, since, until in self._times(start):
            for match in self.hearing.find(phrases, self.hearing.after_breaks(place)):
                yield match.end, match, since, until

    def _times(self, start: int) -> Iterator[tuple[int, Moment, Moment]]:
        for begin in set(self.hearing.ends(self.words.times.starts, start)):
            yield from self._between(begin)

    def _between(self, start: int) -> Iterator[tuple[int, Moment, Moment]]:
        for place, since in self._clocks(start):
            for after in set(self.hearing.ends(self.words.times.ends, place)):
                yield from ((end, since, until) for end, until in self._clocks(after))

    def _clocks(self, start: int) -> Iterator[tuple[int, ClockTime]]:
        found = {(match.end, moment_of(match.captures)) for match in self.hearing.find(self.words.times.within, start)}
        return ((end, moment) for end, moment in found if isinstance(moment, ClockTime))


def is_plain(told: Reported) -> bool:
    """Whether its times can be read in this way alone."""
    first = told.when
    return not (isinstance(first, ClockTime) and first.minute == 0 and first.hour in BEFORE_THE_HOUR)
