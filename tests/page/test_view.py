"""A phone shows what the engine expects and the sheets say, and what it sends is understood in each language."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.page.texts import PageKey, PageTexts
from bot.page.views.messages import RowStanding
from bot.page.views.newest import newest_calibration, newest_shift
from bot.sheet.sheet import sheet
from bot.sheet.words import sheet_words
from engine.dialog.schema.slot_roles import Phase
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.history.records import calibrations
from engine.history.shifts import shifts
from engine.history.store.journal import Journal
from engine.messages import Command, Commanded, Decision, Given, Language, Report, Reported, System, Utterance
from engine.quantities import unit_called
from engine.understanding.reader import understand
from tests.helpers.page_host import PageHost
from tests.helpers.planting import plant
from tests.helpers.talking import beginnings

PREPARED = {"en": ("prepared", "catching"), "es": ("preparada", "pesando")}
FINISHED = {"en": "finished", "es": "terminada"}
PLANTING = {"en": "planting", "es": "sembrando"}


@pytest.fixture(params=["en", "es"])
def spoken(request: pytest.FixtureRequest, tmp_path: Path) -> PageHost:
    """A page in each language that is not asked over any network."""
    made = PageHost(tmp_path / "record.db", request.param)
    made.stop()
    request.addfinalizer(made.close)
    return made


def language_of(host: PageHost) -> Language:
    return host.settings.language


def said(host: PageHost, *places: str) -> None:
    host.elsewhere(*(text for place in places for text in beginnings()[place]))


def view(host: PageHost):  # type: ignore[no-untyped-def]
    from bot.page.assembly import page_parts

    parts = page_parts(host.settings, host.record, "127.0.0.1", 1)
    return parts.hub._eye.views.view(datetime.now(UTC))


def meant(host: PageHost, text: str):  # type: ignore[no-untyped-def]
    assistant, language = host.parts.taker.assistant, language_of(host)
    line = Utterance(id="x", conversation="console", text=text, language=language, said_at=datetime.now(UTC))
    return understand(line, assistant.expectation("console"), load_vocabulary(language))


def symbol(said: str) -> str:
    found = unit_called(said)
    return found.symbol if found else said


def told(host: PageHost, key: PageKey, unit: str) -> tuple[str, list[Given]]:
    """A number as the pad sends it, the first of some that is in the range of what is asked, and what is kept of it."""
    line = ""
    for value in ("12", "2", "0.5", "120", "0.05"):
        values = {"row": "2", "value": value, "unit": unit}
        line = filled(host, key, **{name: values[name] for name in key.given}).strip()
        if kept := [one for one in meant(host, line).entries if isinstance(one, Given)]:
            return line, kept
    return line, []


def filled(host: PageHost, key: PageKey, **values: str) -> str:
    return PageTexts.load().say(key, language_of(host), **values)


def test_every_number_pad_says_what_is_kept_with_each_unit_and_row(spoken: PageHost) -> None:
    """At every question of a set-up, a test run and the start of a shift: the unit as it is sent is the unit meant."""
    language, seen = language_of(spoken), set()
    places = [*PREPARED[language], FINISHED[language], PLANTING[language]]
    for text in (text for place in places for text in beginnings()[place]):
        now = view(spoken)
        for pad in now.pads:
            for unit in pad.units if now.opened and not pad.says else ():
                keys = (PageKey.ROW_VALUE_SAYS, PageKey.ALL_VALUE_SAYS) if pad.rows else (PageKey.VALUE_SAYS,)
                for key in keys:
                    line, kept = told(spoken, key, unit.says)
                    assert kept, (line, now.question)
                    assert {getattr(one.value, "unit", unit.says) for one in kept} == {symbol(unit.says)}, line
                    if key is PageKey.ROW_VALUE_SAYS:
                        assert {one.row for one in kept} == {2}
                    seen.add((pad.name, unit.says))
        spoken.elsewhere(text)
    assert len(seen) > 25


def test_commands_and_answers_are_understood_in_their_language(spoken: PageHost) -> None:
    said(spoken, PREPARED[language_of(spoken)][0])
    spoken.elsewhere(beginnings()[PREPARED[language_of(spoken)][1]][0])
    wanted = {
        PageKey.UNDO_SAYS: Command.SCRATCH,
        PageKey.SKIP_SAYS: Command.SKIP,
        PageKey.BACK_SAYS: Command.BACK,
        PageKey.DONE_SAYS: Command.DONE,
        PageKey.HELP_SAYS: Command.HELP,
        PageKey.CANCEL_SAYS: Command.CANCEL,
        PageKey.WHAT_LEFT_SAYS: Command.STATUS,
    }
    for key, command in wanted.items():
        entries = meant(spoken, filled(spoken, key)).entries
        assert [one.command for one in entries if isinstance(one, Commanded)] == [command], key


def test_reports_of_a_shift_are_understood_in_their_language(spoken: PageHost) -> None:
    language = language_of(spoken)
    said(spoken, *PREPARED[language], FINISHED[language], PLANTING[language])
    now = view(spoken)
    assert [one.says for one in now.buttons] and now.pads[0].says == PageKey.ACRES_SAYS
    area = filled(spoken, PageKey.ACRES_SAYS, value="3", unit=now.pads[0].units[0].says)
    wanted = {
        filled(spoken, PageKey.ALL_GOOD_SAYS): Report.GOOD,
        filled(spoken, PageKey.PAUSE_SAYS): Report.PAUSED,
        filled(spoken, PageKey.END_SHIFT_SAYS): Report.ENDED,
        filled(spoken, PageKey.ROW_STOPPED_SAYS, row="5"): Report.STOPPED,
        filled(spoken, PageKey.ROW_HIGH_SAYS, row="5"): Report.HIGH,
        filled(spoken, PageKey.ROW_RUNS_SAYS, row="5"): Report.RUNS,
        area: Report.PLANTED,
    }
    for text, report in wanted.items():
        found = meant(spoken, text)
        assert [one.report for one in found.entries if isinstance(one, Reported)] == [report], (text, found)
        assert found.decision is Decision.KEEP, text
    spoken.elsewhere(filled(spoken, PageKey.PAUSE_SAYS))
    again = meant(spoken, filled(spoken, PageKey.GO_ON_SAYS))
    assert [one.report for one in again.entries if isinstance(one, Reported)] == [Report.WENT_ON]
    assert filled(spoken, PageKey.GO_ON_SAYS) in [one.says for one in view(spoken).buttons]


def test_row_options_are_understood_for_one_row_and_for_all(spoken: PageHost) -> None:
    spoken.elsewhere(*{"en": ("ready check", "8"), "es": ("revisión", "8")}[language_of(spoken)])
    now = view(spoken)
    assert len(now.row_buttons) > 4
    for option in now.row_buttons:
        one = meant(spoken, filled(spoken, PageKey.ROW_SAYS, row="3", text=option.says)).entries
        assert [entry.row for entry in one if isinstance(entry, Given)] == [3], option
        every = meant(spoken, filled(spoken, PageKey.ALL_SAYS, text=option.says)).entries
        assert len([entry for entry in every if isinstance(entry, Given)]) == 8, option


def test_the_grid_is_the_sheet_and_nothing_else(spoken: PageHost) -> None:
    language = language_of(spoken)
    said(spoken, *PREPARED[language])
    spoken.elsewhere(*{"en": beginnings()["caught"], "es": beginnings()["pesada"]}[language])
    during = view(spoken).grid
    spoken.elsewhere(*beginnings()[FINISHED[language]])
    record = calibrations(spoken.journal.turns("console"))[-1]
    drawn = {row.row: row for row in sheet(record, sheet_words(language, spoken.settings.zone)).rows}
    after = view(spoken).grid
    assert {tile.row: (tile.standing, tile.off, tile.low, tile.high) for tile in after.tiles} == {
        row: (RowStanding(one.mark), one.off, one.low, one.high) for row, one in drawn.items()
    }
    assert after.tolerance == 5.0
    assert [tile.standing for tile in during.tiles][:2] == [RowStanding.ASKED, RowStanding.OPEN]
    assert any(tile.off is not None and tile.value for tile in during.tiles), "a row to move says to where"


def test_rows_told_as_down_are_named_in_a_shift(spoken: PageHost) -> None:
    language = language_of(spoken)
    said(spoken, *PREPARED[language], FINISHED[language], PLANTING[language])
    spoken.elsewhere(filled(spoken, PageKey.ROW_STOPPED_SAYS, row="5"))
    tiles = view(spoken).grid.tiles
    assert [tile.row for tile in tiles if tile.standing is RowStanding.DOWN] == [5]
    assert tiles[4].word == filled(spoken, PageKey.ROW_STOPPED)


def test_records_read_from_their_start_are_those_of_the_whole_conversation(tmp_path: Path) -> None:
    from engine.database import open_database

    database = open_database(str(tmp_path / "night.db"))
    plant(database, conversation="console")
    journal = Journal(database)
    turns = journal.turns("console")
    assert newest_calibration(journal, "console", System.US) == calibrations(turns)[-1]
    assert newest_shift(journal, "console", System.US) == shifts(turns)[-1]
    assert calibrations(turns, Phase.SET_UP)
    database.close()


def test_a_question_is_cut_from_the_reply_and_nothing_of_it_is_lost(spoken: PageHost) -> None:
    for text in beginnings()[PREPARED[language_of(spoken)][0]]:
        turn = spoken.elsewhere(text)
        now = view(spoken)
        if now.opened:
            assert "\n".join(filter(None, (now.said, now.question))) == turn.reply.text
        else:
            assert now.said == turn.reply.text
