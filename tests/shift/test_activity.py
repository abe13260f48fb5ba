"""A second activity beside the shift, in this file alone: a fuel tank that is refilled and read until it is finished.

It shows that the dialog room knows activities by their door and none of them by name.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

import pytest

import engine.dialog
from engine.dialog.activity import ActivityFact, ActivityState, KeptReport, Reports, folds
from engine.dialog.facts.events import Cancelled
from engine.dialog.facts.fold import fold
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.interpreter import Interpreter, Turn
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot_roles import ACTIVITIES, Requirements, Role
from engine.dialog.script_library import load_library, problems
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.facts import read_fact, write_fact
from engine.messages import Asked, Commanded, Report, Reported, Utterance
from engine.quantities import Measure
from engine.reminders.reminder import Change
from tests.helpers.talking import START

FUEL = "fuel"
DIALOG = """\
dialog: tank
format: "2"
records: {capacity: holds}
opens: {en: [fuel tank], es: [tanque]}
about: {en: Keeps count of the fuel tank., es: Lleva la cuenta del tanque.}
rows: tanks
slots:
  tanks:
    kind: count
    name: {en: Tanks, es: Tanques}
    ask: {en: "How many tanks?", es: "¿Cuántos tanques?"}
    hard: ["1", "4"]
  holds:
    kind: measure
    dimension: mass
    units: [lb, kg]
    default: {us: lb, metric: kg}
    name: {en: Tank, es: Tanque}
    ask: {en: "How much does the tank hold?", es: "¿Cuánto cabe en el tanque?"}
    hard: [1 lb, 9000 lb]
    usual: [10 lb, 5000 lb]
steps:
  - ask: tanks
  - ask: holds
  - watch: fuel
  - finish: {en: "Tank closed.", es: "Tanque cerrado."}
"""


class TankOpened(ActivityFact):
    """The tank is watched from now on, full."""

    kind: Literal["tank_opened"] = "tank_opened"
    holds: Measure


class TankRead(KeptReport):
    """What went into the tank or was left in it."""

    kind: Literal["tank_read"] = "tank_read"


class Tank(ActivityState):
    """What is in the tank and what was burned."""

    kind: Literal["tank"] = "tank"
    level: float
    burned: float = 0.0


@folds(TankOpened, TankRead)
def _after(tank: Tank | None, fact: TankOpened | TankRead) -> Tank:
    if isinstance(fact, TankOpened):
        return Tank(level=fact.holds.to("lb").value)
    assert tank is not None
    mass = fact.value.to("lb").value if isinstance(fact.value, Measure) else 0.0
    match fact.report:
        case Report.REFILLED:
            return tank.model_copy(update={"level": tank.level + mass})
        case Report.LEFT:
            return tank.model_copy(update={"level": mass, "burned": tank.burned + tank.level - mass})
        case _:
            return tank.model_copy(update={"ended": True})


class FuelActivity:
    """Takes refills and levels of one tank, until the end."""

    name = FUEL

    def expects(self, _script: Script, _state: ConversationState) -> Reports:
        return Reports((Report.REFILLED, Report.LEFT, Report.ENDED))

    def take(self, turn: TurnBuilder, reports: Sequence[Reported]) -> None:
        for told in reports:
            turn.add(TankRead(report=told.report, value=told.value, said=told.said))
            self.status(turn)

    def meant(self, _turn: TurnBuilder, _commanded: Commanded) -> Reported | None:
        return None

    def answer(self, _turn: TurnBuilder, _asked: Asked) -> bool:
        return False

    def keep(self, turn: TurnBuilder) -> None:
        holds = turn.dialog.values["holds"]
        if turn.dialog.activity is None and isinstance(holds, Measure):
            turn.add(TankOpened(holds=holds))

    def prompt(self, dialog: DialogState, wording: Wording, _now: datetime) -> str:
        level = dialog.activity.level if isinstance(dialog.activity, Tank) else 0.0
        return f"In the tank: {wording.rough(Measure(value=level, unit='lb'))}."

    def hint(self, wording: Wording) -> str:
        return wording.say(SystemKey.SHIFT_HINT)

    def status(self, turn: TurnBuilder) -> None:
        tank = turn.dialog.activity
        assert isinstance(tank, Tank)
        turn.lines.append(f"Burned {turn.wording.rough(Measure(value=tank.burned, unit='lb'))}.")

    def leave(self, turn: TurnBuilder, to_return: bool) -> Cancelled:
        assert not to_return
        return Cancelled(dialog=turn.dialog.dialog)

    def reminders(self, _before: ConversationState, _after: ConversationState) -> tuple[Change, ...]:
        return ()


class Talk:
    """A conversation with an interpreter that knows the tank alone."""

    def __init__(self, folder: Path) -> None:
        (folder / "tank.yaml").write_text(DIALOG, encoding="utf-8")
        assert problems(folder) == ()
        self.interpreter = Interpreter(load_library(folder), activities={FUEL: FuelActivity()})
        self.state = ConversationState(language="en")
        self.facts: list[dict[str, object]] = []
        self.said = 0

    def say(self, text: str) -> Turn:
        self.said += 1
        now = START + timedelta(minutes=self.said)
        heard = Utterance(id=f"t{self.said}", conversation="c", text=text, language="en", said_at=now)
        expected = self.interpreter.expectation(self.state)
        turn = self.interpreter.take(self.state, read(heard, expected, load_vocabulary("en")), now)
        self.state = turn.state
        self.facts += [write_fact(fact) for fact in turn.facts]
        return turn

    @property
    def tank(self) -> Tank:
        assert self.state.dialog is not None
        assert isinstance(self.state.dialog.activity, Tank)
        return self.state.dialog.activity


@pytest.fixture
def talk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Talk:
    monkeypatch.setitem(ACTIVITIES, FUEL, Requirements(needed=frozenset({Role.CAPACITY})))
    found = Talk(tmp_path)
    found.say("fuel tank")
    found.say("one")
    found.say("five hundred pounds")
    return found


def test_it_begins_and_asks_for_what_it_waits_for(talk: Talk) -> None:
    assert talk.tank == Tank(level=500.0)
    assert talk.say("nonsense").reply.text.splitlines()[-1] == "In the tank: 500 lb."


def test_it_takes_reports_and_says_how_far_it_is(talk: Talk) -> None:
    assert talk.say("all 200 pounds left").reply.text == "Burned 300 lb.\nIn the tank: 200 lb."
    assert talk.say("refilled all, 100 pounds").reply.text == "Burned 300 lb.\nIn the tank: 300 lb."
    assert talk.say("status").reply.text == "Burned 300 lb.\nIn the tank: 300 lb."


def test_scratch_that_takes_its_last_report_back(talk: Talk) -> None:
    talk.say("all 200 pounds left")
    before = talk.tank
    talk.say("refilled all, 100 pounds")
    assert "refilled all, 100 pounds" in talk.say("scratch that").reply.text
    assert talk.tank == before


def test_it_ends_and_the_dialog_goes_on_after_it(talk: Talk) -> None:
    assert talk.say("end of shift").reply.text.splitlines()[-1] != "In the tank: 500 lb."
    assert talk.state.dialog is None


def test_it_is_left_at_once(talk: Talk) -> None:
    talk.say("cancel")
    talk.say("yes")
    assert talk.state.dialog is None


def test_its_facts_are_written_and_read_back(talk: Talk) -> None:
    talk.say("all 200 pounds left")
    kinds = [str(fact["kind"]) for fact in talk.facts]
    assert {"tank_opened", "tank_read"} <= set(kinds)
    again = fold(ConversationState(language="en"), [read_fact(fact) for fact in talk.facts])
    assert again == talk.state
    assert ConversationState.model_validate_json(talk.state.model_dump_json()) == talk.state


def test_a_dialog_without_what_the_activity_needs_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(ACTIVITIES, FUEL, Requirements(needed=frozenset({Role.CAPACITY, Role.LOT})))
    (tmp_path / "tank.yaml").write_text(DIALOG, encoding="utf-8")
    assert "the activity fuel needs lot" in str(problems(tmp_path)[0])


# ---------------------------------------------------------------- the dialog room by itself

ROOM = Path(engine.dialog.__file__).parent
EARLIER = {"first_release.py", "script_formats.py"}
"""What brings facts and dialog files of earlier formats up names the one activity that there was then."""


def imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            yield str(node.module)
        elif isinstance(node, ast.Import):
            yield from (one.name for one in node.names)


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.name)
def test_the_dialog_room_names_no_activity(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert not [name for name in imported(tree) if name.startswith("engine.shift")]
    words = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and node.value == "shift"]
    compared = [
        node for node in ast.walk(tree) if isinstance(node, ast.Name | ast.Attribute) and named(node) == "Shift"
    ]
    assert not compared
    assert not words or path.name in EARLIER or path.name == "roles.py"


def named(node: ast.Name | ast.Attribute) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr
