"""The assistant: one utterance in, one turn kept, one reply out.

A turn is written in one transaction before its reply leaves; an utterance delivered twice gets the stored reply. The
state of a conversation is the fold of its facts: kept in memory between turns, and folded anew whenever another
process has moved the conversation on. What opens it begins at its newest snapshot.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeAlias

from engine.conversation_defaults import ConversationDefaults
from engine.crew.farm import told_on_farm
from engine.database import Database
from engine.dialog.facts.fold import apply, fold
from engine.dialog.facts.label_shelf import LabelShelf, label_shelf
from engine.dialog.facts.neighbours import FarmTold, Neighbour
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter, Turn
from engine.dialog.reply.system_texts import SystemTexts
from engine.dialog.schema.slot import Slot
from engine.dialog.taking.attaching import product_for
from engine.dialog.taking.commands import job
from engine.dialog.taking.reentry_interval import KeptOut, keeping_out
from engine.dialog.turns.elements import RecordTime
from engine.dialog.turns.turn_builder import NEVER
from engine.entries.phrases.vocabulary import Vocabulary, load_vocabulary
from engine.errors import ConflictError, DefinitionError, UnreadableFact
from engine.expectation import Expectation
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.scan import Scan
from engine.history.store.snapshot import EVERY, Snapshot
from engine.history.store.turn_facts import facts_of
from engine.library import Library, load_library
from engine.messages import Button, Language, Reply, Utterance
from engine.new_turn import is_kept, new_turn
from engine.understanding.reader import understand


@dataclass(frozen=True)
class _Place:
    """Where a conversation stands: the state after its turn number ``seq``, and what was answered then; ``snapshot`` is
    the turn of its newest snapshot; ``moment`` is when that was looked up, where nobody else can write meanwhile."""

    seq: int
    state: ConversationState
    said: str = ""
    snapshot: int = 0
    moment: object | None = None


_TakesTurn: TypeAlias = Callable[[_Place, FarmTold | None], StoredTurn]
"""Takes a turn from where the conversation stands, with what the other planters of the farm told."""


class Assistant:
    """Answers utterances of many conversations from one database. Safe to use from one thread at a time."""

    def __init__(
        self,
        database: Database,
        rules: ConversationDefaults | None = None,
        library: Library | None = None,
        kept: Callable[[], None] | None = None,
    ) -> None:
        """``kept`` is called whenever a turn was kept, before it is answered. Raises DefinitionError."""
        self._database = database
        self._journal = Journal(database)
        self._rules = rules or ConversationDefaults()
        self._kept = kept
        self._library = library or load_library()
        SystemTexts.load()
        self._places: dict[str, _Place] = {}

    @property
    def within(self) -> RecordTime:
        """The time that application records may take."""
        return self._rules.record

    def vocabulary(self, language: Language) -> Vocabulary:
        """The words of a language, read when they are first wanted; raises DefinitionError."""
        return load_vocabulary(language)

    def state(self, conversation: str) -> ConversationState:
        """The state of a conversation, as the journal has it."""
        return self._place(conversation).state

    def expectation(self, conversation: str) -> Expectation:
        """What may be said now: for the ears, and for buttons."""
        return self._interpreter().expectation(self._on_farm(conversation))

    def prompt(self, conversation: str, now: datetime = NEVER) -> Reply:
        """What is asked ``now``; for a channel that opens again. Changes nothing."""
        state = self.state(conversation)
        return self._interpreter().prompt(state, now)

    def ways(self, conversation: str) -> tuple[Button, ...]:
        """What can be begun now, as buttons; nothing where a dialog is open."""
        return () if self.state(conversation).dialog else self._interpreter().ways(self._on_farm(conversation))

    def opened(self, conversation: str) -> tuple[str, datetime] | None:
        """The dialog that is open, by its name, and since when; None where none is."""
        dialog = self.state(conversation).dialog
        since = self._journal.started(conversation) if dialog else None
        return (dialog.dialog, since) if dialog and since else None

    def first_opening(self, language: Language) -> str:
        """What opens the dialog with which the work begins."""
        return next(iter(job(self._library))).opening(language)

    def openings(self, language: Language) -> tuple[str, ...]:
        """What opens each dialog of the work, in the order in which they are done."""
        return tuple(script.opening(language) for script in job(self._library))

    def slot(self, conversation: str, name: str) -> Slot | None:
        """What the open dialog asks under a name, to say how its values are written; None where it has no such slot."""
        dialog = self.state(conversation).dialog
        script = self._library.script(dialog.script) if dialog else None
        return script.slots.get(name) if script else None

    def prepare(self, language: Language) -> None:
        """Read all that the first turn in a language would wait for: one is taken that is kept nowhere. Touches no
        database, and may be done beside other work."""
        state, interpreter = self._beginning().model_copy(update={"language": language}), self._interpreter()
        said = Utterance(id="-", conversation="-", text=self.first_opening(language), language=language, said_at=NEVER)
        reading = understand(said, interpreter.expectation(state), self.vocabulary(language), self._rules.acceptance)
        interpreter.take(state, reading, NEVER)

    def is_new(self, conversation: str) -> bool:
        """Whether nothing was ever said in a conversation."""
        return self._place(conversation).seq == 0

    def apology(self, conversation: str) -> Reply:
        """What to answer when the world failed and a turn could not be kept. Touches no database."""
        place = self._places.get(conversation)
        return self._interpreter().apology(place.state if place else self._beginning())

    def forget(self, conversation: str) -> None:
        """Keep nothing of a conversation in memory: it is called otherwise now."""
        self._places.pop(conversation, None)

    def forget_all(self) -> None:
        """Believe the journal alone: turns that were taken were not kept after all."""
        self._places.clear()

    def hear(self, utterance: Utterance, deliver: Sequence[str] = ()) -> StoredTurn:
        """Take one utterance: read it, take the turn, keep it, and return it with its reply.

        The reply also goes to the outbox for those in ``deliver``, in the same transaction: the first one spoke, the
        others only take part.
        Raises WorldError when it could not be kept; then nothing of it was.
        """
        return self._once(utterance, lambda place, farm: self._take(place, farm, utterance, deliver))

    def attach(self, utterance: Utterance, scan: Scan, deliver: Sequence[str] = ()) -> StoredTurn:
        """Keep a document with the product that it is for; the text of the utterance are the words under it.

        Once, delivered and raising as ``hear``; nothing of it is kept where it is for no product.
        """
        return self._once(utterance, lambda place, farm: self._attach(place, farm, utterance, scan, deliver))

    def product_for(self, conversation: str, caption: str) -> str | None:
        """The product that a document with these words under it would be kept with; None where it is for none."""
        return product_for(self._library, self._on_farm(conversation), caption)

    def labels(self, conversation: str) -> LabelShelf:
        """The labels that are kept on the farm of a conversation."""
        return label_shelf(self._on_farm(conversation))

    def keeping_out(self, conversation: str) -> dict[str, KeptOut]:
        """The fields treated in a conversation, with the last moment to keep out of each by all that the farm told."""
        return keeping_out(self._on_farm(conversation))

    def _once(self, utterance: Utterance, take: _TakesTurn) -> StoredTurn:
        try:
            return self._tried(utterance, take)
        except ConflictError:
            self._places.pop(utterance.conversation, None)
        try:
            with self._database.together():
                with self._database.beside(utterance.conversation):
                    pass  # whoever moved the conversation on waits from here on
                return self._tried(utterance, take)
        except Exception:
            self._places.pop(utterance.conversation, None)
            raise

    def _tried(self, utterance: Utterance, take: _TakesTurn) -> StoredTurn:
        with self._database.at_one_moment():
            stored = self._journal.turn(utterance.id)
            if stored is not None:
                return stored
            place = self._place(utterance.conversation)
            farm = self._farm_told(utterance.conversation, place.state)
        turn = take(place, farm)
        if self._kept:
            self._kept()
        return turn

    def _take(self, place: _Place, farm: FarmTold | None, utterance: Utterance, deliver: Sequence[str]) -> StoredTurn:
        interpreter = self._interpreter()
        expected = interpreter.expectation(apply(place.state, farm) if farm else place.state)
        reading = understand(utterance, expected, self.vocabulary(expected.language), self._rules.acceptance)
        turn = interpreter.take(place.state, reading, utterance.said_at, place.said, farm)
        return self._keep(place, utterance, turn, deliver)

    def _attach(
        self, place: _Place, farm: FarmTold | None, utterance: Utterance, scan: Scan, deliver: Sequence[str]
    ) -> StoredTurn:
        turn = self._interpreter().attach(place.state, scan.document, utterance.text, utterance.said_at, farm)
        return self._keep(place, utterance, turn, deliver, scan)

    def _keep(
        self, place: _Place, utterance: Utterance, turn: Turn, deliver: Sequence[str], scan: Scan | None = None
    ) -> StoredTurn:
        seq = place.seq + 1
        due = seq - place.snapshot >= EVERY
        taken = Snapshot.taken(seq, utterance.id, self._beginning(), turn.state) if due else None
        new = replace(new_turn(self._library, utterance, seq, turn, deliver), snapshot=taken)
        stored = self._journal.append(replace(new, scan=scan) if scan and is_kept(turn.facts, scan) else new)
        newest = seq if taken else place.snapshot
        self._places[utterance.conversation] = _Place(
            stored.seq, turn.state, stored.reply.text, newest, self._database.moment
        )
        return stored

    def _on_farm(self, conversation: str) -> ConversationState:
        """A conversation as it stands once it knows what the other planters told."""
        state = self.state(conversation)
        farm = self._farm_told(conversation, state)
        return apply(state, farm) if farm else state

    def _farm_told(self, conversation: str, state: ConversationState) -> FarmTold | None:
        """What the other planters of the farm told that this conversation does not know yet."""
        return told_on_farm(self._database, conversation, state.book.neighbours, self._neighbour)

    def _neighbour(self, conversation: str) -> Neighbour | None:
        """Another planter as it stands, with what its running shift has applied so far; None where its record cannot
        be read, which must not keep this one from going on."""
        try:
            place = self._place(conversation)
        except UnreadableFact:
            return None
        running = place.state.dialog.activity if place.state.dialog else None
        return Neighbour(seq=place.seq, applied=(*place.state.book.applied, *(running.applied() if running else ())))

    def _place(self, conversation: str) -> _Place:
        """The newest state: what is in memory, or the snapshot, moved on by the turns that were added since."""
        known, moment = self._places.get(conversation) or self._opened(conversation), self._database.moment
        if moment is not None and known.moment is moment:
            return known
        turns = self._journal.turns(conversation, after=known.seq)
        facts = [fact for turn in turns for fact in facts_of(turn)]
        state = fold(known.state, facts)
        place = replace(known, seq=turns[-1].seq, state=state, said=turns[-1].reply.text) if turns else known
        place = replace(place, moment=moment)
        self._pin(place.state)
        self._places[conversation] = place
        return place

    def _opened(self, conversation: str) -> _Place:
        """Where the folding begins: at the snapshot, or where there is none from here, at the beginning."""
        found = self._journal.opened(conversation)
        if found is None or found[0].beginning != self._beginning():
            return _Place(0, self._beginning())
        snapshot, said = found
        return _Place(snapshot.seq, snapshot.state, said, snapshot.seq)

    def _beginning(self) -> ConversationState:
        return ConversationState(language=self._rules.language, system=self._rules.system)

    def _pin(self, state: ConversationState) -> None:
        """Bring back the script a conversation began under, where the dialog file has changed since."""
        digest = state.dialog.script if state.dialog else None
        if digest is None or self._library.script(digest) is not None:
            return
        source = self._journal.script(digest)
        with suppress(DefinitionError):
            self._library = self._library.with_pinned(source) if source is not None else self._library

    def _interpreter(self) -> Interpreter:
        return self._rules.interpreter(self._library)
