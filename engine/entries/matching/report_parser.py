"""Reports of a shift in a text: rows said in any way, with weights, shares, speeds, times, lots and names."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from engine.clock import Moment
from engine.entries.matching.clock_phrases import Clocks, Stretches, is_plain
from engine.entries.matching.match_context import MatchContext, total
from engine.entries.matching.matcher import Hook
from engine.entries.matching.reporting import reported, size
from engine.entries.matching.row_numbers import number_of, numerals, row_list, row_numbers
from engine.entries.phrases.match import Capture, Match, Matches, captured
from engine.entries.phrases.phrase import Phrases
from engine.messages import Report, Reported
from engine.quantities import Dimension, Measure

AMOUNTS: Mapping[str, tuple[Dimension, ...]] = {
    "weight": (Dimension.MASS,),
    "pace": (Dimension.SPEED,),
    "dose": (Dimension.AREA_RATE, Dimension.ROW_RATE),
    "span": (Dimension.TIME,),
}
"""Rules for amounts whose unit is said, by what they measure."""

TIMED = frozenset(
    {Report.STOPPED, Report.HIGH, Report.RUNS, Report.REFILLED, Report.PAUSED, Report.WENT_ON}
    | {Report.HANDED_OVER, Report.ENDED}
)
"""Reports of something whose moment may be said with it."""
LENDING = frozenset({Report.LEFT, Report.CAUGHT})
"""Reports whose unit holds for the rows that are said after it."""
MOST_LOT, MOST_NAME = 12, 5


@dataclass(frozen=True)
class ReportPiece:
    """One report and the token after it, with ``more`` that it lends its unit; of several readings the one of the
    lowest ``rank`` counts."""

    end: int
    entry: Reported
    more: tuple[Reported, ...] = ()
    rank: int = 0


class ReportParser:
    """Finds the reports that are expected in a text."""

    def __init__(self, hearing: MatchContext) -> None:
        self.hearing = hearing
        self.words = hearing.vocabulary
        self._rule = hearing.matcher.rule
        self.clocks = Clocks(hearing)
        self.stretches = Stretches(hearing)
        hearing.matcher.hooks |= {
            "some": self._some,
            "share": self._share,
            "each": self._flag("each", self.words.each, True),
            "together": self._flag("together", self.words.together, True),
            "to_mark": self._flag("full", self.words.to_mark, True),
            "topped": self._flag("full", self.words.topped, True),
            "refills_only": self._flag("value", self.words.refills_only, "refills"),
            "once_between": self._flag("value", self.words.once_between, "once"),
            "on_top": self._flag("full", self.words.on_top, False),
            "lot_number": self._lot,
            "called": self._called,
            **{name: partial(self._measured, name, dimensions) for name, dimensions in AMOUNTS.items()},
        }

    def reports(self, start: int) -> Iterator[ReportPiece]:
        """Every report that begins at a token, with the moment that was said before or after it."""
        for report in self.hearing.expectation.reports:
            for told in self._plain(report, start):
                yield told
                yield from self._lent(start, told)
                if report in TIMED:
                    yield from self._dated(told, start)
        for end, pause in self.stretches.told(start):
            yield ReportPiece(end, pause, rank=-1 if is_plain(pause) else 0)
        yield from self._out(start)
        timed = [one for one in self.hearing.expectation.reports if one in TIMED]
        for place, moment in self.clocks.moments(start) if timed else ():
            for report in timed:
                for told in self._plain(report, self.hearing.after_breaks(place)):
                    yield replace(self._with(told, start, told.end, moment), rank=1)

    def _out(self, start: int) -> Iterator[ReportPiece]:
        """Rows that fed wrong from one time to another: they are told, not a pause of the planter."""
        wrong = {Report.STOPPED: (*self.words.reports[Report.STOPPED], *self.words.was_out)}
        wrong[Report.HIGH] = self.words.reports[Report.HIGH]
        for report, phrases in wrong.items():
            if report not in self.hearing.expectation.reports:
                continue
            for end, match, since, until in self.stretches.of(phrases, start):
                entry = reported(report, match, self.hearing.said(start, end), set(self.hearing.every_row))
                if entry is not None and (entry.rows or entry.rest):
                    yield ReportPiece(end, entry.model_copy(update={"when": since, "until": until}), rank=-1)

    def _plain(self, report: Report, start: int) -> Iterator[ReportPiece]:
        phrases = self.words.reports_by_key.at(self.hearing.key(start)).get(report, ())
        matches = [*self.hearing.find(phrases, start)]
        every = set(self.hearing.every_row) if matches else set()
        for match in matches:
            entry = reported(report, match, self.hearing.said(start, match.end), every)
            if entry is not None and entry.when is not None and not self._is_whole(start, match.end):
                continue
            if entry is not None and size(match) == max(size(one) for one in matches if one.end == match.end):
                yield ReportPiece(match.end, entry, rank=int(entry.area is not None))

    def _is_whole(self, start: int, end: int) -> bool:
        """A look put off to a time of day is told alone: beside another report a time is when that happened."""
        return start == 0 and self.hearing.after_breaks(end) == len(self.hearing.tokens)

    def _dated(self, told: ReportPiece, start: int) -> Iterator[ReportPiece]:
        for end, moment in self.clocks.moments(self.hearing.after_breaks(told.end)):
            yield self._with(told, start, end, moment)

    def _with(self, told: ReportPiece, start: int, end: int, moment: Moment) -> ReportPiece:
        changes = {"when": moment, "said": self.hearing.said(start, end)}
        return ReportPiece(end, told.entry.model_copy(update=changes))

    def _lent(self, start: int, told: ReportPiece) -> Iterator[ReportPiece]:
        """The same of rows after it whose numbers have no unit of their own: "row one 24 pounds left, row two 25"."""
        units = (place for place in range(start, told.end) if self._rule("measured_in", place))
        if told.entry.report not in LENDING or len(tuple(units)) != 1:
            return
        after = self._next_lent(told)
        while after is not None:
            yield after
            after = self._next_lent(after)

    def _next_lent(self, told: ReportPiece) -> ReportPiece | None:
        start = self.hearing.after_joins(told.end)
        matches = [*self.hearing.find(self.words.lent, start)] if start > told.end else []
        for match in sorted(matches, key=lambda one: -one.end):
            entry = self._as_before(told.entry, match, self.hearing.said(start, match.end))
            if entry is not None and not self._is_row(start, match):
                return replace(told, end=match.end, more=(*told.more, entry))
        return None

    def _is_row(self, start: int, match: Match) -> bool:
        """Whether all of it may be a row and nothing else, as in "row twenty two"."""
        return any(one.end >= match.end for one in (*self._rule("row", start), *self._rule("rows", start)))

    def _as_before(self, told: Reported, match: Match, said: str) -> Reported | None:
        entry = reported(told.report, match, said, set(self.hearing.every_row))
        if not numerals(match.captures) or entry is None or not isinstance(told.value, Measure):
            return None
        value = Measure(value=number_of(match), unit=told.value.unit)
        named = any(name in ("row", "rows") for name, _ in match.captures)
        return entry.model_copy(update={"value": value, "rest": not named})

    # ---- rules

    def _some(self, start: int) -> Matches:
        """Rows with their noun, or bare numbers: "five and seven"."""
        loose = [*self.hearing.find(self.words.rows.loose, start)]
        single = row_numbers(match for match in loose if len(numerals(match.captures)) == 1)
        return (
            *self._rule("row", start),
            *self._rule("rows", start),
            *single,
            *(one for match in loose for one in row_list(match)),
            *captured("rest", True, self.hearing.find(self.words.rows.rest, start)),
        )

    def _share(self, start: int) -> Matches:
        """A level as a share of a full hopper: a word for it, or percent."""
        levels = ((one.end, Measure(value=100 * number_of(one), unit="%")) for one in self._rule("level", start))
        words = (Match(end, (Capture("share", level),)) for end, level in levels)
        return (*words, *self._measured("share", (Dimension.RATIO,), start))

    def _flag(self, name: str, phrases: Phrases, value: bool | str) -> Hook:
        """A word that says how an amount is meant, under the name of what it says."""
        return lambda start: captured(name, value, self.hearing.find(phrases, start))

    def _measured(self, name: str, dimensions: tuple[Dimension, ...], start: int) -> Matches:
        if self._rule("point", start) and self._ends_number(start):
            return ()
        return tuple(
            Match(end, (Capture(name, measure),))
            for end, amount in self.hearing.amounts(start)
            if not amount.unsaid and (measure := total(amount, dimensions)) is not None
        )

    def _ends_number(self, end: int) -> bool:
        """Whether a number may end here, so that a point behind it is within that number."""
        starts = range(max(0, end - MOST_LOT), end)
        return any(match.end == end for start in starts for match in self._rule("number", start))

    def _lot(self, start: int) -> Matches:
        """Digits and letters said or typed one after another: "four four seven" is 447."""
        found: list[Match] = []
        said = ""
        for place in range(start, min(start + MOST_LOT, len(self.hearing.tokens))):
            sign = self._sign(place)
            if sign is None:
                break
            said += sign
            found.append(Match(place + 1, (Capture("lot", said),)))
        return tuple(found)

    def _sign(self, place: int) -> str | None:
        token = self.hearing.tokens[place]
        if token.key == "-":
            return ""
        digits = {one.digits for match in self._rule("digit", place) for one in numerals(match.captures)}
        if len(digits) == 1:
            return digits.pop()
        is_code = token.is_number or len(token.text) == 1 or token.text.isupper() or self._is_glued(place)
        return token.text.upper() if is_code and token.text.isalnum() else None

    def _is_glued(self, place: int) -> bool:
        """Whether letters stand right beside a number, as in ab12."""
        tokens = self.hearing.tokens
        pairs = ((at, at + 1) for at in (place - 1, place) if 0 <= at < len(tokens) - 1)
        return any(
            tokens[one].end == tokens[two].start and (tokens[one].is_number or tokens[two].is_number)
            for one, two in pairs
        )

    def _called(self, start: int) -> Matches:
        """A name: words up to the next mark, or up to when it was."""
        found: list[Match] = []
        for place in range(start, min(start + MOST_NAME, len(self.hearing.tokens))):
            if self.hearing.tokens[place].is_break or (place > start and any(self.clocks.moments(place))):
                break
            if self.hearing.tokens[place].key in self.words.naming.talk or "?" in self.hearing.text:
                break
            if not self._is_command(start, place + 1) and not self._is_link(start):
                found.append(Match(place + 1, (Capture("called", self.hearing.said(start, place + 1)),)))
        return tuple(found)

    def _is_link(self, start: int) -> bool:
        """Whether a word only leads to a name, as in "next field is West"."""
        return any(match.end == start + 1 for match in self._rule("link", start))

    def _is_command(self, start: int, end: int) -> bool:
        """Whether words are no name, as in "field is done"."""
        commands = self.words.orders_by_key.at(self.hearing.key(start)).values()
        return any(end in self.hearing.ends(phrases, start) for phrases in commands)


def digits_of(hearing: MatchContext) -> str | None:
    """A whole text of two or more digits said one by one; None where it is anything else."""
    matches = [hearing.matcher.rule("digit", place) for place in range(len(hearing.tokens))]
    said = [{one.digits for match in found for one in numerals(match.captures)} for found in matches]
    if len(said) < 2 or any(len(one) != 1 for one in said):
        return None
    return "".join(one.pop() for one in said)
