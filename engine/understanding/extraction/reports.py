"""Reports of a shift from clauses: the rows, amounts, lots, names and moments that stand anywhere in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from engine.clock import ClockTime
from engine.entries.matching.report_parser import TIMED
from engine.entries.phrases.phrase import Phrases
from engine.messages import Report, Reported
from engine.quantities import Dimension
from engine.understanding.extraction.report_amounts import (
    MEASURED,
    ReportAmounts,
    lot_number,
    lot_of_refill,
    put_off,
    refill,
    said_in,
)
from engine.understanding.extraction.row_pairing import Pair, paired
from engine.understanding.extraction.told_names import name_told, person_told
from engine.understanding.scanning.spans import SpanKind, TextSpan, named_rows

OF_ROWS = frozenset({
    Report.STOPPED, Report.RUNS, Report.HIGH, Report.GOOD, Report.LEFT, Report.LEVEL, Report.REFILLED, Report.CAUGHT,
    Report.DROPPING,
})  # fmt: skip
"""Reports that say something of rows."""
ROWS_NEEDED = frozenset({Report.STOPPED, Report.RUNS, Report.HIGH, Report.CAUGHT})
"""Reports that mean nothing without their rows."""
TAKING = frozenset({*MEASURED, Report.REFILLED, Report.FIELD, Report.SNOOZED, Report.LEVEL})
"""Reports to which an amount belongs; beside any other it tells something more."""
ALONE = frozenset({Report.LOT, Report.PAUSED, Report.PRODUCT, Report.DECIDED, Report.HANDED_OVER})
"""Reports beside which a number may stand that tells nothing by itself: it is part of a name, or of a time."""
PEOPLE = frozenset({Report.HANDED_OVER, Report.DECIDED})
NAMED = frozenset({Report.HANDED_OVER, Report.FIELD, Report.PRODUCT, Report.DECIDED})


@dataclass(frozen=True)
class ToldReports:
    """Reports of one clause, and whether they are plainly what was said."""

    reports: tuple[Reported, ...]
    plain: bool


class Clauses(ReportAmounts):
    """Makes reports of clauses of one sentence."""

    def told(self, report: Report, spans: Sequence[TextSpan], excepted: tuple[int, ...] = ()) -> ToldReports | None:
        """The reports that a clause tells; None where it lacks what they need. ``excepted`` rows were taken out."""
        if report in (Report.LEFT, Report.LEVEL, Report.CAUGHT) or self._several(report, spans):
            return self._amounts(report, spans)
        rows, rest, listed = self.rows_in(spans) if report in OF_ROWS else ((), False, ())
        down, unnamed = self.hearing.expectation.down, not rows and not rest
        every = any(span.every for span in spans)
        if report is Report.DROPPING and len(down) == 1 and unnamed and not every:
            made = self.told(Report.RUNS, spans, excepted)
            return made and replace(made, plain=False)
        only_one = report in (Report.RUNS, Report.STOPPED) and unnamed and len(down) == 1 and not excepted
        rows = excepted if report in ROWS_NEEDED and excepted and unnamed else down if only_one else rows
        guessed = only_one and report is Report.STOPPED
        if not (rows or rest or every) and (hour := self._hour_as_row(report, spans)) is not None:
            rows, guessed = (hour,), True
        if report in ROWS_NEEDED and not (rows or rest or every):
            return None
        if not set(rows) <= set(self.rows):
            return None
        value, plain = self._value(report, spans, listed)
        nameless = report is Report.LOT and not self._says(self.words.loose.mentions[Report.LOT], spans)
        if value is None and (nameless or (report in MEASURED and report is not Report.REFILLED)):
            return None
        given: dict[str, object] = {"report": report, "rows": rows, "rest": rest and report is not Report.GOOD}
        given |= {"value": value, "said": said_in(self.hearing, spans)}
        given |= {name: told for name, told in self._more(report, spans).items() if told is not None}
        others = rest and report in (Report.STOPPED, Report.HIGH)
        amounts = sum(span.kind is SpanKind.AMOUNT for span in spans)
        strays = report is Report.REFILLED and len(self._said_in(spans)) > amounts
        told = (span for span in spans if span.is_value and span not in listed and span.key != "<time>")
        unused = report not in TAKING | ALONE and any(told)
        sure = report not in PEOPLE or given["value"] is None or not self._is_lower(str(given["value"]))
        plain = plain and sure and not (guessed or unused or others or strays)
        return ToldReports((Reported.model_validate(given),), plain)

    def _is_lower(self, name: str) -> bool:
        """Whether a name was told in small letters and never before."""
        return name == name.lower() and name not in self.hearing.expectation.names.get(Report.HANDED_OVER, ())

    def _hour_as_row(self, report: Report, spans: Sequence[TextSpan]) -> int | None:
        """A row that looked like an hour: "le puse una bolsa a la 1"."""
        if report not in OF_ROWS or report is Report.GOOD:
            return None
        hours = [span.moment for span in spans if span.kind is SpanKind.MOMENT]
        moment = hours[0] if len(hours) == 1 else None
        plain = isinstance(moment, ClockTime) and moment.minute == 0 and moment.twice and moment.hour in self.rows
        return moment.hour if plain and isinstance(moment, ClockTime) else None

    def _several(self, report: Report, spans: Sequence[TextSpan]) -> bool:
        """Whether hoppers were refilled with amounts of their own."""
        if report is not Report.REFILLED or sum(span.is_value for span in spans) < 2:
            return False
        amounts = (span for span in spans if span.kind is SpanKind.AMOUNT)
        told = (span for span in spans if span.is_value or span.kind is SpanKind.ROWS)
        listed = [after.kind is SpanKind.NUMBER for one, after in pairwise(told) if one.rows]
        masses = any(self.of(span, (Dimension.MASS,)) is not None for span in amounts)
        return masses or (len(listed) > 1 and all(listed))

    # ---- rows

    def rows_in(self, spans: Sequence[TextSpan]) -> tuple[tuple[int, ...], bool, tuple[TextSpan, ...]]:
        """The rows of a clause (none for all of them), whether it is said of the rest, and the bare numbers taken."""
        named = named_rows(spans)
        if but := [span for span in named if span.key == "<all-but>"]:
            return but[0].rows, False, ()
        if any(span.rest for span in named):
            return (), True, ()
        if any(span.every for span in named) and len(named) == 1:
            return (), False, ()
        counted = (*self.words.loose.bags, *self.words.loose.counted)
        follow = zip(spans, (*(span.key for span in spans[1:]), ""), strict=False)
        bare = tuple(span for span, after in follow if span.is_one_of(len(self.rows)) and after not in counted)
        taken = bare if not self._measures(spans) else ()
        rows = tuple(sorted({row for span in (*named, *taken) if not span.every for row in span.named}))
        return (() if rows == self.rows else rows), False, taken

    def _measures(self, spans: Sequence[TextSpan]) -> bool:
        """Whether rows are named by their noun, so that bare numbers are something else."""
        named = any(span.kind is SpanKind.ROWS and not span.every for span in spans)
        return named and any(span.kind is SpanKind.NUMBER and span.row is None for span in spans)

    # ---- amounts

    def _amounts(self, report: Report, spans: Sequence[TextSpan]) -> ToldReports | None:
        """One report for each amount, with the rows it is said of."""
        with_unit = any(span.kind is SpanKind.AMOUNT and self._measure(report, span) is not None for span in spans)

        def is_value(span: TextSpan) -> bool:
            is_row = with_unit and span.is_one_of(len(self.rows))
            return not is_row and self._measure(report, span) is not None

        parted = [span for span in spans if span.kind is not SpanKind.BREAK or span.end > span.start]
        pairing = paired(parted, is_value, self.words.loose.on_words, len(self.rows))
        made: list[Reported] = []
        pairs = self._in_order(self._with_only_row(pairing.pairs, spans))
        bare = any(pair.bare for pair in pairs)
        named = any(span.kind is SpanKind.ROWS and not span.every for span in spans)
        plain = (not pairing.lost or pairs != pairing.pairs) and (not bare or (len(pairs) == 1 and not named))
        plain = plain and (with_unit or not bare or report is Report.LEVEL)
        each = report in (Report.REFILLED, Report.LEFT) and self._says(self.words.each, spans)
        for pair in pairs:
            value = self._measure(report, pair.value)
            rows = () if pair.every or set(pair.rows) == set(self.rows) else pair.rows
            if (report is Report.CAUGHT and not rows) or not set(rows) <= set(self.rows):
                return None
            first, last = pair.spans[0], pair.spans[-1]
            said = self.hearing.said(min(first.start, last.start), max(first.end, last.end))
            made.append(Reported(report=report, rows=rows, rest=pair.rest, value=value, said=said, each=each))
        return ToldReports(tuple(made), plain) if made else None

    def _in_order(self, pairs: Sequence[Pair]) -> Sequence[Pair]:
        """As many amounts as there are rows, without any row named, are of the rows in their order."""
        if len(pairs) != len(self.rows) or not all(pair.bare for pair in pairs):
            return pairs
        return [replace(pair, rows=(row,)) for pair, row in zip(pairs, self.rows, strict=True)]

    def _with_only_row(self, pairs: Sequence[Pair], spans: Sequence[TextSpan]) -> Sequence[Pair]:
        """A single amount is of the single row that is named anywhere: "held a cup under three, caught 48 grams"."""
        named = [span for span in spans if span.kind is SpanKind.ROWS or span.is_one_of(len(self.rows))]
        if len(pairs) != 1 or not pairs[0].bare or len(named) != 1 or named[0] is pairs[0].value:
            return pairs
        return [replace(pairs[0], rows=named[0].named, every=named[0].every, rest=named[0].rest)]

    def _value(self, report: Report, spans: Sequence[TextSpan], listed: Sequence[TextSpan]) -> tuple[object, bool]:
        """What is told with a report, and whether its unit was said."""
        free = [span for span in spans if span not in listed]
        match report:
            case Report.REFILLED:
                return refill(self.hearing, free)
            case Report.SNOOZED:
                return put_off(free)
            case Report.LOT:
                return lot_number(self.hearing, free), True
            case _ if report in NAMED:
                return self._name(report, free), True
            case _ if report in MEASURED:
                found = [(self.of(span, MEASURED[report]), span) for span in free]
                told = [(measure, span) for measure, span in found if measure is not None]
                told = told or self._at_number(report, spans) or self._one_of_time(report, spans)
                with_units = [one for one in told if one[1].kind is SpanKind.AMOUNT] or told
                if not with_units:
                    return None, True
                return with_units[0][0], len(told) == 1 and self._is_of_its_own(report, with_units[0][1], spans)
            case _:
                return None, True

    def _name(self, report: Report, spans: Sequence[TextSpan]) -> str | None:
        """A name told before, or what stands out as one."""
        told = person_told if report in PEOPLE else name_told
        names = self.hearing.expectation.names.get(report, ())
        return told(self.hearing, names, said_in(self.hearing, spans), self.knows)

    # ---- what is said beside

    def _more(self, report: Report, spans: Sequence[TextSpan]) -> dict[str, object]:
        moments = [span.moment for span in spans if span.kind is SpanKind.MOMENT]
        told: dict[str, object] = {}
        if moments and report in TIMED and not self._hour_as_row(report, spans):
            told["when"] = moments[0]
        if moments and report is Report.SNOOZED and isinstance(moments[0], ClockTime):
            told |= {"when": moments[0], "value": None}
        if report in (Report.REFILLED, Report.LEFT):
            told["each"] = self._says(self.words.each, spans) or None
        if report is Report.REFILLED:
            told["together"] = self._says(self.words.together, spans) or None
            full = self._says(self.words.to_mark, spans) or self._says(self.words.topped, spans)
            told["full"] = True if full else False if self._says(self.words.on_top, spans) else None
            told["lot"] = lot_of_refill(self.hearing, spans)
        if report is Report.FIELD:
            told["area"] = next(filter(None, (span.measured(Dimension.AREA) for span in spans)), None)
        return told

    def _says(self, phrases: Phrases, spans: Sequence[TextSpan]) -> bool:
        return self.hearing.says(phrases, (span.start for span in spans))
