"""What came of an utterance against what a suite wants: right, asked, not understood, or kept wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Any

from bot.bench.suite import SPOKEN, UtteranceCase
from bot.bench.suite_stage import Exchange
from engine.entries.matching.row_numbers import MOST_ROWS
from engine.facts import write_fact
from engine.intents import Topic
from engine.messages import Answered, Asked, Commanded, LeavingOut, Opened, Reported
from engine.quantities import UNITS, Measure

UNDOING = frozenset({"undone", "taken_back", "withdrawn", "reopened", "cleared", "erased"})
MOVING = frozenset({"cancelled", "finished", "started"})
MOST_APART = 5
"""A report of more rows than these is one of the whole planter, or of the rest of it."""
PERCENT = 0.5
"""A third may be wanted as 33 percent."""
SAME = 1e-3
"""Amounts that differ by less than this share are the same: they were said in other units."""


class Grade(StrEnum):
    """``right`` as wanted; ``asked`` by a sensible question where that is allowed; ``not_understood`` with nothing
    kept; ``kept_wrong`` where anything was kept, noted or skipped that was not said."""

    RIGHT = "right"
    ASKED = "asked"
    NOT_UNDERSTOOD = "not_understood"
    KEPT_WRONG = "kept_wrong"


@dataclass(frozen=True)
class CaseOutcome:
    """What one utterance left behind, as the program's own facts."""

    said: Exchange

    @cached_property
    def facts(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(write_fact(fact) for fact in self.said.turn.facts)

    def of_kind(self, *kinds: str) -> list[Mapping[str, Any]]:
        return [fact for fact in self.facts if fact["kind"] in kinds]

    @property
    def reply(self) -> str:
        return self.said.turn.reply.text

    @cached_property
    def kept(self) -> dict[tuple[str, int | None], Any]:
        return {(fact["slot"], fact.get("row")): fact["value"] for fact in self.of_kind("kept")}

    @cached_property
    def noted(self) -> list[tuple[str, tuple[int, ...], Any]]:
        return [(one["report"], tuple(sorted(one.get("rows") or ())), _each(one)) for one in self.of_kind("noted")]

    @property
    def skipped(self) -> list[str]:
        return [one["slot"] + (f"/{one['row']}" if one.get("row") else "") for one in self.of_kind("skipped")]

    @property
    def undone(self) -> bool:
        return bool(self.of_kind(*UNDOING))

    @property
    def wonders(self) -> bool:
        return any(one.get("questions") for one in self.of_kind("wondered"))

    @property
    def misheard(self) -> bool:
        return bool(self.of_kind("misheard"))

    @property
    def anything(self) -> bool:
        return bool(self.kept or self.noted or self.skipped or self.undone or self.of_kind("left_out", "taken_in"))

    def says(self, pattern: str | None) -> bool:
        return pattern is None or re.search(pattern, self.reply) is not None


def _each(noted: Mapping[str, Any]) -> Any:
    """What a report tells of each row, where it was told of all of them together."""
    value, added = noted.get("value"), noted.get("added") or {}
    poured, rows = noted.get("poured"), noted.get("rows") or ()
    if poured and rows and not added:
        return {**poured, "value": poured["value"] / len(rows)}
    amounts = {(one["value"], one["unit"]) for one in added.values()} if isinstance(value, Mapping) else set()
    return next(iter(added.values())) if len(amounts) == 1 else value


def judge(case: UtteranceCase, outcome: CaseOutcome) -> Grade:
    """The class of one case."""
    if _right(case, outcome):
        return Grade.RIGHT
    if outcome.anything and not _a_part(case, outcome):
        harmless = case.reply is not None and set(outcome.skipped) == set() and not outcome.kept and not outcome.noted
        return Grade.NOT_UNDERSTOOD if harmless and not outcome.undone else Grade.KEPT_WRONG
    if _acted(case, outcome):
        return Grade.KEPT_WRONG
    return Grade.ASKED if _asked(case, outcome) else Grade.NOT_UNDERSTOOD


def _right(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    if case.wanted_reports or case.altreport:
        return (_reported(case, outcome) and outcome.says(case.says)) or _read(case, outcome)
    if case.keep:
        return _holds(case.keep, outcome) or any(_holds((one,), outcome) for one in case.alt)
    if case.skip is not None:
        return (outcome.skipped == [case.skip] or _declined(outcome)) and not outcome.kept
    if case.undo:
        return outcome.undone and not (outcome.kept or outcome.noted or outcome.skipped)
    if case.leaves is not None:
        return _left_out(case.leaves, False, outcome)
    if case.takes_in is not None:
        return _left_out(case.takes_in, True, outcome)
    if case.yes is not None:
        return any(isinstance(one, Answered) and one.yes is case.yes for one in outcome.said.reading.entries)
    return _said_otherwise(case, outcome)


def _declined(outcome: CaseOutcome) -> bool:
    """Whether "I don't know" was read as that although the job can't go on without a value."""
    skips = [one for one in outcome.said.reading.entries if isinstance(one, Commanded) and one.command == "skip"]
    return bool(skips) and not outcome.anything


def _said_otherwise(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    """A question, a command, a dialog that is opened, or nothing meant for the program."""
    entries = outcome.said.reading.entries
    if case.does == "skip":
        return bool(outcome.skipped) and not outcome.kept
    if case.does in SPOKEN:
        return any(isinstance(one, Commanded) and one.language == SPOKEN[case.does] for one in entries)
    if case.does is not None:
        return any(isinstance(one, Commanded) and one.command == case.does for one in entries)
    if case.asks == Topic.EMERGENCY:
        return any(isinstance(one, Asked) and one.topic is Topic.EMERGENCY for one in entries)
    if outcome.kept or outcome.noted or outcome.undone or (outcome.skipped and "omit" not in (case.reply or "")):
        return False
    if case.asks is not None:
        topic, _, row = case.asks.partition("/")
        rows = {int(row)} if row else {None, *range(MOST_ROWS)}
        return any(isinstance(one, Asked) and one.topic == topic and one.row in rows for one in entries) or (
            topic in ALSO and any(isinstance(one, Commanded) and one.command == ALSO[topic] for one in entries)
        )
    if case.opens is not None:
        return any(isinstance(one, Opened) and one.dialog == case.opens for one in entries)
    if case.reply is not None:
        return not outcome.misheard and outcome.says(case.reply)
    return case.none and not outcome.misheard and not outcome.wonders and not outcome.of_kind(*MOVING)


ALSO = {"left_to_do": "status", "next_look": "status", "what_next": "status", "acres_done": "status"}
"""Topics that the command ``status`` answers as well."""


def _asked(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    if outcome.wonders:
        return True
    if not case.ask:
        return False
    return bool(case.none) if outcome.misheard else bool(outcome.reply) and "?" in outcome.reply


def _acted(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    """Whether a part of the job was begun or left although nothing may come of the words."""
    return case.none and bool(outcome.of_kind(*MOVING))


def _a_part(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    """Whether what was kept is a part of what was said, and right."""
    if not case.keep or outcome.noted or outcome.skipped or outcome.undone:
        return False
    wanted = _wanted(case.keep)
    return set(outcome.kept) < set(wanted) and all(same(outcome.kept[one], wanted[one]) for one in outcome.kept)


def _holds(keeps: Iterable[str], outcome: CaseOutcome) -> bool:
    wanted = _wanted(keeps)
    return set(wanted) == set(outcome.kept) and all(same(outcome.kept[one], wanted[one]) for one in wanted)


def _reported(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    wanted = case.wanted_reports
    if wanted and all(_told(one, outcome) for one in wanted):
        return _apart(outcome.noted) <= len(wanted) + 1 and not outcome.kept
    return case.altreport is not None and _told(case.altreport, outcome)


def _read(case: UtteranceCase, outcome: CaseOutcome) -> bool:
    """Whether the reports were read as they were said, without a doubt, although the program asks whether that can be:
    "12 acres is more than this planter can do in that time. Is it right?"."""
    entries = [one for one in outcome.said.reading.entries if isinstance(one, Reported)]
    kinds = {one.partition(" ")[0].partition("/")[0] for one in case.wanted_reports}
    kinds |= {"planted"} if "remaining" in kinds else set()
    others = outcome.kept or outcome.skipped or outcome.undone or {one[0] for one in outcome.noted} - kinds
    told = [(str(one.report), one.rows, one.model_dump(mode="json")["value"]) for one in entries]
    said = {(one.partition("/")[0].partition(" ")[0], one.partition(" ")[2]) for one in case.wanted_reports}
    if others or any(one.doubt for one in entries) or _apart(told) != len(said):
        return False
    return all(_among(one, told) for one in case.wanted_reports)


def _apart(told: Iterable[tuple[str, tuple[int, ...], Any]]) -> int:
    """How many reports there are where those of several rows that say the same are one."""
    return len({(kind, str(value)) for kind, _, value in told})


def _told(wanted: str, outcome: CaseOutcome) -> bool:
    return _among(wanted, outcome.noted)


def _among(wanted: str, told: Iterable[tuple[str, tuple[int, ...], Any]]) -> bool:
    head, _, value = wanted.partition(" ")
    kind, _, some = head.partition("/")
    rows = numbers(some) if some else ()
    got = [one for one in told if one[0] == kind and (not value or same(one[2], value))]
    if any(not some or one[1] == rows or (not one[1] and len(rows) > MOST_APART) for one in got):
        return True
    return bool(some) and set(rows) <= {row for one in got for row in one[1]}


def _left_out(rows: str, back: bool, outcome: CaseOutcome) -> bool:
    return any(
        isinstance(one, LeavingOut) and one.back is back and one.rows == numbers(rows)
        for one in outcome.said.reading.entries
    )


def _wanted(keeps: Iterable[str]) -> dict[tuple[str, int | None], str]:
    wanted: dict[tuple[str, int | None], str] = {}
    for one in keeps:
        head, _, value = one.partition(" ")
        slot, _, rows = head.partition("/")
        wanted |= {(slot, row): value for row in (numbers(rows) if rows else (None,))}
    return wanted


def numbers(text: str) -> tuple[int, ...]:
    """The rows in ``1-3,7``."""
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return tuple(sorted(found))


def same(value: Any, wanted: str) -> bool:
    """Whether a value as the record writes it is the one that a suite wants, whatever its unit."""
    number, _, unit = wanted.partition(" ")
    match value:
        case {"value": found, "unit": its}:
            unit = unit.replace("³", "3")
            return _same_measure(float(found), str(its), number, unit)
        case {"marks": [*marks]} if marks:
            return wanted == "marks " + ",".join(marks)
        case {"low": low, "high": high, "step": step}:
            return [low, high, step] == [float(one) for one in wanted.split() if one[:1].isdigit()]
        case {"label": label}:
            return str(label) == wanted
        case _:
            return str(value).casefold() == wanted.casefold()


def _same_measure(found: float, its: str, number: str, unit: str) -> bool:
    try:
        amount = float(number)
    except ValueError:
        return False
    if its == unit or not unit:
        return abs(found - amount) < (PERCENT if its == "%" else 1e-6)
    if unit not in UNITS or UNITS[unit].dimension is not UNITS[its].dimension:
        return False
    return abs(Measure(value=found, unit=its).to(unit).value - amount) < SAME * abs(amount)
