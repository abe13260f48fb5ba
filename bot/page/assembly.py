"""The parts of the page put together from settings and an open record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bot.extras import Extra, is_installed
from bot.page.hub import PhoneHub, RecordEye
from bot.page.server import PageParts
from bot.page.talk import LineTaker
from bot.page.texts import PageTexts
from bot.page.views.calls import PageCalls
from bot.page.views.papers import PaperDesk
from bot.page.views.planters import PlanterOverview
from bot.page.views.view import ViewMaker
from bot.page.visitors.door import PageDoor
from bot.page.visitors.files import site_files
from bot.page.visitors.phones import PhoneShelf
from bot.record_thread import RecordThread
from bot.settings import CONVERSATION, Settings
from bot.wiring import assistant, memory, watch
from engine.database import Database
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox

if TYPE_CHECKING:
    from bot.hearing import HearingPool


def page_parts(settings: Settings, record: Database, bound: str, port: int) -> PageParts:
    """All that a server at this address and port is made of; raises as ``bot.wiring.assistant`` and ``memory`` do."""
    texts, files, journal = PageTexts.load(), site_files(), Journal(record)
    mind = assistant(settings, record)
    calls = PageCalls(Outbox(record), CONVERSATION)
    calls.release()
    taker = LineTaker(mind, journal, memory(settings, record), calls, texts, CONVERSATION, settings.text_characters)
    views = ViewMaker(mind, journal, calls, texts, settings.zone, files.version, CONVERSATION)
    planters = PlanterOverview(mind, journal, calls, texts, settings.zone, settings.time_zone, files.version)
    shelf, thread = PhoneShelf.of(settings.database), RecordThread()
    eye = RecordEye(journal, calls, views, planters, watch(settings, mind, record).step)
    return PageParts(
        door=PageDoor(shelf, texts, files, bound, port, taker.language),
        hub=PhoneHub(eye, thread, shelf),
        taker=taker,
        calls=calls,
        papers=PaperDesk(mind, journal, texts, settings.zone, CONVERSATION),
        ears=_ears(settings),
        thread=thread,
        limits=(settings.voice_bytes, settings.voice_seconds),
    )


def _ears(settings: Settings) -> HearingPool | None:
    """What hears recordings; None where the extra for that is not installed."""
    if not is_installed(Extra.SPEECH):
        return None
    from bot.hearing import HearingPool

    return HearingPool(settings.voice_workers, settings.recognizer.value, settings.voice_seconds, settings.models)
