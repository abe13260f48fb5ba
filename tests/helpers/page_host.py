"""The server of the page in this process, on a thread of its own; started, stopped, and started again on one record."""

from __future__ import annotations

import asyncio
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bot.page.assembly import page_parts
from bot.page.server import PageServer
from bot.page.visitors.phones import PhoneRole, PhoneShelf
from bot.settings import Settings
from bot.wiring import open_record
from engine.assistant import Assistant
from engine.database import Database
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Language, Utterance

HERE = "127.0.0.1"


class PageHost:
    """``address`` is where a browser finds it. What is said in another channel goes by ``elsewhere``."""

    def __init__(self, place: Path, language: Language = "en") -> None:
        self.settings = Settings(database=str(place), language=language, time_zone="America/Chicago", backups_kept=0)
        self.record: Database = open_record(self.settings)
        self.journal = Journal(self.record)
        self.shelf = PhoneShelf.of(self.settings.database)
        self.port = 0
        self._thread: threading.Thread | None = None
        self._said = 0
        self.start()

    @property
    def address(self) -> str:
        return f"http://{HERE}:{self.port}"

    def code(self, role: PhoneRole = PhoneRole.OPERATOR) -> str:
        return self.shelf.open_code(role, datetime.now(UTC))

    def start(self) -> None:
        """Begin, at the port of before where there was one."""
        self._loop, self._stopped = asyncio.new_event_loop(), asyncio.Event()
        begun = threading.Event()

        async def serve() -> None:
            server = PageServer(HERE, self.port, lambda port: page_parts(self.settings, self.record, HERE, port))
            self.port, self.parts = server.port, server.parts
            begun.set()
            await server.run(self._stopped)

        def run() -> None:
            asyncio.set_event_loop(self._loop)
            self._loop.run_until_complete(serve())
            self._loop.close()

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()
        assert begun.wait(60), "the page is not served"

    def stop(self) -> None:
        if self._thread is not None:
            self._loop.call_soon_threadsafe(self._stopped.set)
            self._thread.join(30)
            assert not self._thread.is_alive(), "the page does not stop"
            self._thread = None

    def close(self) -> None:
        self.stop()
        self.record.close()

    def elsewhere(self, *said: str, ago: timedelta = timedelta()) -> StoredTurn:
        """Say something as another channel on this record does, so long ago; its assistant is its own."""
        assistant = Assistant(self.record, self.parts.taker.assistant._rules)
        for text in said:
            self._said += 1
            turn = assistant.hear(
                Utterance(
                    id=f"elsewhere:{self._said}",
                    conversation="console",
                    text=text,
                    language=assistant.state("console").language,
                    said_at=datetime.now(UTC) - ago,
                )
            )
        return turn

    def heard(self) -> list[str]:
        """Everything that was said on this record, in order."""
        return [turn.heard for turn in self.journal.turns("console")]
