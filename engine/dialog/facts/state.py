"""Where a conversation stands: one dialog, and what is known beside it. How facts change it stands in ``fold``."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import AwareDatetime

from engine.dialog.activity import AnyReport, AnyState
from engine.dialog.facts.book import Book
from engine.dialog.facts.book_facts import RepairDropped, RowsRepaired
from engine.dialog.facts.events import Kept, LeftOut, Skipped, TakenBack, TakenIn, ToldStep, Withdrawn
from engine.dialog.facts.question import Question
from engine.dialog.schema.slot_roles import Phase, Records, Role, name_in
from engine.document import Document
from engine.messages import Language, Message, System
from engine.values import Rows, Value


class Before(Message):
    """The state before something was kept, skipped or reported, and what that was."""

    state: DialogState
    did: Kept | Skipped | LeftOut | RowsRepaired | AnyReport

    def taken_back(self, left_out: Mapping[int, str]) -> TakenBack | TakenIn | RepairDropped | Withdrawn:
        """The fact that takes it back; ``left_out`` are the rows that are done without by now."""
        match self.did:
            case LeftOut(rows=rows, before=before):
                still = {row: why for row, why in before.items() if row in left_out}
                return TakenIn(rows=tuple(row for row in rows if row not in still), undone=True, still=still)
            case RowsRepaired(rows=rows):
                return RepairDropped(rows=rows, undone=True)
            case Kept(slot=slot, row=row, run=run, value=value):
                return Withdrawn(slot=slot, row=row, run=run, value=value)
            case Skipped(slot=slot, row=row, run=run):
                return Withdrawn(slot=slot, row=row, run=run)
            case report:
                return TakenBack(report=report.report)


class Again(Message):
    """A slot, or a row of it, whose value is to be given anew."""

    slot: str
    row: int | None = None


class DialogState(Message):
    """Where one dialog stands."""

    dialog: str
    """Its name."""
    script: str
    """Hash of the script that it began with and goes on by."""
    phase: Phase | None = None
    """What part of the work it is for."""
    records: Records = {}
    """What its names mean: a role for each."""
    step: str = ""
    """The step that it stands at, by its name."""
    run: int = 1
    """The test run that it is in, from 1."""
    values: dict[str, Value] = {}
    """What was told or computed, by slot or result."""
    rows: dict[str, Rows] = {}
    """The same for what goes by rows, of this run."""
    skipped: tuple[str, ...] = ()
    """Slots that were passed over."""
    skipped_rows: dict[str, tuple[int, ...]] = {}
    """Rows that were passed over, by slot."""
    runs: tuple[dict[str, Rows], ...] = ()
    """Per-row values of the runs before this one, oldest first."""
    recalled: dict[str, tuple[Rows, ...]] = {}
    """Per-row values of every run of earlier dialogs, by name."""
    offers: dict[str, str] = {}
    """Names that a plain yes keeps, by slot."""
    fresh: bool = False
    """Whether something common to all rows has changed, so that nothing before it counts any more."""
    every: bool = False
    """Whether no row is spared in this run."""
    told: tuple[ToldStep, ...] = ()
    """Steps whose texts were said."""
    again: Again | None = None
    """The place to be asked for first, as it is being corrected."""
    questions: tuple[Question, ...] = ()
    """What is asked in between; the first one is open."""
    undo: tuple[Before, ...] = ()
    """States before the last things kept, skipped or reported, newest last; they have no undo of their own."""
    activity: AnyState | None = None
    """Where that stands which a step watches."""
    left_out: tuple[int, ...] = ()
    """Rows that are done without."""
    applied: AwareDatetime | None = None
    """First moment of what was applied, where the dialog is about that."""
    documents: tuple[Document, ...] = ()
    """Documents that were given of what it tells."""

    def value(self, slot: str, row: int | None = None) -> Value | None:
        return self.values.get(slot) if row is None else self.rows.get(slot, {}).get(row)

    def known(self, name: str) -> Value | Rows | None:
        """What it knows under a name, per row where it is that."""
        return self.rows[name] if name in self.rows else self.values.get(name)

    def of(self, role: Role) -> Value | Rows | None:
        """What it knows of a role, per row where it is that."""
        return self.known(name_in(self.records, role) or "")

    def rows_of(self, role: Role) -> Rows:
        """The per-row values of a role in this run; none where it has none."""
        return self.rows.get(name_in(self.records, role) or "", {})

    def is_open(self, slot: str, row: int | None = None) -> bool:
        """Whether a slot, or a row of it, has neither a value nor been skipped in this run."""
        if row is None:
            return slot not in self.values and slot not in self.skipped
        return row not in self.rows.get(slot, {}) and row not in self.skipped_rows.get(slot, ())

    def every_run(self, name: str) -> tuple[Rows, ...]:
        """A per-row value in each run so far, oldest first; of earlier dialogs where it was recalled."""
        if name in self.recalled:
            return self.recalled[name]
        return (*(run.get(name, {}) for run in self.runs), self.rows.get(name, {}))

    def as_of(self, run: int) -> DialogState:
        """The same with the per-row values of an earlier run, where they are still known."""
        place = run - (self.run - len(self.runs))
        if not 0 <= place < len(self.runs):
            return self
        return self.model_copy(update={"run": run, "rows": self.runs[place]})

    @property
    def as_judged(self) -> DialogState | None:
        """The same as of its newest run that has verdicts; None where none has."""
        runs = range(self.run, self.run - len(self.runs) - 1, -1)
        return next((one for run in runs if (one := self.as_of(run)).rows_of(Role.VERDICT)), None)

    @property
    def last_rows(self) -> dict[str, Rows]:
        """Every per-row value, of each row the newest there is."""
        names = dict.fromkeys(name for run in (*self.runs, self.rows) for name in run)
        return {name: {row: value for rows in self.every_run(name) for row, value in rows.items()} for name in names}


class ConversationState(Message):
    """All that is known of one conversation. ``misheard`` counts unclear utterances in a row."""

    language: Language
    system: System = System.US
    dialog: DialogState | None = None
    book: Book = Book()
    misheard: int = 0
