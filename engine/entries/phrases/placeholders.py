"""What the phrases of each part of a vocabulary take: what means something there, and what they cannot do without."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.data.definitions import Place
from engine.messages import Command, Report, Topic


@dataclass(frozen=True)
class Takes:
    """``may``: rules that mean something. ``must``: of each of these sets, every way to say a phrase holds one."""

    may: frozenset[str]
    must: tuple[frozenset[str], ...] = ()

    @property
    def mend(self) -> str:
        names = ", ".join(f"<{name}>" for name in sorted(self.may))
        return f"leave it out, or use {names}" if names else "write it in words"


def _takes(may: str = "", *must: str) -> Takes:
    needed = tuple(frozenset(one.split()) for one in must)
    return Takes(frozenset(may.split()).union(*needed), needed)


_ROWS = "row rows some"
_ANY_ROWS = "row rows typed_row"
_CLOCK = "hour typed_clock"
_AROUND_CLOCK = "minute past_hour to_hour half_day"
_REPORTS: Mapping[Report, Takes] = {
    Report.GOOD: _takes(_ROWS),
    Report.HIGH: _takes("", _ROWS),
    Report.STOPPED: _takes("", _ROWS),
    Report.RUNS: _takes("", _ROWS),
    Report.LEFT: _takes(_ROWS, "weight"),
    Report.LEVEL: _takes(_ROWS, "share"),
    Report.REFILLED: _takes(f"{_ROWS} weight number bags each together to_mark on_top topped lot_number"),
    Report.DROPPING: _takes(_ROWS),
    Report.LOOKS: _takes("", "area span length refills_only once_between"),
    Report.DECIDED: _takes("called"),
    Report.CAUGHT: _takes("", _ROWS, "weight"),
    Report.PLANTED: _takes("", "area"),
    Report.REMAINING: _takes("", "area number"),
    Report.HANDED_OVER: _takes("called"),
    Report.SPEED: _takes("", "pace"),
    Report.RATE: _takes("", "dose"),
    Report.PRODUCT: _takes("called"),
    Report.LOT: _takes("", "lot_number"),
    Report.FIELD: _takes("called area"),
    Report.SNOOZED: _takes("span number length clock"),
}
_TOPICS: Mapping[Topic, Takes] = {
    Topic.HOW_MUCH: _takes("", "area"),
    Topic.LAST_CATCH: _takes("row"),
    Topic.SETTING: _takes("row"),
    Topic.WHY: _takes("row"),
    Topic.VERDICT: _takes("row"),
    Topic.HISTORY: _takes("row"),
    Topic.MY_VALUES: _takes("name"),
}
_COMMANDS: Mapping[Command, Takes] = {Command.SKIP: _takes("row"), Command.SCRATCH: _takes("row")}

TAKES: Mapping[Place, Takes] = {
    ("joins",): _takes(),
    ("numbers", "words"): _takes(),
    ("amounts",): _takes("measured_in half", "number whole"),
    ("levels",): _takes("", "number"),
    ("rows", "one"): _takes("", "row_number"),
    ("rows", "typed"): _takes("", "written"),
    ("rows", "several"): _takes("", "row_number"),
    ("rows", "listed"): _takes("", "row_number"),
    ("rows", "all"): _takes(),
    ("rows", "rest"): _takes(),
    ("rows", "loose"): _takes("", "row_number"),
    ("rows", "counted"): _takes(),
    ("given", "rows"): _takes("name link", _ANY_ROWS, "value"),
    ("given", "apart"): _takes("name link", _ANY_ROWS, "value"),
    ("given", "corrected"): _takes("name link past lead", _ANY_ROWS, "value"),
    ("given", "named"): _takes("link", "name", "value"),
    ("given", "renamed"): _takes("link past lead", "name", "value"),
    ("given", "bare"): _takes("link", "value"),
    ("given", "replaced"): _takes("link past lead", "value"),
    ("given", "again"): _takes("lead", "row name"),
    ("link",): _takes(),
    ("past",): _takes(),
    ("lead",): _takes(),
    **{
        ("commands", command): _COMMANDS.get(command, _takes())
        for command in Command
        if command is not Command.LANGUAGE
    },
    ("languages",): _takes(),
    **{("topics", topic): _TOPICS.get(topic, _takes()) for topic in Topic},
    **{("reports", report): _REPORTS.get(report, _takes()) for report in Report},
    ("naming", "leads"): _takes(),
    ("naming", "unknown"): _takes(),
    ("naming", "skipped"): _takes(),
    ("naming", "waits"): _takes(),
    ("naming", "quits"): _takes(),
    ("naming", "questions"): _takes(),
    ("left_out",): _takes("called", _ROWS),
    ("taken_in",): _takes("", _ROWS),
    ("repaired",): _takes("", _ROWS),
    ("not_repaired",): _takes("", _ROWS),
    ("each",): _takes(),
    ("together",): _takes(),
    ("to_mark",): _takes(),
    ("on_top",): _takes(),
    ("topped",): _takes(),
    ("refills_only",): _takes(),
    ("once_between",): _takes(),
    ("ways",): _takes(),
    ("was_out",): _takes("", _ROWS),
    ("stood",): _takes(),
    ("lent",): _takes("link", "row rows rows_rest", "number"),
    ("times", "clock"): _takes(f"{_AROUND_CLOCK} clock_named", f"{_CLOCK} clock_named"),
    ("times", "said"): _takes(_AROUND_CLOCK, f"clock span length {_CLOCK}"),
    ("times", "starts"): _takes(),
    ("times", "ends"): _takes(),
    ("times", "within"): _takes(_AROUND_CLOCK, f"clock {_CLOCK}"),
    ("times", "lengths"): _takes(),
    ("times", "halves"): _takes(),
    ("answers",): _takes(),
    ("dials", "numbered"): _takes("", "number"),
    ("dials", "lettered"): _takes("", "letter"),
}
"""By the place of the part in the file; what is not named here is checked by the rules it names alone."""
