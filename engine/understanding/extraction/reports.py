"""Reports of a shift from clauses: the rows, amounts, lots, names and moments that stand anywhere in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from engine.clock import ClockTime
from engine.entries.matching.match_context import total
from engine.entries.matching.report_parser import TIMED
from engine.entries.phrases.phrase import Phrases
from engine.messages import Report, Reported
from engine.quantities import Dimension
from engine.understanding.extraction.report_amounts import MEASURED, ReportAmounts
from engine.understanding.extraction.report_details import lot_number, lot_of_refill, put_off, refill, said_in
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
        down = self.hearing.expectation.down
        every = any(span.every for span in spans)
        if report is Report.DROPPING and len(down) == 1 and not rows and not rest and not every:
            made = self.told(Report.RUNS, spans, excepted)
            return made and replace(made, plain=False)
        only_one = report in (Report.RUNS, Report.STOPPED) and not rows and not rest and len(down) == 1 and not excepted
        rows = excepted if report in ROWS_NEEDED and excepted and not rows and not rest else down if only_one else rows
        guessed = only_one and report is Report.STOPPED
        hour = self._hour_as_row(report, spans) if not rows and not rest and not every else None
        if hour is not None:
            rows, guessed = (hour,), True
        if report in ROWS_NEEDED and not rows and not rest and not every:
            return None
        if any(row not in self.rows for row in rows):
            return None
        value, plain = self._value(report, spans, listed)
        nameless = report is Report.LOT and not self._says(self.words.loose.mentions[Report.LOT], spans)
        if value is None and (nameless or (report in MEASURED and report is not Report.REFILLED)):
            return None
        given: dict[str, object] = {"report": report, "rows": rows, "rest": rest and report is not Report.GOOD}
        given |= {"value": value, "said": said_in(self.hearing, spans)}
        given |= {name: told for name, told in self._more(report, spans).items() if told is not None}
        others = rest and report in (Report.STOPPED, Report.HIGH)
        strays = (
            len(self._said_in(spans)) > sum(span.kind is SpanKind.AMOUNT for span in spans)
            and report is Report.REFILLED
        )
        unused = []
        if report not in TAKING:
            told = [span for span in spans if span.is_value and span not in listed]
            unused = [span for span in told if span.key != "<time>" and report not in ALONE]
        sure = report not in PEOPLE or given["value"] is None or not self._is_lower(str(given["value"]))
        return ToldReports(
            (Reported.model_validate(given),), plain and sure and not (guessed or unused or others or strays)
        )

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
        masses = [
            span for span in spans if span.kind is SpanKind.AMOUNT and self.of(span, (Dimension.MASS,)) is not None
        ]
        listed = [after.kind is SpanKind.NUMBER for one, after in pairwise(self._amounts_and_rows(spans)) if one.rows]
        several = sum(span.is_value for span in spans) > 1
        return report is Report.REFILLED and several and (bool(masses) or (len(listed) > 1 and all(listed)))

    def _amounts_and_rows(self, spans: Sequence[TextSpan]) -> list[TextSpan]:
        return [span for span in spans if span.is_value or span.kind is SpanKind.ROWS]

    # ---- rows

    def rows_in(self, spans: Sequence[TextSpan]) -> tuple[tuple[int, ...], bool, tuple[TextSpan, ...]]:
        """The rows of a clause (none for all of them), whether it is said of the rest, and the bare numbers taken."""
        named = named_rows(spans)
        if but := [span for span in named if span.key == "<all-but>"]:
            return but[0].rows, False, ()
        bare = tuple(
            span
            for span, after in zip(spans, (*spans[1:], None), strict=True)
            if span.row is not None
            and span.row <= len(self.rows)
            and (after is None or after.key not in (*self.words.loose.bags, *self.words.loose.counted))
        )
        if any(span.rest for span in named):
            return (), True, ()
        if any(span.every for span in named) and len(named) == 1:
            return (), False, ()
        some = [row for span in named for row in span.rows if not span.every]
        taken = bare if not self._measures(spans) else ()
        some += [span.row for span in taken if span.row is not None]
        rows = tuple(sorted(set(some)))
        return (() if rows == self.rows else rows), False, taken

    def _measures(self, spans: Sequence[TextSpan]) -> bool:
        """Whether rows are named by their noun, so that bare numbers are something else."""
        return any(span.kind is SpanKind.ROWS and not span.every for span in spans) and any(
            span.kind is SpanKind.NUMBER for span in spans if span.row is None
        )

    # ---- amounts

    def _amounts(self, report: Report, spans: Sequence[TextSpan]) -> ToldReports | None:
        """One report for each amount, with the rows it is said of."""

        with_unit = any(span.kind is SpanKind.AMOUNT and self._measure(report, span) is not None for span in spans)

        def is_value(span: TextSpan) -> bool:
            is_row = with_unit and span.row is not None and span.row <= len(self.rows)
            return not is_row and self._measure(report, span) is not None

        parted = [span for span in spans if span.kind is not SpanKind.BREAK or span.end > span.start]
        pairing = paired(parted, is_value, self.words.loose.on_words, len(self.rows))
        made: list[Reported] = []
        pairs = self._in_order(self._with_only_row(pairing.pairs, spans))
        bare = [pair for pair in pairs if not (pair.rows or pair.every or pair.rest)]
        named = any(span.kind is SpanKind.ROWS and not span.every for span in spans)
        plain = (not pairing.lost or pairs != pairing.pairs) and (not bare or (len(pairs) == 1 and not named))
        plain = plain and (with_unit or not bare or report is Report.LEVEL)
        for pair in pairs:
            measure = self._measure(report, pair.value)
            rows = () if pair.every or set(pair.rows) == set(self.rows) else pair.rows
            if report is Report.CAUGHT and not rows:
                return None
            if any(row not in self.rows for row in rows):
                return None
            first, last = pair.spans[0], pair.spans[-1]
            said = self.hearing.said(min(first.start, last.start), max(first.end, last.end))
            changes = self._more(report, spans)
            made.append(
                Reported(
                    report=report, rows=rows, rest=pair.rest, value=measure, said=said, each=bool(changes.get("each"))
                )
            )
        return ToldReports(tuple(made), plain) if made else None

    def _in_order(self, pairs: Sequence[Pair]) -> Sequence[Pair]:
        """As many amounts as there are rows, without any row named, are of the rows in their order."""
        bare = not any(pair.rows or pair.every or pair.rest for pair in pairs)
        if not bare or len(pairs) != len(self.rows):
            return pairs
        return [replace(pair, rows=(row,)) for pair, row in zip(pairs, self.rows, strict=True)]

    def _with_only_row(self, pairs: Sequence[Pair], spans: Sequence[TextSpan]) -> Sequence[Pair]:
        """A single amount is of the single row that is named anywhere: "held a cup under three, caught 48 grams"."""
        named = [
            span
            for span in spans
            if span.kind is SpanKind.ROWS or (span.row is not None and span.row <= len(self.rows))
        ]
        if (
            len(pairs) != 1
            or pairs[0].rows
            or pairs[0].every
            or pairs[0].rest
            or len(named) != 1
            or named[0] is pairs[0].value
        ):
            return pairs
        rows = named[0].rows or ((named[0].row,) if named[0].row else ())
        return [replace(pairs[0], rows=rows, every=named[0].every, rest=named[0].rest)]

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
        return told(
            self.hearing, self.hearing.expectation.names.get(report, ()), said_in(self.hearing, spans), self.knows
        )

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
            areas = (
                total(span.amount, (Dimension.AREA,)) for span in spans if span.kind is SpanKind.AMOUNT and span.amount
            )
            told["area"] = next((area for area in areas if area is not None), None)
        return told

    def _says(self, phrases: Phrases, spans: Sequence[TextSpan]) -> bool:
        return self.hearing.says(phrases, (span.start for span in spans))
