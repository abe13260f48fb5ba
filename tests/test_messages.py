"""Everything that crosses a door has a sample here and travels as JSON without loss."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from types import ModuleType

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError

import engine.dialog.activity as activities
import engine.dialog.facts.book as books
import engine.dialog.facts.question as questions
import engine.dialog.facts.register as registers
import engine.dialog.facts.state as states
import engine.dialog.facts.stock_facts as stocks
import engine.dialog.facts.yearbook as yearbooks
import engine.shift.record.shift_ledger as ledgers
import engine.shift.record.shift_state as shifts
from engine import clock, expectation, messages, quantities, values
from engine.dialog.activity import ActivityFact
from engine.dialog.facts import book_facts, events, neighbours
from engine.dialog.facts.events import DialogFact
from engine.dialog.schema.slot_roles import Role
from engine.expectation import Asking, Option, Range, SlotKind
from engine.facts import read_fact, write_fact
from engine.messages import Command, DoubtReason, Entry, Given, Message, Report, System, Topic, UnclearReason
from engine.quantities import Dimension, Measure
from engine.queues import outbox_message
from engine.reminders.rules import Decider, Strain
from engine.shift.record import shift_facts
from engine.values import Dial, Rows, Value
from tests.helpers.farm_facts import SAMPLES as FARM_SAMPLES
from tests.helpers.outbox_samples import SAMPLES as OUTBOX_SAMPLES

DOORS: tuple[ModuleType, ...] = (
    messages,
    expectation,
    events,
    book_facts,
    registers,
    neighbours,
    stocks,
    questions,
    shift_facts,
    ledgers,
    shifts,
    books,
    yearbooks,
    states,
    values,
    quantities,
    outbox_message,
)

MARKS = Dial.marked(("A", "A+", "B"))
GRAMS = Measure(value=49.1 + 0.2, unit="g")
HOPPERS = stocks.Hoppers(product="Product A", lots=("447", "448"), held=Measure(value=40, unit="lb"))
TINY = Measure(value=0.1, unit="oz/1000 ft")
NUMBERED = Dial.numbered(0, 30, 0.25)
CLOCK_TIME = clock.ClockTime(hour=1, minute=10, twice=True)
GIVEN = Given(slot="catch", row=3, value=GRAMS, said="row three …", doubt=DoubtReason.UNUSUAL, rivals=(TINY, 7, "7"))
ROWS: Rows = {1: GRAMS, 12: MARKS.setting(1), 3: "on_target", 4: 8}
READING = questions.ValueReading(givens=(GIVEN,), run=2)
QUESTION = questions.Question(
    about=questions.QuestionKind.CHECK, readings=(READING, READING), reason=DoubtReason.SOUND_ALIKE,
    old=MARKS.setting(2), check=1, outcome="nothing", shown={"speed": GRAMS, "word": "high", "all": 3}, dialog="set-up",
)  # fmt: skip
KEPT = events.Kept(slot="catch", row=3, run=2, value=GRAMS, said="cuarenta y nueve, ñ", replaces=TINY, together=(2, 3))
SKIPPED = events.Skipped(slot="catch", row=4, run=2)
TOLD_STEP = events.ToldStep(step="verdicts", run=2)
AGAIN = states.Again(slot="catch", row=3)
PLAIN = states.DialogState(dialog="test-run", script="abc", step="weighed", run=2, values={"dial": MARKS, "rows": 8})
DIALOG = states.DialogState(
    dialog="test-run", script="abc", step="weighed", run=3, values={"target": GRAMS, "dial": NUMBERED, "name": "12"},
    rows={"catch": ROWS}, skipped=("product",), skipped_rows={"catch": (2, 5)}, runs=({"catch": ROWS}, {}),
    recalled={"earlier": (ROWS, {})}, told=(TOLD_STEP,), again=AGAIN, questions=(QUESTION,),
    undo=(states.Before(state=PLAIN, did=KEPT), states.Before(state=PLAIN, did=SKIPPED)),
)  # fmt: skip
NIGHT = datetime(2026, 4, 22, 1, 10, 0, 123_456, tzinfo=timezone(timedelta(hours=-5)))
LEFT = events.Left(at=NIGHT, values={"lot": "447"}, rows={"catch": ROWS}, skipped=("field",))
ENDED = books.Ended(dialog="test-run", values={"target": GRAMS}, runs=({"catch": ROWS},))
BOOK = books.Book(
    values={"rows": 8, "target": GRAMS}, rows={"catch": ROWS}, finished={"set-up": "abc"}, ended=(ENDED,),
    learned={"efficiency": 0.7}, times={"set-up": 2},
)  # fmt: skip
ACRES = Measure(value=0.1 + 0.2, unit="acre")
MPH = Measure(value=5.0, unit="mph")
INCHES = Measure(value=30.0, unit="in")
LEVEL = ledgers.HopperLevel(mass=GRAMS, at=NIGHT, basis=ledgers.Basis.TOLD, own=False)
OVER = shift_facts.OverLabel(at=NIGHT, rate=TINY, limit=TINY, rows=(3,))
SHIFT_STARTED = shift_facts.ShiftStarted(
    at=NIGHT, hoppers={1: GRAMS}, efficiency=0.65, now={"lot": "447"}, over=OVER, speed=MPH, spacing=INCHES, rate=TINY
)
NOTED = shift_facts.Noted(
    report=Report.REFILLED, rows=(1, 3), value=4, lot="447", said="refilled …", at=NIGHT, moment=NIGHT, until=NIGHT,
    size=ACRES, proofs={1: NIGHT}, levels={1: LEVEL}, added={1: GRAMS}, poured=GRAMS, full=True, efficiency=0.7,
)  # fmt: skip
DOUBTED = shift_facts.Doubted(
    report=Report.STOPPED, rows=(5,), since=NIGHT, until=NIGHT, planted=ACRES, area=ACRES,
    row_length=Measure(value=871.2, unit="ft"), short=GRAMS, field="North 40",
)  # fmt: skip
EMPTIED = shift_facts.Emptied(row=3, at=NIGHT)
LOOK = shift_facts.LookSet(
    at=NIGHT, due=NIGHT, area=ACRES, decided_by=Decider.RUN_OUT, tightened=(Strain.LATE,), empty=EMPTIED
)
FOUND = shift_facts.RateFound(
    at=NIGHT, area=ACRES, used=GRAMS, rate=TINY, off=Measure(value=-3.1, unit="%"), outcome="too_little",
    rows={5: TINY}, odd=(5,), chances={5: 0.93}, delivered={5: 0.57}, basis=ledgers.Basis.ASSUMED,
)  # fmt: skip
INTERVAL = ledgers.Interval(start=LEVEL, end=LEVEL, added=GRAMS, shared=True, gap=True)
ROUND = ledgers.Round(intervals={1: INTERVAL}, poured=GRAMS)
ACCOUNT = ledgers.HopperAccount(level=LEVEL, added=GRAMS, share=GRAMS, gap=True)
LEDGER = ledgers.HopperLedger(accounts={1: ACCOUNT}, read={1: INTERVAL}, poured=GRAMS, rounds=(ROUND,))
PAUSE = shifts.Pause(since=NIGHT, until=NIGHT)
DRIVEN = shifts.Driven(at=NIGHT, speed=MPH)
AREA_TOLD = shifts.AreaTold(at=NIGHT, area=ACRES)
SHIFT = shifts.ShiftState(
    started=NIGHT, last=NIGHT, believed=0.6, efficiency=0.65, spacing=INCHES, rate=TINY, speeds=(DRIVEN,),
    pauses=(PAUSE,), told=(AREA_TOLD,), ledger=LEDGER, filled={1: LEVEL}, looked=NIGHT, proofs={1: NIGHT},
    troubled={5: Report.HIGH}, stretches={1: NIGHT}, dated=(1,), snoozed=NIGHT, now={"lot": "447"}, entered=NIGHT,
    size=ACRES, naming=Report.FIELD, fills=True, over=OVER, look=LOOK, doubts=(DOUBTED,), rates=(FOUND,),
)  # fmt: skip
SHIFTING = PLAIN.model_copy(update={"dialog": "shift", "activity": SHIFT})
WAY = questions.ReportWay(name="full", reports=(messages.Reported(report=Report.REFILLED, rows=(3,), full=True),))
SLOT = expectation.ExpectedSlot(
    name="catch", kind=SlotKind.SETTING, called=("dial",), dimensions=(Dimension.MASS, Dimension.VOLUME), units=("g",),
    default_unit="g", decimals=1, hard=Range(low=0, high=5e4, unit="g"), usual=Range(low=0.1, high=1 / 3),
    options=(Option(key="tube", label="Tubo", words=("tubo", "por volumen")),), dial=MARKS, per_row=True,
    open_rows=(1, 3), next_row=3,
)  # fmt: skip

SAMPLES: tuple[BaseModel, ...] = (
    messages.HeardWord(text="sesenta", confidence=0.123456789),
    messages.Utterance(
        id="u1", conversation="c", text="row three\n“49.5”", language="es", spoken=True,
        said_at=datetime(2026, 4, 21, 22, 15, 3, 999_999, tzinfo=timezone(timedelta(hours=-5, minutes=-30))),
        words=(messages.HeardWord(text="row", confidence=1.0),), alternatives=("row tree", ""),
    ),
    Range(low=-1.5, high=1e-9),
    Option(key="tube", label="Tube", words=("tube",)),
    SLOT,
    expectation.Expectation(
        language="es", asking=Asking.CHOOSE, slots=(SLOT,), known=(SLOT,), rows=48, candidates=("row 2, 250 g", "—"),
        dialogs={"set-up": ("set up", "setup")},
    ),
    GIVEN,
    messages.Either(readings=((GIVEN,), (GIVEN, GIVEN))),
    messages.Commanded(command=Command.SKIP, row=5),
    messages.LeavingOut(rows=(5,), back=False, said="row five is broken"),
    messages.Repairing(rows=(5, 6), back=True, said="rows five and six not rebuilt"),
    messages.Correcting(slot="spacing", row=None),
    messages.Asked(topic=Topic.HOW_MUCH, row=2, slot="rate", amount=Measure(value=40, unit="acre")),
    messages.Answered(yes=False),
    messages.Chosen(index=1),
    messages.Opened(dialog="test-run"),
    messages.Reported(
        report=Report.REFILLED, rows=(3, 4), value=4, each=True, lot="447", when=CLOCK_TIME, said="refilled …"
    ),
    messages.Unclear(reason=UnclearReason.NO_SUCH_ROW, said="row ninety", slot="catch", row=90),
    messages.Reading(entries=(GIVEN, messages.Answered(yes=True), messages.Chosen(index=0))),
    messages.Confusion(said="six", heard="eight"),
    messages.Button(label="Sí", says="sí"),
    messages.Reply(text="Row 3, 49.3 g.\n¿Surco 4?", speech="49", buttons=(messages.Button(label="a", says="b"),)),
    events.Started(dialog="set-up", script="abc"),
    events.Taken(values={"dial": NUMBERED, "rows": 8}, rows={"catch": ROWS}, runs={"catch": (ROWS, {})}),
    events.Moved(step="3"),
    KEPT,
    SKIPPED,
    events.Withdrawn(slot="product", run=1, value="Product A"),
    events.LeftOut(rows=(5, 7), said="row five is broken, ñ", before={7: "hose"}),
    events.TakenIn(rows=(5,), undone=True, still={7: "hose"}),
    book_facts.Cautioned(at=datetime(2026, 4, 21, 22, 15, tzinfo=UTC)),
    book_facts.Alarmed(at=datetime(2026, 4, 21, 22, 15, tzinfo=UTC), product="Ñ 15G", registration="12-34"),
    book_facts.RowsRepaired(rows=(5,), said="rodillo nuevo en el surco cinco, ñ", at=NIGHT),
    book_facts.RepairDropped(rows=(5,), undone=True),
    yearbooks.PastCalibration(at=NIGHT, values={"rate": GRAMS}, runs=({"net": ROWS},), left_out=(4,)),
    yearbooks.Repair(rows=(5,), said="row five rebuilt", at=NIGHT),
    events.Reopened(slot="dial_setting", row=3, run=2, value=MARKS.setting(1)),
    events.Computed(
        step="7", run=1, formula="judge-run", arguments={"a": GRAMS, "b": ROWS, "c": (ROWS, {}), "d": "rule", "e": 3},
        results={"verdict": {1: "adjust"}, "next": {1: MARKS.setting(2)}, "rows": 8}, outcome="adjust",
    ),
    expectation.Latest(slot="catch", row=3),
    events.RunStarted(run=2, cleared=("catch",), carried={"setting": {1: NUMBERED.setting(12.25)}}, fresh=True),
    TOLD_STEP,
    events.StepsTold(steps=(TOLD_STEP,)),
    events.Wondered(questions=(QUESTION, questions.Question(about=questions.QuestionKind.CANCEL))),
    events.Misheard(reason=UnclearReason.UNKNOWN_WORDS, said="\u202e💥", also=True),
    events.Heard(),
    book_facts.Registered(thing=Role.PRODUCT, name="Product A", values={Role.REENTRY: Measure(value=48, unit="h")}),
    book_facts.Renamed(thing=Role.FIELD, name="North 40", to="North Forty"),
    *FARM_SAMPLES,
    book_facts.Filled(thing=Role.PRODUCT, name="Product A", values={"label_low": GRAMS}),
    book_facts.Stocked(product="Product A", lot="447", why=stocks.Movement.LOADED, mass=GRAMS, weighed=False),
    book_facts.HoppersLeft(hoppers=HOPPERS),
    HOPPERS,
    stocks.Lockup(at=NIGHT, store="Ñ shed", locked_by="Ana"),
    stocks.StockLot(product="Product A", lot="447", delivered=1000.0, loaded=320.0, returned=12.5, open=True),
    stocks.Stock(lots=(stocks.StockLot(lot="9"),), hoppers=HOPPERS),
    stocks.Lockup(at=NIGHT, store="north shed", locked_by="Ana"),
    activities.Load(lot="447", mass=GRAMS, weighed=False),
    registers.RegisterEntry(name="Product A", values={Role.CROP: "corn"}),
    registers.Register(entries={Role.FIELD: (registers.RegisterEntry(name="North"),)}),
    events.Switched(language="es", system=System.METRIC),
    SHIFT_STARTED,
    NOTED,
    events.TakenBack(report=Report.STOPPED),
    DOUBTED,
    EMPTIED,
    LOOK,
    FOUND,
    events.Finished(dialog="set-up", skipped=("longest",)),
    LEFT,
    events.Cancelled(dialog="set-up", values={"speed": TINY}, skipped=("longest",), left=LEFT),
    LEVEL,
    OVER,
    *(INTERVAL, ROUND, ACCOUNT, LEDGER),
    *(PAUSE, DRIVEN, AREA_TOLD, SHIFT, SHIFTING),
    states.Before(state=SHIFTING, did=NOTED),
    WAY,
    questions.Question(about=questions.QuestionKind.WAY, ways=(WAY,), key="shift_full_or_top", figures={"a": "4 lb"}),
    READING,
    QUESTION,
    states.Before(state=PLAIN, did=KEPT),
    AGAIN,
    DIALOG,
    ENDED,
    BOOK,
    states.ConversationState(language="es", system=System.METRIC, dialog=DIALOG, book=BOOK, misheard=2),
    MARKS.setting(1),
    *(NUMBERED, MARKS, GRAMS),
    *OUTBOX_SAMPLES,
)  # fmt: skip


def door_classes() -> set[type[BaseModel]]:
    """Every model defined in a module of the doors."""
    return {
        one
        for module in DOORS
        for one in vars(module).values()
        if isinstance(one, type) and issubclass(one, BaseModel) and one.__module__ == module.__name__
        if one not in (Message, outbox_message.WordedMessage) and not one.__name__.startswith("_")
    }


def test_everything_that_crosses_a_door_has_a_sample() -> None:
    assert len(door_classes()) > 30
    assert door_classes() - {type(sample) for sample in SAMPLES} == set()


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: type(sample).__name__)
def test_it_travels_as_json_without_loss(sample: BaseModel) -> None:
    text = json.dumps(sample.model_dump(mode="json"), ensure_ascii=True)
    back = type(sample).model_validate_json(text)
    assert back == sample
    assert json.dumps(back.model_dump(mode="json"), ensure_ascii=True) == text


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: type(sample).__name__)
def test_a_sample_is_closed_and_frozen(sample: BaseModel) -> None:
    assert sample.model_config.get("frozen")
    with pytest.raises(ValidationError):
        type(sample).model_validate({**sample.model_dump(), "unknown": 1})


KINDS = [sample for sample in SAMPLES if "kind" in type(sample).model_fields]


def test_every_fact_is_found_again_by_its_kind() -> None:
    rooms = (events.__name__, book_facts.__name__, neighbours.__name__, shift_facts.__name__)
    facts = [sample for sample in KINDS if type(sample).__module__ in rooms]
    dialog = len(DialogFact.__origin__.__args__)  # type: ignore[attr-defined]
    activity = {kind for kind in ActivityFact.known.values() if kind.__module__.startswith("engine.")}
    assert len(activity) > 5 and {type(fact) for fact in facts} >= activity
    assert len({type(fact) for fact in facts}) == dialog + len(activity)
    for fact in facts:
        body = json.loads(json.dumps(write_fact(fact)))  # type: ignore[arg-type]
        assert read_fact(body) == fact


def test_every_entry_is_found_again_by_its_kind() -> None:
    entries = [sample for sample in KINDS if type(sample).__module__ == messages.__name__ and not isinstance(
        sample, expectation.ExpectedSlot)]  # fmt: skip
    adapter: TypeAdapter[Entry] = TypeAdapter(Entry)
    assert len(entries) == len(Entry.__origin__.__args__)  # type: ignore[attr-defined]
    for entry in entries:
        assert adapter.validate_json(adapter.dump_json(entry)) == entry  # type: ignore[arg-type]


VALUES: tuple[Value, ...] = (GRAMS, MARKS.setting(1), MARKS, NUMBERED, 12, 0, "12", "12 g", "", "A+")


@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_a_value_keeps_its_kind(value: Value) -> None:
    adapter: TypeAdapter[Value] = TypeAdapter(Value)
    back = adapter.validate_json(adapter.dump_json(value))
    assert (type(back), back) == (type(value), value)
