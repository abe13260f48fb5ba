"""The three parts of the demo, one after the other, on one record that stays."""

from __future__ import annotations

import shlex
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

from rich.console import Console

from bot.settings import CONVERSATION
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.sheet.shift_summary import ShiftSheet
from demo.author import BEGAN
from demo.foreman import DemoForeman
from demo.keeper import ROOT, Keeper
from demo.letters import DemoCall, Orders
from demo.pace import FAST, Pace
from demo.play import Crash, DemoEvent, DemoOperator, DemoSaid
from demo.saving import RowStops, Saved
from demo.screen import DemoScreen
from demo.script_lines import DemoLine, DemoPart, load
from demo.wording import DemoWording, wording
from engine.data.forms import load_forms
from engine.database import Database, open_database
from engine.errors import InputError
from engine.history.records import Calibration, calibrations
from engine.history.store.journal import Journal
from engine.messages import Language, System
from engine.reminders.local_time import LocalTime, zone_called
from speech.recognizer_choice import Preference

PASSED = {"on_target", "closest_notch"}
PLAYED = DemoPart.CALIBRATE, DemoPart.NIGHT


@dataclass(frozen=True)
class DemoShow:
    """Plays the evening onto a record in a ``folder``; ``parts`` are those to be seen. ``zone`` is where it plays."""

    console: Console
    folder: Path
    language: Language
    ears: Preference
    voice: bool
    pace: Pace
    zone: str
    parts: frozenset[DemoPart]

    def play(self) -> Calibration:
        """All of it; gives what the record holds of the calibration."""
        started = time.monotonic()
        self._open()
        with Keeper(self._orders) as keeper:
            for part in self._needed:
                self._talk(keeper, part, [line for line in load() if line.part is part])
        if DemoPart.SUMMARY in self.parts:
            self._summary(time.monotonic() - started)
        return self._calibration()

    def _open(self) -> None:
        unseen = [self._words.parts[part] for part in self._needed if part not in self.parts]
        told = [self._words.spoken if self.voice else self._words.typed]
        told += [self._words.unseen.format(parts=", ".join(unseen))] if unseen else []
        told += [self._words.keys] if self.pace.waits else []
        self._screen.opening(*told)

    def _talk(self, keeper: Keeper, part: DemoPart, lines: list[DemoLine]) -> None:
        """Play a part; one that is not to be seen is typed, in silence."""
        seen, started = part in self.parts, time.monotonic()
        operator = DemoOperator(keeper, self.language, self.voice and seen, self._orders.began, crashes=seen)
        if seen:
            self._screen.part(part)
        for event in operator.play(lines, (self.pace if seen else FAST).breathe):
            if seen:
                self._screen.show(event)
                self._rest(event)
            if seen and part is DemoPart.NIGHT and isinstance(event, DemoSaid):
                self._screen.foreman(*self._foreman.alarms())
        if seen and part is DemoPart.CALIBRATE:
            self._screen.calibrated(self._calibration(), time.monotonic() - started)
            self.pace.rest()

    def _rest(self, event: DemoEvent) -> None:
        """Time to read what is more than a line."""
        match event:
            case DemoSaid(answered=answered) if answered.result or answered.doubt:
                self.pace.rest()
            case Crash() | DemoCall() | RowStops() | Saved():
                self.pace.rest()
            case _:
                pass

    def _summary(self, seconds: float) -> None:
        """What the foreman gets, and where the record lies."""
        told = self._foreman.summary()
        if told is None:
            raise InputError("no shift was ended")
        sheet = ShiftSheet.model_validate(told.drawing)
        files = self._orders.place, self.folder / "shift.png", self.folder / "shift.pdf"
        files[1].write_bytes(picture(sheet))
        files[2].write_bytes(pages(sheet))
        self._screen.part(DemoPart.SUMMARY)
        self._screen.foreman(told.text)
        self._screen.files(files, self._commands(), seconds)

    def _commands(self) -> tuple[str, str]:
        """What shows the record, and what talks with it."""
        program = Path(sys.executable).with_name("rowhand")
        named = program.relative_to(ROOT) if program.is_relative_to(ROOT) else program
        place = shlex.quote(str(self._orders.place))
        spoken = f" --language {self.language}" if self.language != "en" else ""
        return f"{named} record shifts --db {place}{spoken}", f"{named} talk --db {place}{spoken}"

    def _calibration(self) -> Calibration:
        return calibrations(Journal(self._database).turns(CONVERSATION))[-1]

    @property
    def _needed(self) -> tuple[DemoPart, ...]:
        """The parts of the talk that lead to those that are to be seen."""
        last = max(list(DemoPart).index(part) for part in self.parts)
        return PLAYED[: last + 1]

    @cached_property
    def _database(self) -> Database:
        return open_database(self._orders.place)

    @cached_property
    def _foreman(self) -> DemoForeman:
        return DemoForeman(self._database, self.language, self.zone)

    @cached_property
    def _orders(self) -> Orders:
        return orders_for(self.folder, self.language, self.ears, self.zone)

    @cached_property
    def _words(self) -> DemoWording:
        return wording(self.language)

    @cached_property
    def _screen(self) -> DemoScreen:
        return DemoScreen(self.console, self._words, clock_of(self.language, self.zone))


def orders_for(folder: Path, language: Language, ears: Preference, zone: str) -> Orders:
    """A worker whose record lies in a folder."""
    began = BEGAN.replace(tzinfo=zone_called(zone)).astimezone(UTC)
    return Orders(record=str(folder / "record.db"), language=language, ears=ears, zone=zone, began=began)


def clock_of(language: Language, zone: str) -> Callable[[datetime], str]:
    """Writes a moment as the clock on the wall shows it."""

    def shown(moment: datetime) -> str:
        wall = LocalTime.of(moment, zone).local
        return load_forms(language).clock.shown(wall.hour, wall.minute, System.US)

    return shown


def all_passed(record: Calibration) -> bool:
    verdicts = record.runs[-1].rows.get("verdict", {})
    return len(verdicts) == len(record.rows) and all(verdict in PASSED for verdict in verdicts.values())
