"""Settings to a working assistant: the one place where the parts are put together."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from bot.bell.calls import Calls
from bot.bell.ringing import Ringing
from bot.record.daily import DailyBackup
from bot.settings import CONVERSATION, Settings
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.data.forms import load_forms
from engine.database import Database, open_database
from engine.entries.acceptance import FILE as LIMITS
from engine.entries.acceptance import load_acceptance
from engine.history.store.journal import Journal
from engine.messages import LANGUAGES, Language
from engine.quantities import Measure
from engine.queues.outbox import Outbox
from engine.reminders.schedule import ReminderPolicy, Schedule
from engine.reminders.watch import ReminderWatch
from engine.shift import WatchSettings

if TYPE_CHECKING:
    from bot.voice.memory import VoiceMemory
    from bot.voice.tutor import Tutor
    from speech.synthesis.phrase_cache import PhraseCache


def rules(settings: Settings) -> ConversationDefaults:
    """What the settings say about conversations."""
    return ConversationDefaults(
        language=settings.language,
        system=settings.units,
        tolerance=Measure(value=settings.tolerance, unit="%"),
        rule=settings.advice.value,
        numbers={
            "emergency": settings.emergency_number,
            "poison": settings.poison_number,
            "spill": settings.spill_number,
        },
        watch=WatchSettings(
            zone=settings.time_zone,
            late_from=settings.late_from,
            late_until=settings.late_until,
            long_after=timedelta(hours=settings.long_after_hours) if settings.long_after_hours else None,
        ),
        record=settings.record_time,
        acceptance=load_acceptance(settings.acceptance or LIMITS),
    )


def assistant(settings: Settings, record: Database, languages: Sequence[Language] = LANGUAGES) -> Assistant:
    """An assistant on an open record, which is copied once a day; raises DefinitionError, for the words of these
    languages at once, for those of others when they are first spoken."""
    made = Assistant(record, rules(settings), kept=DailyBackup.of(settings, record))
    for language in languages:
        made.vocabulary(language)
    return made


def calls(settings: Settings, assistant: Assistant, record: Database) -> Calls:
    """What rings in the conversation at this machine, for ``rowhand talk``."""
    step = watch(settings, assistant, record).step
    return Calls(Outbox(record), CONVERSATION, "talk", step)


def watch(settings: Settings, assistant: Assistant, record: Database) -> ReminderWatch:
    """What rings the reminders of a record; its steps belong on the thread of the assistant."""
    policy = ReminderPolicy(again=timedelta(minutes=settings.again_minutes), tries=settings.tries)
    return ReminderWatch(Schedule(record, policy), Ringing(assistant, record, settings.time_zone).compose)


def memory(settings: Settings, record: Database, person: str | None = None) -> VoiceMemory:
    """What is known of the voice of a person, of whom speaks at this machine where none is named; raises
    DefinitionError where a profile is damaged, InputError for a name that cannot be."""
    from bot.voice.memory import VoiceMemory
    from bot.voice.profiles import Profiles

    known = VoiceMemory(Profiles(settings.voice_profiles), person or settings.operator, Journal(record))
    known.check()
    return known


def tutor(settings: Settings, record: Database, person: str | None = None) -> Tutor:
    """Who leads a person through a lesson; raises as ``memory``."""
    from bot.voice.texts import VoiceTexts
    from bot.voice.tutor import Tutor

    return Tutor(VoiceTexts.load(), memory(settings, record, person))


def open_record(settings: Settings) -> Database:
    """The database of the settings, whose folder is made where it is missing; raises DatabaseError or NewerDatabase."""
    return open_database(settings.database)


def voice(settings: Settings, language: Language) -> PhraseCache | None:
    """What speaks a language by the settings; None where nothing does."""
    from speech.synthesis import voices

    by_espeak = load_forms(language).speech.voice
    return voices.choose(
        language, settings.voice.value, settings.voices, rate=settings.speech_rate, by_espeak=by_espeak
    )
