"""One turn in the making: facts are added one by one, the state follows, lines of the reply pile up.

It goes on until the dialog needs an answer. It never looks at a clock, a file or a database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

from engine.calculations.catalogue import Argument, stored
from engine.calculations.formulas import formulas
from engine.dialog.activity import Activity
from engine.dialog.facts.book_facts import RowsRepaired
from engine.dialog.facts.events import (
    Cancelled,
    Computed,
    Fact,
    Finished,
    Kept,
    LeftOut,
    Moved,
    Reopened,
    RunStarted,
    Skipped,
    StepsTold,
    ToldStep,
)
from engine.dialog.facts.fold import apply
from engine.dialog.facts.question import Question
from engine.dialog.facts.state import Before, ConversationState, DialogState
from engine.dialog.facts.waiting import is_waiting, waiting
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.step_text import step_texts
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.script import (
    NEXT,
    Ask,
    Branch,
    Collect,
    Compute,
    Finish,
    Listing,
    Preset,
    Redo,
    Refuse,
    Say,
    Script,
    Step,
    Watch,
    asks,
)
from engine.dialog.script_library import Library
from engine.dialog.turns.cautions import added, is_said
from engine.dialog.turns.elements import FEDERAL, RecordTime
from engine.dialog.turns.ending import note_finish
from engine.dialog.turns.opening import SOON, skipped_for_good
from engine.dialog.turns.value_checks import refusal
from engine.errors import InputError
from engine.values import Rows, Value

NEVER = datetime.min.replace(tzinfo=UTC)


@dataclass(frozen=True)
class TurnRules:
    """What every turn goes by. ``presets`` come from the settings; ``numbers`` are telephone numbers by name.

    ``activities`` are what steps that watch hand over to, by the names dialog files have for them; ``zone`` is where
    the clock on the wall hangs, ``within`` the time that application records may take.
    """

    library: Library
    presets: Mapping[Preset, Value] = field(default_factory=dict)
    numbers: Mapping[str, str] = field(default_factory=dict)
    activities: Mapping[str, Activity] = field(default_factory=dict)
    zone: str = "UTC"
    within: RecordTime = FEDERAL

    def wording(self, state: ConversationState) -> Wording:
        return Wording(state.language, state.system, self.zone)


class TurnBuilder:
    """Facts and lines of one turn. ``questions`` are those still to be asked when it ends, ``asked`` those that the
    operator had heard when he spoke. ``spoken``: the utterance was heard, not typed; ``before`` is what was answered
    last, and it ``waits`` where nothing is asked. ``now`` is when it was said.
    """

    def __init__(self, rules: TurnRules, state: ConversationState, now: datetime = NEVER) -> None:
        self.rules = rules
        self.library = rules.library
        self.presets = rules.presets
        self.numbers = rules.numbers
        self.state = state
        self.facts: list[Fact] = []
        self.lines: list[str] = []
        self.questions: list[Question] = list(state.dialog.questions) if state.dialog else []
        self.asked = tuple(self.questions)
        self.spoken = False
        self.before = ""
        self.waits = False
        self.now = now
        self.zone = rules.zone
        self.within = rules.within
        self.activities = rules.activities
        self.back_to: int | None = None
        self.set_aside: tuple[Kept | Skipped | LeftOut | RowsRepaired, ...] = ()

    @property
    def wording(self) -> Wording:
        return self.rules.wording(self.state)

    @property
    def dialog(self) -> DialogState:
        if self.state.dialog is None:
            raise ValueError("no dialog is open")
        return self.state.dialog

    @property
    def script(self) -> Script:
        script = self.library.script(self.dialog.script)
        if script is None:
            raise ValueError(f"no script {self.dialog.script}")
        return script

    @property
    def activity(self) -> Activity | None:
        """What the open step hands over to, where it watches."""
        dialog = self.state.dialog
        step = self.script.step(dialog.step) if dialog and dialog.step else None
        return self.activities[step.watch] if isinstance(step, Watch) else None

    def add(self, fact: Fact) -> None:
        self.state = apply(self.state, fact)
        self.facts.append(fact)

    def say(self, key: SystemKey | AnswerKey, **values: str) -> None:
        self.lines.append(self.wording.say(key, **values))

    def waits_for(self) -> tuple[str, ...]:
        return waiting(self.script, self.dialog)

    # ------------------------------------------------------------ walking

    def go_on(self, start: int, again: bool = False) -> None:
        """Walk from a step until an answer is needed; ``again`` leaves out texts that cannot have changed."""
        number: int | None = start
        told: list[ToldStep] = []
        while number is not None:
            step = self.script.steps[number]
            if isinstance(step, Say | Listing) and is_said(self, step, again):
                self.lines += [*self.texts(step), *added(self, step)]
                told.append(ToldStep(step=self.script.step_id(number), run=self.dialog.run))
            number = self._stride(number, step)
        if self.state.dialog is not None and told:
            self.add(StepsTold(steps=tuple(told)))

    def texts(self, step: Step, run: int | None = None) -> list[str]:
        """What a step says; of an earlier run where one is given."""
        return step_texts(step, self.script, self.wording, self.dialog if run is None else self.dialog.as_of(run))

    def _stride(self, number: int, step: Step) -> int | None:
        """Do one step; the number of the next one, None where an answer is waited for."""
        match step:
            case Say(then=then) | Listing(then=then):
                return self._after(number, then)
            case Ask() | Collect():
                return self._stop_or_pass(number, step)
            case Compute():
                return self._compute(number, step)
            case Branch(branch=name, cases=cases):
                return self._after(number, cases[str(self.dialog.values[name])])
            case Redo():
                return self._redo(step)
            case Watch(then=then):
                return self._stop_or_go_on(number, then, bool(self.dialog.activity and self.dialog.activity.ended))
            case Finish() | Refuse():
                self.lines += self.texts(step)
                self._end(isinstance(step, Finish))
                return None
            case _:
                raise TypeError(f"{type(step).__name__} is no step")

    def _end(self, finished: bool) -> None:
        name, phase = self.dialog.dialog, self.dialog.phase
        skipped = skipped_for_good(self.script, self.dialog.skipped)
        if finished:
            note_finish(self)
            self.add(Finished(dialog=name, phase=phase, skipped=skipped, at=self.now if self.now > NEVER else None))
        else:
            self.add(Cancelled(dialog=name, phase=phase, skipped=skipped))
        for dialog, left in self.state.book.left.items():
            script = self.library.scripts.get(dialog)
            if finished and script and script.after == name and self.now - left.at <= SOON:
                self.say(SystemKey.GO_BACK, word=script.opening(self.state.language))

    def _after(self, number: int, then: str) -> int:
        return number + 1 if then == NEXT else self.script.places[then]

    def _stop_or_pass(self, number: int, step: Ask | Collect) -> int | None:
        for slot in asks(step):
            self._look_again(slot)
        waits = any(is_waiting(self.script, self.dialog, slot) for slot in asks(step))
        return self._stop_or_go_on(number, step.then, not waits)

    def _stop_or_go_on(self, number: int, then: str, done: bool) -> int | None:
        if done:
            return self._after(number, then)
        if self.dialog.step != self.script.step_id(number):
            self.add(Moved(step=self.script.step_id(number)))
        return None

    def _look_again(self, slot: str) -> None:
        """Open the values of a slot again that were fine once but do not fit what was corrected since."""
        if not self.script.slots[slot].checks:
            return
        rows: Rows = self.dialog.rows.get(slot, {})
        places = [(None, self.dialog.values[slot])] if slot in self.dialog.values else [*rows.items()]
        for row, value in places:
            refused = refusal(self, slot, value)
            if refused is not None:
                self.lines.append(refused)
                self.add(Reopened(slot=slot, row=row, run=self.dialog.run, value=value))

    def _redo(self, step: Redo) -> int:
        target = self.script.places[step.redo]
        asked = self.script.asked_at.items()
        later = (slot for slot, at in asked if at >= target and slot not in self.script.remembers)
        cleared = tuple(sorted({*later, *(name for name, slot in self.script.slots.items() if slot.per_row)}))
        rows = self.dialog.rows
        held: dict[str, Rows] = {} if step.only else rows
        carried = {slot: {**held.get(slot, {}), **rows.get(name, {})} for slot, name in step.carry.items()}
        taken = {name: rows[name] for name in (*self.script.takes, *self.script.may_take) if name in rows}
        carried, run = {**taken, **carried}, self.dialog.run + 1
        self.add(RunStarted(run=run, cleared=cleared, carried=carried, fresh=step.fresh, every=step.every))
        for did in self.set_aside:
            self.add(did)
        self.set_aside = ()
        return target

    def _compute(self, number: int, step: Compute) -> int | None:
        try:
            outcome = self.compute(
                self.script.step_id(number), step.compute, self.arguments(step.with_, step.runs), step.into
            )
        except InputError:
            self._take_back()
            return None
        then = step.then[outcome] if step.then and outcome else NEXT
        return self._after(number, then)

    def compute(
        self, step: str, formula: str, arguments: Mapping[str, Argument | None], into: Mapping[str, str]
    ) -> str | None:
        """Work a formula out at a step and note what it gave, ``into`` by result; its outcome. Raises InputError."""
        found = formulas()[formula].evaluate(arguments)
        self.add(
            Computed(
                step=step,
                run=self.dialog.run,
                formula=formula,
                arguments={name: stored(value) for name, value in arguments.items() if value is not None},
                results={name: found.results[key] for key, name in into.items() if key in found.results},
                outcome=found.outcome,
            )
        )
        return found.outcome

    def _take_back(self) -> None:
        """An answer that no formula can work with is taken back, so that it is asked again."""
        self.say(SystemKey.CANNOT_COMPUTE)
        if self.dialog.undo:
            self.withdraw()
        else:
            self.add(Cancelled(dialog=self.dialog.dialog, phase=self.dialog.phase))

    def arguments(
        self, names: Mapping[str, str], runs: Mapping[str, str], this: Value | None = None
    ) -> dict[str, Argument]:
        """The arguments of a formula, None for those that are not known."""
        single = {argument: this if name == "this" else self.dialog.known(name) for argument, name in names.items()}
        return {**single, **{argument: self._runs(name) for argument, name in runs.items()}}

    def _runs(self, name: str) -> tuple[Rows, ...] | None:
        """A per-row value of every run; None where it should be recalled and nothing fitting is known."""
        recalls = self.script.recalls
        return None if name in recalls and name not in self.dialog.recalled else self.dialog.every_run(name)

    # ------------------------------------------------------------ going back

    def withdraw(self) -> Before:
        """Take back the last thing kept, skipped or reported; everything is as it was before it."""
        last = self.dialog.undo[-1]
        self.add(last.taken_back(self.state.book.left_out))
        return last
