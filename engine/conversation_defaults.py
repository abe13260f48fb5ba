"""What the settings say about conversations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from engine.data.languages import DEFAULT
from engine.dialog.activity import Activity
from engine.dialog.interpreter import Interpreter
from engine.dialog.schema.script import Preset
from engine.dialog.script_library import Library
from engine.dialog.turns.elements import FEDERAL, RecordTime
from engine.emergency_numbers import NUMBERS
from engine.entries.acceptance import Acceptance, load_acceptance
from engine.messages import Language, System
from engine.quantities import Measure
from engine.shift import ShiftActivity, WatchSettings
from engine.values import Value

TOLERANCE = Measure(value=5.0, unit="%")


@dataclass(frozen=True)
class ConversationDefaults:
    """What the settings say about conversations: language and units to begin with, presets, telephone numbers, how a
    shift is watched, how sure a word must be, and the time that application records may take."""

    language: Language = DEFAULT
    system: System = System.US
    tolerance: Measure = TOLERANCE
    rule: str = "advise"
    numbers: Mapping[str, str] = field(default_factory=lambda: dict(NUMBERS))
    watch: WatchSettings = field(default_factory=WatchSettings)
    acceptance: Acceptance = field(default_factory=load_acceptance)
    record: RecordTime = FEDERAL

    @property
    def zone(self) -> str:
        return self.watch.zone

    @property
    def activities(self) -> dict[str, Activity]:
        """What the steps of dialogs may hand over to, by name."""
        shift = ShiftActivity(self.watch)
        return {shift.name: shift}

    @property
    def presets(self) -> dict[Preset, Value]:
        return {Preset.TOLERANCE: self.tolerance, Preset.RULE: self.rule}

    def interpreter(self, library: Library) -> Interpreter:
        """What walks the dialogs of a library by these settings."""
        return Interpreter(library, self.presets, self.numbers, self.activities, self.zone, self.record)
