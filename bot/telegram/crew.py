"""Who is answered, and what the foremen of a farm hear of its operators."""

from __future__ import annotations

from datetime import UTC, datetime

from bot.telegram.mind import Mind
from bot.telegram.report import report
from bot.telegram.texts import Key, Texts
from bot.telegram.update import Content, Said
from engine.history.journal import StoredTurn
from engine.history.records import TEST_RUN, calibrations
from engine.messages import Language
from engine.outbox import Outgoing, put
from engine.people import People, Role


class Crew:
    """The people of the record as the channel needs them."""

    def __init__(self, people: People, mind: Mind, texts: Texts) -> None:
        self._people, self._mind, self._texts = people, mind, texts

    async def admits(self, conversation: str, said: Content) -> bool:
        """Whether a conversation is answered; a good invitation lets it in at once."""
        return await self._mind.do(self._admits, conversation, said.code if isinstance(said, Said) else None)

    def _admits(self, conversation: str, code: str | None) -> bool:
        if code is not None and self._people.join(conversation, code, datetime.now(UTC)):
            return True
        return not self._people.closed() or self._people.member(conversation) is not None

    async def told(self, turn: StoredTurn) -> tuple[Outgoing, ...]:
        """For every foreman of the farm the end of a test run, where this turn was one: silent, as it can wait."""
        if not any(fact["kind"] == "finished" and fact.get("dialog") == TEST_RUN for fact in turn.facts):
            return ()
        foremen = await self._foremen(turn.conversation)
        turns = await self._mind.after(turn.conversation, 0) if foremen else ()
        records = calibrations(one for one in turns if one.seq <= turn.seq)
        return tuple(
            _line(f"run:{turn.utterance_id}", foreman, report(records[-1], self._texts, language), silent=True)
            for foreman, language in foremen.items()
        )

    async def tell_lost(self, conversation: str, since: str) -> None:
        """Tell the foremen, loud and once for each message ``since``, that an operator cannot be reached."""
        foremen = await self._foremen(conversation)
        said = {foreman: self._texts.say(Key.OPERATOR_GONE, language) for foreman, language in foremen.items()}
        lines = tuple(_line(f"lost:{since}", foreman, text, silent=False) for foreman, text in said.items())
        await self._mind.do(self._put, lines)

    def _put(self, lines: tuple[Outgoing, ...]) -> None:
        with self._people.database.begin() as connection:
            put(connection, lines)

    async def _foremen(self, conversation: str) -> dict[str, Language]:
        """The foremen of the farm of a conversation, with their languages."""
        foremen = await self._mind.do(self._people.of_farm, conversation, Role.FOREMAN)
        return {foreman: await self._mind.language(foreman) for foreman in foremen}

    def stranger(self, conversation: str, language: Language) -> Outgoing:
        """The one polite line for somebody without an invitation."""
        text = self._texts.say(Key.STRANGER, language)
        return Outgoing(f"stranger:{conversation}", conversation, {"text": text}, datetime.now(UTC))


def _line(name: str, foreman: str, text: str, *, silent: bool) -> Outgoing:
    return Outgoing(f"{name}:{foreman}", foreman, {"text": text, "silent": silent}, datetime.now(UTC))
