"""Applications that were really said: a product, fields and an applicator told by name, then nights of planting."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import Database, open_database
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Language, Utterance
from engine.shift import WatchSettings
from tests.helpers.retelling import retell
from tests.helpers.talking import beginnings, library

EVENING = datetime(2026, 4, 22, 0, 5, tzinfo=UTC)
"""19:05 in Chicago, when planting begins."""
PRODUCT = ("product", "Terravel 15", "1234-567", "granule", "fifteen percent", "two pounds an acre",
           "ten pounds an acre", "eight pounds an acre", "48 hours", "yes", "gloves", "right")  # fmt: skip
NORTH = ("new field", "North field", "forty acres", "field corn", "Hill County, northeast quarter of section 12", "yes")
SOUTH = ("new field", "South", "thirty acres", "field corn", "Hill County, section 13", "yes")
APPLICATOR = ("applicator", "Juan Perez", "A-991", "yes")
FIELDS = {"field": "North field", "size": "forty acres"}
Said = Sequence[tuple[float, str]]


class Talk:
    """One conversation on a record of its own; ``chat`` is the one it is with."""

    def __init__(self, rules: ConversationDefaults | None = None, database: Database | None = None) -> None:
        self.database = database or open_database(":memory:")
        self.rules = rules or zone_of("America/Chicago")
        self.assistant = Assistant(self.database, self.rules, library())
        self._begins = repr(self.rules) if database is None else None
        self._told: list[tuple[str, str, datetime, Language | None]] = []
        self.chat = "c"

    def say(self, text: str, at: datetime, language: Language | None = None) -> str:
        """The reply to one utterance."""
        self._told.append((self.chat, text, at, language))
        language = language or self.assistant.state(self.chat).language
        said = Utterance(id=f"u{len(self._told)}", conversation=self.chat, text=text, language=language, said_at=at)
        return self.assistant.hear(said).reply.text

    def say_all(self, texts: Iterable[str], at: datetime) -> list[str]:
        """The replies to utterances that end a minute before an instant."""
        said = list(texts)
        told = [(self.chat, text, at - timedelta(minutes=len(said) - n), None) for n, text in enumerate(said)]
        after = [*self._told, *told]
        if self._begins is None:
            return [self.say(text, moment) for _, text, moment, _ in told]
        retell(self.database, (self._begins, tuple(after)), lambda: [self.say(text, when) for _, text, when, _ in told])
        self._told = after
        turns = self.turns()
        return [turn.reply.text for turn in turns[len(turns) - len(said) :]]

    def turns(self) -> tuple[StoredTurn, ...]:
        return Journal(self.database).turns(self.chat)


def prepared(product: str | None = "Terravel 15", *, known: bool = True) -> list[str]:
    """Set-up and test run; a product that is ``known`` by its name needs no label rates."""
    told = iter(("skip", product or "skip"))
    texts = [next(told) if text == "skip" else text for text in beginnings()["prepared"]]
    if product and known:
        texts = [text for text in texts if text not in ("two pounds an acre", "ten pounds an acre")]
    return [*texts, *beginnings()["catching"], *beginnings()["finished"]]


def loading(field: str = "North field", size: str | None = None, lot: str = "four four seven") -> list[str]:
    """What a shift is begun with: forty pounds in each of eight hoppers; ``size`` where the field is not known."""
    return ["shift", lot, "skip", field, *([size] if size else []), "skip", "all on", "all forty pounds",
            "fifty pounds", "skip", "five acres", "skip"]  # fmt: skip


def loading_again(field: str = "North field") -> list[str]:
    """The same for a later shift, which knows what is asked once."""
    return ["shift", "four four seven", "skip", field, "skip", "all on", "all forty pounds"]


def night(talk: Talk, said: Said, *, begun: datetime = EVENING, before: Sequence[str] = ()) -> list[str]:
    """The replies to what is said so many minutes after planting began, which ``before`` leads to."""
    talk.say_all([*before], begun + timedelta(minutes=1))
    return [talk.say(text, begun + timedelta(minutes=minutes)) for minutes, text in said]


def told() -> Talk:
    """Everything of the record told before planting: product, field, applicator, calibration."""
    talk = Talk()
    day = EVENING - timedelta(hours=6)
    talk.say_all([*PRODUCT, *NORTH, *APPLICATOR], day)
    talk.say_all(prepared(), EVENING - timedelta(minutes=20))
    return talk


def zone_of(zone: str) -> ConversationDefaults:
    """Rules by the clock of a zone."""
    return ConversationDefaults(watch=WatchSettings(zone=zone))
