"""Labels that are kept, fetched again in the chat: on demand, and by a button behind what is said in an emergency."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from typing import assert_never

from bot.photo_file import file_name
from bot.telegram.texts import ChatKey, ChatTexts, button
from bot.telegram.worker import EngineWorker
from engine.crew.roles import Act
from engine.dialog.facts.book_facts import Alarmed
from engine.dialog.facts.label_shelf import EmptyShelf, NoLabel, ProductLabel, SeveralLabels, UnknownProduct
from engine.errors import UnreadableFact
from engine.history.alarms import alarms
from engine.messages import Button, Language
from engine.queues.outbox_message import DocumentMessage, OutboxMessage, TextMessage

ALARMED = Alarmed.model_fields["kind"].default
MOST_BUTTONS = 20
"""So many labels are offered to choose from (own decision); others are asked for by name."""
log = logging.getLogger("rowhand.telegram")


class Labels:
    """Answers who asks for a label, from what is kept on their farm."""

    def __init__(self, engine: EngineWorker, texts: ChatTexts) -> None:
        self._engine, self._texts = engine, texts

    async def answer(self, talk: str, said: str, language: Language) -> Sequence[OutboxMessage]:
        """The label that is asked for in a conversation, or why there is none; ``said`` names the product."""
        meant = (await self._engine.labels(talk)).meant(said)
        match meant:
            case ProductLabel():
                return self._sent(meant, language)
            case SeveralLabels(labels=labels):
                return [self._offering(ChatKey.LABEL_WHICH, labels, language)]
            case EmptyShelf():
                return [self._texts.message(ChatKey.LABEL_NONE, language)]
            case NoLabel(product=product, others=others):
                return [self._offering(ChatKey.LABEL_NONE_OF, others, language, product=product)]
            case UnknownProduct(others=others):
                return [self._offering(ChatKey.LABEL_UNKNOWN, others, language)]
            case other:
                assert_never(other)

    def _sent(self, label: ProductLabel, language: Language) -> list[OutboxMessage]:
        """Every document that is kept of it, under the product's name and registration number."""
        caption, count = self._caption(label, language), len(label.documents)
        instead = self._texts.say(ChatKey.LABEL_GONE, language, product=label.product)
        return [
            DocumentMessage(
                text=caption if count == 1 else self._numbered(caption, number, count, language),
                document=one,
                name=file_name(label.product, one),
                instead=instead,
            )
            for number, one in enumerate(label.documents, 1)
        ]

    def _caption(self, label: ProductLabel, language: Language) -> str:
        if label.registration is None:
            return self._texts.say(ChatKey.LABEL_UNREGISTERED, language, product=label.product)
        return self._texts.say(ChatKey.LABEL_REGISTERED, language, product=label.product, number=label.registration)

    def _numbered(self, caption: str, number: int, count: int, language: Language) -> str:
        return self._texts.say(ChatKey.LABEL_PART, language, label=caption, number=str(number), count=str(count))

    def _offering(self, key: ChatKey, labels: Iterable[ProductLabel], language: Language, **values: str) -> TextMessage:
        buttons = [self._fetching(one, language) for one in labels][:MOST_BUTTONS]
        return self._texts.message(key, language, *buttons, **values)

    def _fetching(self, label: ProductLabel, language: Language) -> Button:
        text = self._texts.say(ChatKey.LABEL_BUTTON, language, product=label.product)
        return button(text, f"/{Act.LABEL} {label.mark}")

    # ---- in an emergency

    def offered_now(self, utterance_id: str) -> tuple[Button, ...]:
        """The button that fetches the label of what was handled, where a turn says whom to call; what cannot be read
        holds no such answer up."""
        try:
            return self._offered(utterance_id)
        except UnreadableFact as error:
            log.warning("label not offered error=%s", type(error).__name__)
            return ()

    def _offered(self, utterance_id: str) -> tuple[Button, ...]:
        turn = self._engine.turn_now(utterance_id)
        if turn is None or not any(fact["kind"] == ALARMED for fact in turn.facts):
            return ()
        shelf, handled = self._engine.labels_now(turn.conversation), [one.product for one in alarms([turn])]
        label = next((found for one in handled if one and (found := shelf.of(one))), None)
        return (self._fetching(label, self._engine.language_now(turn.conversation)),) if label else ()
