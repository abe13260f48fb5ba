"""From the sound of one utterance to its answer: the assistant's side of the hands-free channel.

Other talk is left alone. The endpointer hears with the grammar of what may be said now beside a path for any other
speech; where it makes out no word of the grammar, nobody is answered. Where it does, the recogniser decides: what means
nothing here and is rather other talk (a neighbour, a radio) is left alone too, any other unclear utterance is answered.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from bot.handsfree.texts import HandsfreeKey, HandsfreeOrder, HandsfreeTexts
from bot.hear import utterance
from bot.settings import CONVERSATION
from bot.voice.tutor import Tutor
from engine.assistant import Assistant
from engine.data.forms import load_forms
from engine.entries.acceptance import load_acceptance
from engine.entries.grammar import grammar
from engine.entries.strict_reader import read
from engine.errors import WorldError
from engine.messages import Decision, Language, Reply, Utterance
from speech.endpoint import UtteranceSound
from speech.errors import ModelMissing
from speech.recognizer import Recognizer
from speech.transcript import Transcript

OTHER_TALK = 0.9
"""From here on an unclear utterance is taken for other talk. Of 120 clips of other talk in English 17 got past the
endpointer, of which this leaves one alone; of 80 real answers at 0 dB of noise 77 were answered without it and with it
(at 0.5: two and 76)."""


@dataclass(frozen=True)
class HeardTurn:
    """What was heard, empty where nothing certain was, and what to answer."""

    heard: str
    reply: Reply


class Conversation:
    """The conversation that ``rowhand talk`` also has on this record, by voice. Raises WorldError where not told else.

    ``ears`` gives the recogniser of a language; it raises ModelMissing where there is none.
    """

    def __init__(
        self, assistant: Assistant, texts: HandsfreeTexts, ears: Callable[[Language], Recognizer], tutor: Tutor
    ) -> None:
        self._assistant, self._texts, self._ears, self._tutor = assistant, texts, ears, tutor
        self._session, self._count = uuid.uuid4().hex, 0

    @property
    def language(self) -> Language:
        return self._tutor.language or self._assistant.state(CONVERSATION).language

    def speak(self, language: Language) -> None:
        """Go on in this language."""
        if self.language != language:
            self._hear(self._typed(load_forms(language).called[0]))

    def learn(self, language: Language) -> None:
        """Begin a lesson: what is asked now is what is to be read first."""
        self._tutor.open(language)

    def prompt(self) -> Reply:
        if self._tutor.language:
            return Reply(text=self._tutor.prompt())
        return self._assistant.prompt(CONVERSATION, datetime.now(UTC))

    def apology(self) -> Reply:
        """What to answer when the record cannot be read or written now."""
        return self._assistant.apology(CONVERSATION)

    def grammar(self, held: bool, elsewhere: bool = False) -> str:
        """All that may be said now, to the dialog and to the channel; only "go on" while the channel is ``held``.

        The endpointer listens without what is asked ``elsewhere``: with it 6 of 60 clips of talk got past, without 0.
        """
        language = self.language
        if held:
            return f"#JSGF V1.0;\ngrammar held;\n{self._texts.rule(HandsfreeOrder.GO_ON, language)}"
        if self._tutor.language:
            return "".join(
                (
                    self._tutor.grammar,
                    *(self._texts.rule(one, language) for one in (HandsfreeOrder.HOLD, HandsfreeOrder.LEAVE_LESSON)),
                )
            )
        expected = self._assistant.expectation(CONVERSATION)
        expected = expected if elsewhere else expected.model_copy(update={"elsewhere": ()})
        said = grammar(expected, self._assistant.vocabulary(language))
        orders = HandsfreeOrder.HOLD, HandsfreeOrder.LEARN, HandsfreeOrder.SUMMARY
        return "".join((said, *(self._texts.rule(one, language) for one in orders)))

    def take(self, stretch: UtteranceSound, held: bool) -> HeardTurn | HandsfreeOrder | None:
        """What an utterance is: something to answer, an order to the channel, or None for talk that is not for us."""
        if not stretch.words or (held and stretch.is_cut):
            return None
        language = self.language
        if stretch.is_cut:
            return HeardTurn("", self._reply(HandsfreeKey.TOO_LONG, language, count=f"{stretch.clip.duration_s:.0f}"))
        heard = self._ears(language).transcribe(stretch.clip, language, self.grammar(held, elsewhere=True))
        order = self._ordered(heard, language)
        if held:
            return order if order is HandsfreeOrder.GO_ON else None
        if order is HandsfreeOrder.HOLD:
            return order
        taught = self._taught(order, heard, language)
        if taught is not None:
            return taught
        if order is HandsfreeOrder.SUMMARY:
            asked = self._typed(self._texts.say(HandsfreeKey.SUMMARY_ASKED, language))
            return HeardTurn(heard.text, self._hear(asked))
        said = self._spoken(heard, language)
        return None if self._is_other_talk(heard, said) else self._answered(said)

    def _is_other_talk(self, heard: Transcript, said: Utterance) -> bool:
        """Whether nothing can be made of it and it was rather not for us."""
        if heard.talk < OTHER_TALK:
            return False
        expected, vocabulary = self._assistant.expectation(CONVERSATION), self._assistant.vocabulary(said.language)
        return read(said, expected, vocabulary).decision is Decision.UNCLEAR

    def _taught(self, order: HandsfreeOrder | None, heard: Transcript, language: Language) -> HeardTurn | None:
        """What the lesson answers; None where there is none and none is wanted."""
        if order is HandsfreeOrder.LEARN:
            return HeardTurn(heard.text, Reply(text=self._tutor.open(language)))
        if not self._tutor.language:
            return None
        if order is HandsfreeOrder.LEAVE_LESSON:
            told = self._texts.say(HandsfreeKey.LESSON_LEFT, language)
            self._tutor.leave()
        else:
            told = self._tutor.take(heard)
        after = "" if self._tutor.language else f" {self.prompt().text}"
        return HeardTurn(heard.text, Reply(text=f"{told}{after}"))

    def _ordered(self, heard: Transcript, language: Language) -> HandsfreeOrder | None:
        sure = heard.confidence >= load_acceptance().command_kept
        return self._texts.ordered(heard.text, language) if sure else None

    def _answered(self, said: Utterance) -> HeardTurn:
        """The turn; a language that cannot be heard here is left again, since nobody could say so."""
        reply = self._hear(said)
        language = self.language
        if language != said.language:
            try:
                self._ears(language)
            except ModelMissing:
                self.speak(said.language)
                reply = self._reply(HandsfreeKey.NO_EARS, said.language)
        return HeardTurn(said.text, reply)

    def _hear(self, said: Utterance) -> Reply:
        try:
            turn = self._assistant.hear(said)
            self._tutor.memory.notice(turn)
            return turn.reply
        except WorldError:
            return self.apology()

    def _spoken(self, heard: Transcript, language: Language) -> Utterance:
        known = self._tutor.memory.confusions(heard.text, language)
        return utterance(heard, language).model_copy(update={**self._place(), "confusions": known})

    def _typed(self, text: str) -> Utterance:
        said_at = datetime.now(UTC)
        return Utterance(id="-", conversation="-", text=text, language=self.language, said_at=said_at).model_copy(
            update=self._place()
        )

    def _place(self) -> dict[str, str]:
        self._count += 1
        return {"id": f"handsfree:{self._session}:{self._count}", "conversation": CONVERSATION}

    def _reply(self, key: HandsfreeKey, language: Language, **values: str) -> Reply:
        return Reply(text=self._texts.say(key, language, **values))
