"""All phones that are in reach, and what they are shown: made anew when anything moved, sent to each at once."""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Protocol

from bot.page.views.calls import PageCalls
from bot.page.views.messages import PlantersView
from bot.page.views.planters import PlanterOverview
from bot.page.views.view import ViewMaker
from bot.page.visitors.phones import PairedPhone, PhoneRole, PhoneShelf
from bot.record_thread import RecordThread
from engine.crew.farm import every_planter
from engine.errors import RowhandError, WorldError
from engine.history.store.journal import Journal

MOST_LINES, MOST_OF_ONE = 64, 4
log = logging.getLogger("rowhand.page")


class PhoneLine(Protocol):
    """An open line to a phone."""

    phone: PairedPhone | None

    def send(self, text: str) -> None: ...

    def drop(self, *, forgotten: bool) -> None: ...


@dataclass(frozen=True)
class RecordEye:
    """Looks whether anything moved, and makes the views; runs on the record's thread. ``step`` rings what is due."""

    journal: Journal
    calls: PageCalls
    views: ViewMaker
    planters: PlanterOverview
    step: Callable[[], object]

    def look(self, operators: bool) -> tuple[object, ...]:
        """What changes whenever a view would; with phones of ``operators`` in reach, calls are brought out to them."""
        self.step()
        if operators:
            self.calls.take()
        talks = tuple(one.conversation for one in every_planter(self.journal.database))
        return (
            tuple((talk, self.journal.last(talk)) for talk in talks),
            tuple((one.key, one.asks) for one in self.calls.ringing()),
        )

    def operator_view(self) -> str:
        return self.views.view(datetime.now(UTC)).model_dump_json()

    def foreman_view(self) -> str:
        now = datetime.now(UTC)
        language = self.views.assistant.state(self.views.talk).language
        view: PlantersView = self.planters.view(language, now)
        return view.model_dump_json()


class PhoneHub:
    """The lines that are open. ``refresh`` is called now and then, and after every turn of a phone."""

    def __init__(self, eye: RecordEye, thread: RecordThread, shelf: PhoneShelf) -> None:
        self._eye, self._thread, self._shelf = eye, thread, shelf
        self._lines: set[PhoneLine] = set()
        self._seen: tuple[object, ...] = ()
        self._made: dict[PhoneRole, str] = {}

    def is_full(self, phone: PairedPhone) -> bool:
        own = Counter(line.phone.number for line in self._lines if line.phone)
        return len(self._lines) >= MOST_LINES or own[phone.number] >= MOST_OF_ONE

    async def join(self, line: PhoneLine) -> None:
        """A phone came into reach: it is shown how things stand."""
        self._lines.add(line)
        await self.refresh()
        if line.phone and (text := await self._view(line.phone.role)):
            line.send(text)

    def leave(self, line: PhoneLine) -> None:
        self._lines.discard(line)

    async def refresh(self) -> None:
        """Ring what is due, and show every phone what moved since the last look; nothing while the record cannot be
        read."""
        try:
            seen = await self._thread.do(self._eye.look, PhoneRole.OPERATOR in self._roles())
        except WorldError as error:
            log.warning("record failed error=%s", type(error).__name__)
            return
        if seen == self._seen:
            return
        self._seen, self._made = seen, {}
        for role in self._roles():
            text = await self._view(role)
            for line in [one for one in self._lines if text and one.phone and one.phone.role is role]:
                line.send(text)

    async def drop_forgotten(self) -> None:
        """Close the lines of phones that were removed meanwhile."""
        try:
            known = {one.number: one.role for one in await self._thread.do(self._shelf.all)}
        except RowhandError:
            return
        for line in [one for one in self._lines if one.phone and known.get(one.phone.number) is not one.phone.role]:
            line.drop(forgotten=True)

    def close(self) -> None:
        for line in list(self._lines):
            line.drop(forgotten=False)

    def _roles(self) -> set[PhoneRole]:
        return {line.phone.role for line in self._lines if line.phone}

    async def _view(self, role: PhoneRole) -> str:
        if role not in self._made:
            make = self._eye.operator_view if role is PhoneRole.OPERATOR else self._eye.foreman_view
            try:
                self._made[role] = await self._thread.do(make)
            except RowhandError as error:
                log.warning("view failed error=%s", type(error).__name__)
                return ""
        return self._made[role]
