"""The last verdict told again, of all rows or of one, in the words of the dialog that gave it."""

from __future__ import annotations

from dataclasses import dataclass

from engine.data.texts import everywhere
from engine.dialog.facts.book import Ended
from engine.dialog.facts.role_values import as_measure
from engine.dialog.facts.state import DialogState
from engine.dialog.reply.step_text import listing
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Listing, Script
from engine.dialog.schema.slot import Result, Shown
from engine.dialog.schema.slot_roles import Role, name_in
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure
from engine.values import Value

OFF = Result(name=everywhere("-"), shown=Shown(us="%", metric="%"), decimals=1, signed=True)
"""How far off a catch is, as it is told of any row."""


@dataclass(frozen=True)
class Judged:
    """A dialog as it stood when its last run was judged, and as it stands."""

    script: Script
    dialog: DialogState
    now: DialogState

    @property
    def step(self) -> Listing | None:
        """The list that tells the verdict."""
        name = name_in(self.script.records, Role.VERDICT)
        return next((one for one in self.script.steps if isinstance(one, Listing) and one.list_ == name), None)


def verdict_told(builder: TurnBuilder, row: int | None) -> None:
    """Say the last verdict again, of one row where one is named; says so where nothing was judged."""
    found = last_judged(builder)
    if found is None or found.step is None:
        builder.say(SystemKey.NO_VERDICT)
    elif row is None:
        builder.lines += listing(found.step, found.script, builder.wording, found.dialog)
    elif row not in found.dialog.rows[found.step.list_]:
        builder.say(SystemKey.NO_VERDICT_ROW, row=str(row))
    else:
        text = found.step.each.get(str(found.dialog.rows[found.step.list_][row]))
        if text is None or name_in(found.script.records, Role.ERROR) not in text.names:
            _catch_told(builder, found.dialog, row)
        _row_told(builder, found, found.step, row)


def _row_told(builder: TurnBuilder, found: Judged, step: Listing, row: int) -> None:
    words = found.dialog.rows[step.list_]
    alone = found.dialog.model_copy(update={"rows": {**found.dialog.rows, step.list_: {row: words[row]}}})
    builder.lines += listing(step.model_copy(update={"title": None}), found.script, builder.wording, alone)


def why_told(builder: TurnBuilder, row: int | None) -> None:
    """Say what a row gave run by run at which setting, as far as the dialog goes back, and its verdict; nothing else
    has a reason."""
    if row is None:
        builder.say(SystemKey.NO_WHY)
        return
    found = last_judged(builder)
    if found is None or found.step is None or row not in found.dialog.rows[found.step.list_]:
        verdict_told(builder, row)
        return
    for run in range(found.now.run - len(found.now.runs), found.now.run + 1):
        _catch_told(builder, found.now.as_of(run), row)
    _row_told(builder, found, found.step, row)


def _catch_told(builder: TurnBuilder, dialog: DialogState, row: int) -> None:
    caught = catch_of(dialog, row)
    if caught is None:
        return
    net, setting, error = caught
    told = {"run": str(dialog.run), "row": str(row), "setting": str(setting), "value": builder.wording.value(net, None)}
    if error is not None:
        builder.say(SystemKey.CATCH_OFF, **told, off=builder.wording.shown(error, OFF))
    else:
        builder.say(SystemKey.CATCH_OF_RUN, **told)


def catch_of(dialog: DialogState, row: int) -> tuple[Measure, Value, Measure | None] | None:
    """What a row gave in this run, at which setting, and how far off that is where it was judged; None where it was
    not caught."""
    net, setting, error = (dialog.rows_of(role).get(row) for role in (Role.NET, Role.SETTING, Role.ERROR))
    return (net, setting, as_measure(error)) if isinstance(net, Measure) and setting is not None else None


def last_judged(builder: TurnBuilder) -> Judged | None:
    """The open dialog as of its last judged run, else the last finished one that judged any."""
    here = builder.state.dialog
    if here is not None:
        judged = here.as_judged
        if judged is not None:
            return Judged(builder.script, judged, here)
    for ended in reversed(builder.state.book.ended):
        now = _reopened(ended)
        judged = now.as_judged
        script = builder.library.scripts.get(ended.dialog)
        if judged is not None and script is not None:
            return Judged(script, judged, now)
    return None


def _reopened(ended: Ended) -> DialogState:
    """A finished dialog as it stood in its last run."""
    *before, last = ended.runs
    return DialogState(
        dialog=ended.dialog,
        script="",
        records=ended.records,
        run=len(ended.runs),
        values=ended.values,
        rows=last,
        runs=tuple(before),
    )
