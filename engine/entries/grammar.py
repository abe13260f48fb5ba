"""What is likely to be said under an expectation, as a grammar for a recogniser.

It is printed from the very patterns that the reader matches, so all that it lets through is understood.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from engine.entries.grammar_text import GrammarText, Names
from engine.entries.matching.match_context import MatchContext
from engine.entries.matching.name import sayings
from engine.entries.matching.numerals import spell
from engine.entries.matching.report_parser import AMOUNTS, LENDING, TIMED
from engine.entries.phrases.pattern import Choice, Node, Repeat, Rule, Sequence, maybe, phrase, walk
from engine.entries.phrases.phrase import Phrase, spoken
from engine.entries.phrases.vocabulary import Vocabulary
from engine.entries.value_rules import MOST_DIGITS, NumberRules, ValueRules, bare_rule
from engine.expectation import CLOSED, Asking, Expectation, ExpectedSlot, SlotKind
from engine.messages import Command, Report, Topic
from engine.quantities import UNITS, Dimension, Measure

MOST_COUNT_DIGITS = 3
TWO_DIGITS = 10
MOST_ROWS = 24
"""So many rows may be named where it is not known how many there are (own decision)."""


def grammar(expectation: Expectation, vocabulary: Vocabulary) -> str:
    """A JSGF text with the one public rule ``utterance``."""
    return _Grammar(expectation, vocabulary).text()


class _Grammar:
    def __init__(self, expectation: Expectation, vocabulary: Vocabulary) -> None:
        self.expectation = expectation
        self.vocabulary = vocabulary
        self.hearing = MatchContext("", expectation, vocabulary)
        self.sheet = GrammarText(vocabulary)
        self.numbers = NumberRules(self.sheet)
        self.values = ValueRules(self.sheet, self.numbers, self.hearing)
        self.sheet.names |= {"written": None, "written_fraction": None, "typed_row": None}
        if expectation.asking in CLOSED and any(map(_has_no_digit_alone, expectation.slots[:1])):
            self.sheet.names |= {"below_hundred": "pair"}
        self.said: list[Node] = []

    def text(self) -> str:
        self._rows()
        self._always()
        values = [slot for slot in self.expectation.slots if self.values.define(slot)]
        self._row_values([slot for slot in values if slot.per_row])
        self._bare_values(values)
        self._named_values(values)
        self._elsewhere()
        self._corrections()
        self._answers()
        self._reports()
        self.sheet.define("utterance", self.said)
        return self.sheet.print("utterance")

    def _say(self, name: str, phrases: Iterable[Phrase | Node], names: Names | None = None) -> None:
        """Define a rule and let an utterance be it."""
        if self.sheet.define(name, phrases, names):
            self.said.append(Rule(name))

    @property
    def _joins(self) -> Node:
        return spoken(tuple(one for one in self.vocabulary.joins if one.heard))

    # ---- rows

    def _rows(self) -> None:
        rows = self.hearing.every_row
        if not rows:
            self.sheet.names |= {"row": None, "rows": None}
            return
        self.sheet.define("row_number", [phrase(spell(row, self.vocabulary.language)) for row in rows])
        words = self.vocabulary.rows
        several = (*words.several, *words.listed, *words.all, *(words.rest if self.hearing.open_rows else ()))
        self.sheet.define("rows", several if len(rows) > 1 else ())

    def _row_values(self, slots: list[ExpectedSlot]) -> None:
        given = self.vocabulary.given
        names: Names = {"value": "row_value", "name": None}
        self.sheet.define("row_value", [Rule(f"value_{slot.name}") for slot in slots])
        named = [Rule(f"row_named_{slot.name}") for slot in slots if self._row_named(slot)]
        if self.sheet.define("row_given", (*given.rows, *given.corrected, *named), names):
            more = Sequence((maybe(self._joins), Rule("row_given")))
            undo = Rule(f"command_{Command.SCRATCH}")
            self._say("rows_given", [Sequence((Rule("row_given"), maybe(Repeat(more)), maybe(undo)))])

    def _row_named(self, slot: ExpectedSlot) -> bool:
        """Whether a setting may be said by its name before the row: "set row two to fourteen"."""
        if slot.kind is not SlotKind.SETTING or not self._name(f"name_{slot.name}", [slot]):
            return False
        names: Names = {"value": f"value_{slot.name}", "name": f"name_{slot.name}"}
        phrases = [one for one in self.vocabulary.given.rows if Rule("name") in walk(one.node)]
        return self.sheet.define(f"row_named_{slot.name}", phrases, names)

    def _bare_values(self, slots: list[ExpectedSlot]) -> None:
        given = self.vocabulary.given
        bare = [slot for slot in slots if not slot.per_row or slot.next_row is not None or slot.open_rows]
        if self.sheet.define("bare_value", [bare_rule(slot, first=slot is bare[0]) for slot in bare]):
            self._say("bare", (*given.bare, *given.replaced), {"value": "bare_value"})
        self._say("declined", [self.hearing.plain(words) for words in self.expectation.declined])

    def _named_values(self, slots: list[ExpectedSlot]) -> None:
        for slot in slots:
            names: Names = {"value": f"value_{slot.name}", "name": f"name_{slot.name}"}
            if (not slot.per_row or slot.next_row is not None) and self._name(f"name_{slot.name}", [slot]):
                self._say(f"named_{slot.name}", self.vocabulary.given.named, names)

    def _name(self, rule: str, slots: list[ExpectedSlot]) -> bool:
        return self.sheet.define(rule, [self.hearing.plain(called) for slot in slots for called in slot.called])

    def _elsewhere(self) -> None:
        """Amounts in the units of other questions, and of rows where nothing is asked of rows: heard as what they are,
        they are bent to nothing that is asked."""
        if not self.expectation.elsewhere:
            return
        units = [spoken(self.vocabulary.units[symbol]) for symbol in self.expectation.elsewhere]
        self.sheet.define("unit_elsewhere", units)
        amount = Sequence((self.numbers.rule(MOST_COUNT_DIGITS, 1), Rule("unit_elsewhere")))
        alone = self.sheet.define("amount_elsewhere", [amount])
        self._say("elsewhere", [Rule("amount_elsewhere"), *self._row_elsewhere()] if alone else [])

    def _row_elsewhere(self) -> Iterator[Node]:
        """A row with a number, where nothing is asked of rows; how many there are need not be known yet."""
        if any(slot.per_row for slot in self.expectation.slots):
            return
        rows = self.hearing.every_row or range(1, MOST_ROWS + 1)
        self.sheet.define("any_row_number", [phrase(spell(row, self.vocabulary.language)) for row in rows])
        self.sheet.define("any_row", self.vocabulary.rows.one, {"row_number": "any_row_number"})
        value = Choice((Rule("amount_elsewhere"), self.numbers.rule(MOST_COUNT_DIGITS, 1)))
        yield Sequence((Rule("any_row"), value))

    # ---- what can always be said

    def _corrections(self) -> None:
        if self.expectation.asking is Asking.REPORT:
            return
        slots = [slot for slot in self.hearing.slots if slot.called]
        name = "name_any" if self._name("name_any", slots) else None
        rowless: Names = {} if any(slot.per_row for slot in self.hearing.slots) else {"row": None}
        if slots or not rowless:
            self._say("correction", self.vocabulary.given.again, {"name": name, **rowless})

    def _always(self) -> None:
        for name, (_, phrases) in self.vocabulary.orders.items():
            self._say(f"command_{name}", phrases)
        if self.expectation.asking in CLOSED:
            self._say(f"topic_{Topic.EMERGENCY}", self.vocabulary.topics[Topic.EMERGENCY])
            return
        areas = [symbol for symbol, unit in UNITS.items() if unit.dimension is Dimension.AREA]
        self.sheet.define("unit_area", [spoken(self.vocabulary.units[symbol]) for symbol in areas])
        number = self.numbers.rule(MOST_DIGITS, 1).name
        self.sheet.define("area", [Sequence((Rule(number), Rule("unit_area")))])
        for topic, phrases in self.vocabulary.topics.items():
            self._say(f"topic_{topic}", phrases)
        self._say("opening", list(self.hearing.openings.values()))
        if self.hearing.every_row and self.expectation.asking is not Asking.REPORT:
            self.sheet.define("some", [Rule("row"), Rule("rows")])
            for name in ("left_out", "taken_in", "repaired", "not_repaired"):
                self._say(name, getattr(self.vocabulary, name), {"called": None})

    def _reports(self) -> None:
        """What may be told during a shift, one or several in a breath."""
        if not self.expectation.reports:
            return
        number = self.numbers.rule(MOST_COUNT_DIGITS, 0)
        self.sheet.define("some", [Rule("row"), Rule("rows"), *self.vocabulary.rows.loose])
        self.sheet.define("share", [Rule("level"), Sequence((number, spoken(self.vocabulary.units["%"])))])
        for name in ("each", "together", "to_mark", "on_top", "topped", "refills_only", "once_between"):
            self.sheet.define(name, getattr(self.vocabulary, name))
        self.sheet.define("lot_number", [Repeat(Rule("digit"))])
        parts = dict(zip(("whole", "places"), self.numbers.sizes(MOST_COUNT_DIGITS, 1), strict=True))
        whole_first = [one for one in self.vocabulary.rules["number"] if not one.say.startswith("<point>")]
        self.sheet.define("told_number", whole_first, parts)
        for name, dimensions in AMOUNTS.items():
            units = [spoken(self.vocabulary.units[symbol]) for symbol in UNITS if UNITS[symbol].dimension in dimensions]
            self.sheet.define(f"unit_{name}", units)
            self.sheet.define(name, [Sequence((Rule("told_number"), Rule(f"unit_{name}")))])
        names: Names = {"number": number.name, "bags": number.name, "called": None}
        self._moments(names)
        self.sheet.define("lent", self.vocabulary.lent, names)
        told = {report: self.vocabulary.reports[report] for report in self.expectation.reports}
        rules = [
            self._told(report)
            for report, phrases in told.items()
            if self.sheet.define(f"report_{report}", phrases, names | {"called": self._called(report)})
        ]
        self.sheet.define("report", rules)
        if self.expectation.naming is not None:
            called = sayings(self.expectation.names.get(self.expectation.naming, ()), self.vocabulary.language)
            self._say("named_now", [*called, *self.values.new_names()])
        more = Sequence((maybe(self._joins), Rule("report")))
        self._say("reports", [Sequence((Rule("report"), maybe(Repeat(more))))])

    def _called(self, report: Report) -> str | None:
        """The rule for the names that may be told with a report; None where there are none."""
        rule = f"called_{report}"
        names = sayings(self.expectation.names.get(report, ()), self.vocabulary.language)
        return rule if self.sheet.define(rule, names) else None

    def _told(self, report: Report) -> Node:
        """A report with what may be said after it: when it was, or of other rows without the unit."""
        told = Rule(f"report_{report}")
        if report is Report.PAUSED:
            return Choice((_dated(told), Sequence((Choice((told, Rule("stood"))), Rule("stretch")))))
        if report in LENDING:
            return Sequence((told, maybe(Repeat(Sequence((self._joins, Rule("lent")))))))
        return _dated(told) if report in TIMED else told

    def _moments(self, names: Names) -> None:
        """When it happened, after what was told."""
        times = self.vocabulary.times
        self.sheet.define("hour", [Rule("clock_hour"), Rule("clock_named")])
        self.sheet.define("half_day", [one for phrases in times.halves.values() for one in phrases])
        self.sheet.define("length", [one for phrases in times.lengths.values() for one in phrases])
        parts: Names = {
            "minute": "clock_minute",
            "past_hour": "clock_past",
            "to_hour": "clock_before",
            "typed_clock": None,
        }
        self.sheet.define("clock", times.clock, parts)
        self.sheet.define("when", times.said, parts | names)
        self.sheet.define("stood", self.vocabulary.stood)
        self.sheet.define("within", times.within, parts)
        starts, ends = (spoken(tuple(one for one in phrases if one.heard)) for phrases in (times.starts, times.ends))
        self.sheet.define("stretch", [Sequence((starts, Rule("within"), ends, Rule("within")))])

    def _answers(self) -> None:
        answers = self.vocabulary.answers
        if self.expectation.asking in CLOSED:
            self._say("yes", answers.yes)
            self._say("no", answers.no)
        if self.expectation.asking is Asking.CHOOSE:
            self._say("neither", answers.neither)
            chosen = answers.chosen[: len(self.expectation.candidates)]
            ways = [self.vocabulary.ways[name] for name in self.expectation.ways]
            self._say("chosen", tuple(one for phrases in (*chosen, *ways) for one in phrases))


def _has_no_digit_alone(slot: ExpectedSlot) -> bool:
    """Whether a number of one digit would be unusual: beside a yes or a no it is rather one of these misheard."""
    if slot.usual is None or slot.usual.unit is None or slot.default_unit is None:
        return False
    return Measure(value=slot.usual.low, unit=slot.usual.unit).to(slot.default_unit).value >= TWO_DIGITS


def _dated(report: Node) -> Node:
    return Sequence((report, maybe(Rule("when"))))
