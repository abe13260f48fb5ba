"""All rows at a glance: which are still open, what was told of each, and how each stands by the sheet of its run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import tzinfo

from bot.page.texts import PageKey, PageTexts
from bot.page.views.messages import RowGrid, RowStanding, RowTile
from bot.page.views.newest import newest_calibration
from bot.sheet.sheet import RowMark, RunSheet, SheetRow, sheet
from bot.sheet.words import sheet_words
from engine.assistant import Assistant
from engine.dialog.facts.state import ConversationState, DialogState
from engine.dialog.reply.wording import Wording
from engine.dialog.schema.slot_roles import Phase, Role
from engine.expectation import Expectation, ExpectedSlot
from engine.history.records import Calibration, calibration_now
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Report
from engine.shift.record.shift_state import ShiftState

STANDINGS = {
    RowStanding.OPEN: PageKey.ROW_OPEN,
    RowStanding.ASKED: PageKey.ROW_ASKED,
    RowStanding.TOLD: PageKey.ROW_TOLD,
    RowStanding.NOTHING: PageKey.ROW_NOTHING,
}


@dataclass(frozen=True)
class RowOverview:
    """Makes the grid of one conversation; ``zone`` is where the clock on the wall hangs."""

    assistant: Assistant
    journal: Journal
    texts: PageTexts
    zone: tzinfo

    def grid(self, talk: str, last: StoredTurn | None) -> RowGrid:
        """The rows as they stand after the ``last`` turn; nothing before there are any."""
        state, expects = self.assistant.state(talk), self.assistant.expectation(talk)
        asked = next((slot for slot in expects.slots if slot.per_row), None)
        if state.dialog and isinstance(state.dialog.activity, ShiftState):
            return self._watched(state, state.dialog.activity)
        drawn = self._drawn(talk, state, last)
        if asked is not None and state.dialog:
            return self._collected(talk, state, expects, asked, drawn)
        return _judged(drawn) if drawn and (state.dialog is None or _calibrates(state.dialog)) else RowGrid()

    def _drawn(self, talk: str, state: ConversationState, last: StoredTurn | None) -> RunSheet | None:
        """The sheet of the newest run that was judged."""
        if last is None or (state.dialog and not _calibrates(state.dialog)):
            return None
        record = self._record(talk, state, last)
        if record is None or not any(run.rows.get(Role.NET) and run.rows.get(Role.VERDICT) for run in record.runs):
            return None
        return sheet(_as_judged(record), sheet_words(state.language, self.zone))

    def _record(self, talk: str, state: ConversationState, last: StoredTurn) -> Calibration | None:
        if state.dialog:
            return calibration_now(state.dialog, last, state.system)
        return newest_calibration(self.journal, talk, state.system)

    def _collected(
        self,
        talk: str,
        state: ConversationState,
        expects: Expectation,
        asked: ExpectedSlot,
        drawn: RunSheet | None,
    ) -> RowGrid:
        """The rows while they are asked for one after another; what an earlier run gave stands under each."""
        wording = Wording(state.language, state.system)
        slot = self.assistant.slot(talk, asked.name)
        found = {row.row: row for row in drawn.rows} if drawn else {}
        left_out = state.dialog.left_out if state.dialog else ()
        tiles = []
        for row in range(1, (expects.rows or 0) + 1):
            standing = _standing(row, asked, left_out)
            value = wording.value(asked.told[row], slot) if row in asked.told else ""
            tiles.append(self._tile(row, standing, value, found.get(row), state))
        title = slot.name.of(state.language) if slot else ""
        return RowGrid(title=title, tolerance=drawn.tolerance if drawn else None, tiles=tuple(tiles))

    def _tile(
        self, row: int, standing: RowStanding, value: str, found: SheetRow | None, state: ConversationState
    ) -> RowTile:
        word = self.texts.say(STANDINGS[standing], state.language) if standing in STANDINGS else ""
        if standing is RowStanding.LEFT_OUT and found:
            word = found.catch
        detail = ", ".join(filter(None, (found.setting, found.verdict))) if found else ""
        own = _percents(found) if found else {}
        if found and found.mark is RowMark.MOVE and not value:
            value = found.setting
        return RowTile(row=row, standing=standing, word=word, value=value, detail=detail, **own)

    def _watched(self, state: ConversationState, shift: ShiftState) -> RowGrid:
        """The rows that plant: those told as stopped or high are named."""
        tiles = tuple(
            RowTile(
                row=row,
                standing=RowStanding.DOWN if row in shift.troubled else RowStanding.NOTHING,
                word=self.texts.say(self._trouble(shift.troubled, row), state.language),
            )
            for row in shift.rows
        )
        return RowGrid(title=self.texts.say(PageKey.ROWS_NOW, state.language), tiles=tiles)

    def _trouble(self, troubled: Mapping[int, Report], row: int) -> PageKey:
        if row not in troubled:
            return PageKey.ROW_NOTHING
        return PageKey.ROW_STOPPED if troubled[row] is Report.STOPPED else PageKey.ROW_HIGH


def _calibrates(dialog: DialogState) -> bool:
    return dialog.phase is Phase.CALIBRATION


def _as_judged(record: Calibration) -> Calibration:
    """The calibration up to its newest run with verdicts: what is being caught now is not judged yet."""
    runs = [run for run in record.runs if run.rows.get(Role.VERDICT)]
    kept = tuple(run for run in record.runs if run.number <= runs[-1].number)
    return replace(record, runs=kept)


def _standing(row: int, asked: ExpectedSlot, left_out: tuple[int, ...]) -> RowStanding:
    if row in left_out:
        return RowStanding.LEFT_OUT
    if row == asked.next_row:
        return RowStanding.ASKED
    if row in asked.open_rows:
        return RowStanding.OPEN
    return RowStanding.TOLD if row in asked.told else RowStanding.NOTHING


def _judged(drawn: RunSheet) -> RowGrid:
    """The rows as the sheet of their run has them, in their order across the planter."""
    tiles = tuple(
        RowTile(
            row=row.row,
            standing=RowStanding(row.mark),
            word=drawn.legend[row.mark],
            value=row.last if row.setting else "",
            detail=", ".join(filter(None, (row.catch if row.catch != row.last else "", row.setting, row.verdict))),
            **_percents(row),
        )
        for row in sorted(drawn.rows, key=lambda one: one.row)
    )
    return RowGrid(title=drawn.title, summary=drawn.summary, tolerance=drawn.tolerance, tiles=tiles)


def _percents(row: SheetRow) -> dict[str, float | None]:
    return {"off": row.off, "low": row.low, "high": row.high}
