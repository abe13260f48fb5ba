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
    """Where one dialog stands; ``records`` is what its names mean.

    ``rows`` are per-row values of this run, ``runs`` those of the runs before it.
    ``offers`` are names that a plain yes keeps, by slot. ``recalled`` are per-row values of every run of earlier
    dialogs; in a ``fresh`` one something common has changed, so that nothing before it counts any more. In a run for
    ``every`` row none is spared. ``again`` is the place to be
    asked for first, as it is being corrected.
    ``undo`` goes back over the last things kept, skipped or reported, newest last; the states in it have none of their
    own. ``activity`` is where that stands which a step watches. ``left_out`` are rows that are done without.
    ``applied`` is the first moment of what was applied, where the dialog is about that. ``documents`` were given of
    what it tells.
    """

    dialog: str
    script: str
    phase: Phase | None = None
    records: Records = {}
    step: str = ""
    run: int = 1
    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    skipped: tuple[str, ...] = ()
    skipped_rows: dict[str, tuple[int, ...]] = {}
    runs: tuple[dict[str, Rows], ...] = ()
    recalled: dict[str, tuple[Rows, ...]] = {}
    offers: dict[str, str] = {}
    fresh: bool = False
    every: bool = False
    told: tuple[ToldStep, ...] = ()
    again: Again | None = None
    questions: tuple[Question, ...] = ()
    undo: tuple[Before, ...] = ()
    activity: AnyState | None = None
    left_out: tuple[int, ...] = ()
    applied: AwareDatetime | None = None
    documents: tuple[Document, ...] = ()

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
