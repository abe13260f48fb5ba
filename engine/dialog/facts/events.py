"""Facts: what happened in a conversation, appended once and never changed.

The state of a conversation is the fold of its facts (``fold.fold``), so each fact carries all that the fold needs:
no fact is understood by looking into a dialog file.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, TypeAdapter

from engine.dialog.activity import ActivityFact
from engine.dialog.facts.book_facts import (
    Alarmed,
    Cautioned,
    Documented,
    Filled,
    HoppersLeft,
    Registered,
    Renamed,
    RepairDropped,
    RowsRepaired,
    Stocked,
)
from engine.dialog.facts.neighbours import FarmTold
from engine.dialog.facts.question import Question
from engine.dialog.schema.slot_roles import Phase, Records
from engine.document import Document
from engine.messages import Language, Message, Report, System, UnclearReason
from engine.values import Rows, Value


class Started(Message):
    """A dialog began, pinned to the script with this hash; its phase and records are what its names mean."""

    kind: Literal["started"] = "started"
    dialog: str
    script: str
    phase: Phase | None = None
    records: Records = {}


class Taken(Message):
    """Values known from an earlier dialog, as they stood when this one began; ``skipped`` is not asked again.
    ``offers`` are names that a plain yes keeps, by slot."""

    kind: Literal["taken"] = "taken"
    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    runs: dict[str, tuple[Rows, ...]] = {}
    skipped: tuple[str, ...] = ()
    offers: dict[str, str] = {}
    applied: AwareDatetime | None = None
    """First moment of what was applied, where the dialog is about that."""


class Moved(Message):
    """The dialog stands at this step now."""

    kind: Literal["moved"] = "moved"
    step: str


class Kept(Message):
    """A value was kept, as it was said; ``replaces`` is the value that stood there before in this run.

    ``together`` are the rows that were given it at once, this one among them; empty where it was given to one.
    """

    kind: Literal["kept"] = "kept"
    slot: str
    row: int | None = None
    run: int
    value: Value
    said: str
    replaces: Value | None = None
    together: tuple[int, ...] = ()


class Skipped(Message):
    """A row, or an optional slot, was left out of this run."""

    kind: Literal["skipped"] = "skipped"
    slot: str
    row: int | None = None
    run: int


class Withdrawn(Message):
    """The last thing kept or skipped was taken back: everything is as it was before it."""

    kind: Literal["withdrawn"] = "withdrawn"
    slot: str
    row: int | None = None
    run: int
    value: Value | None = None


class Reopened(Message):
    """A value is to be given again; the old one stays in the record but no longer counts."""

    kind: Literal["reopened"] = "reopened"
    slot: str
    row: int | None = None
    run: int
    value: Value | None = None


class Computed(Message):
    """A formula was evaluated. ``arguments`` are its inputs as they were; it is never recomputed on load."""

    kind: Literal["computed"] = "computed"
    step: str
    run: int
    formula: str
    arguments: dict[str, Value | Rows | tuple[Rows, ...]]
    results: dict[str, Value | Rows]
    outcome: str | None = None


class RunStarted(Message):
    """Another test run: ``cleared`` names are open again, ``carried`` are per-row values to begin with.

    ``fresh``: the runs before it no longer count with it. ``every``: no row is spared in it.
    """

    kind: Literal["run_started"] = "run_started"
    run: int
    cleared: tuple[str, ...]
    carried: dict[str, Rows] = {}
    fresh: bool = False
    every: bool = False


class ToldStep(Message):
    """A step whose text was said, and the run it spoke of."""

    step: str
    run: int


class StepsTold(Message):
    """The steps whose texts were said in this turn, for when it is to be repeated."""

    kind: Literal["told"] = "told"
    steps: tuple[ToldStep, ...]


class Wondered(Message):
    """Questions the operator must answer before the doubtful values are kept; none means all are settled."""

    kind: Literal["wondered"] = "wondered"
    questions: tuple[Question, ...]


class Misheard(Message):
    """Something was said that could not be used; ``also`` marks another part of the same utterance."""

    kind: Literal["misheard"] = "misheard"
    reason: UnclearReason
    said: str
    also: bool = False


class Attached(Message):
    """A document was given of what this dialog tells; it belongs to that once the dialog is finished."""

    kind: Literal["attached"] = "attached"
    document: Document


class Heard(Message):
    """Something was understood again after words that could not be used."""

    kind: Literal["heard"] = "heard"


class Switched(Message):
    """The operator wants another language or other units from now on."""

    kind: Literal["switched"] = "switched"
    language: Language | None = None
    system: System | None = None


class TakenBack(Message):
    """The last report was taken back: everything is as it was before it."""

    kind: Literal["taken_back"] = "taken_back"
    report: Report


class Left(Message):
    """What a dialog begins with when it is begun again soon after it was left for another one."""

    at: AwareDatetime
    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    skipped: tuple[str, ...] = ()


class LeftOut(Message):
    """Rows are done without from now on, in every dialog, until they are taken in again; ``said`` is the reason as it
    was said, empty where none was. ``before`` are the reasons of those that were left out already."""

    kind: Literal["left_out"] = "left_out"
    rows: tuple[int, ...]
    said: str = ""
    before: dict[int, str] = {}


class TakenIn(Message):
    """Rows that were left out are in use again; ``undone`` where leaving them out was taken back.

    ``still`` are rows that had been left out before that, with their reason from then: those stay out.
    """

    kind: Literal["taken_in"] = "taken_in"
    rows: tuple[int, ...]
    undone: bool = False
    still: dict[int, str] = {}


class Finished(Message):
    """The dialog reached its end; what it learned is known to later dialogs. ``skipped`` is not to be asked again.

    ``at`` is when that was said; a fact that lacks it has it from its turn.
    """

    kind: Literal["finished"] = "finished"
    dialog: str
    phase: Phase | None = None
    skipped: tuple[str, ...] = ()
    at: AwareDatetime | None = None


class Cancelled(Message):
    """The dialog was left before its end; its facts stay in the record.

    ``values`` are known to later dialogs all the same, ``skipped`` is not to be asked again, and ``left`` is what it
    goes on with once the other dialog is done.
    """

    kind: Literal["cancelled"] = "cancelled"
    dialog: str
    phase: Phase | None = None
    values: dict[str, Value] = {}
    skipped: tuple[str, ...] = ()
    left: Left | None = None


StepFact = (
    Taken | Filled | Attached | Moved | Kept | Skipped | Withdrawn | TakenBack
    | Reopened | Computed | RunStarted | StepsTold | Wondered
)  # fmt: skip
"""Facts of one dialog, from its beginning to its end."""
BookFact = (
    Registered | Renamed | Documented | Stocked | HoppersLeft | Cautioned | Alarmed | RowsRepaired | RepairDropped
    | FarmTold
)  # fmt: skip
"""Facts that change the book, in a dialog or outside one."""
DialogFact = Annotated[
    Switched | Started | Misheard | Heard | LeftOut | TakenIn | Finished | Cancelled | StepFact | BookFact,
    Field(discriminator="kind"),
]
Fact = DialogFact | ActivityFact
"""Everything that may happen in a conversation."""
DIALOG_FACT: TypeAdapter[DialogFact] = TypeAdapter(DialogFact)
