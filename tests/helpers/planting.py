"""A shift that was really said: a night in which a row stopped, another stayed high, and the hoppers were weighed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import cache

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import Database, open_database
from engine.history.store.journal import Journal, StoredTurn
from engine.messages import Language, System, Utterance
from tests.helpers.retelling import is_empty, retell
from tests.helpers.talking import beginnings, library

EVENING = datetime(2026, 4, 22, 0, 5, tzinfo=UTC)
"""19:05 in Chicago."""
ASKED = ("shift", "four four seven", "skip", "North field", "eighty acres", "skip", "all on",
         "all forty pounds", "fifty pounds", "skip", "five acres", "skip")  # fmt: skip
LEFT = {1: 15, 2: 15, 3: 15, 4: 15, 5: 16, 6: 15, 7: 22, 8: 15}
WEIGHED = ", ".join(f"row {row} {pounds} pounds left" for row, pounds in LEFT.items())
NIGHT: tuple[tuple[float, str], ...] = (
    (30, "all good"),
    (60, "row five stopped"),
    (70, "row five runs again"),
    (90, "ten acres done"),
    (91, "row seven is high, rest good"),
    (92, "scratch that"),
    (93, "lunch"),
    (123, "planting again"),
    (150, "hand over to Maria"),
    (180, "row seven is high, rest good"),
    (185, "row seven runs again"),
    (200, "new lot 4 5 8"),
    (210, "field is South"),
    (240, "row two stopped"),
    (250, "row two runs again"),
    (300, "thirty acres done"),
    (301, WEIGHED),
    (305, "end of shift"),
    (306, "done"),
)
"""What was said so many minutes after planting began."""


def plant(
    database: Database,
    said: Sequence[tuple[float, str]] = NIGHT,
    *,
    begun: datetime = EVENING,
    conversation: str = "c",
    language: Language = "en",
) -> None:
    """Set up, make a test run, and say a shift whose planting begins at an instant."""
    told = iter(("roll", "Product A"))
    prepared = [next(told) if text == "skip" else text for text in beginnings()["prepared"]]
    asked = [*prepared, *beginnings()["catching"], *beginnings()["finished"], *ASKED]
    before = [(begun - timedelta(minutes=len(asked) - number), text) for number, text in enumerate(asked, 1)]
    night = [(begun + timedelta(minutes=minutes), text) for minutes, text in said]

    def tell(lines: Sequence[tuple[datetime, str]]) -> None:
        assistant = Assistant(database, ConversationDefaults(language=language, system=System.US), library())
        for moment, text in lines:
            _say(assistant, conversation, text, moment)

    if is_empty(database):
        retell(database, (begun, conversation, language), lambda: tell(before))
    else:
        tell(before)
    tell(night)


@cache
def night() -> tuple[StoredTurn, ...]:
    """The turns of the whole night, said once."""
    database = open_database(":memory:")
    plant(database)
    return Journal(database).turns("c")


def _say(assistant: Assistant, conversation: str, text: str, moment: datetime) -> None:
    name = f"{conversation}:{moment.isoformat()}:{text}"
    language = assistant.state(conversation).language
    assistant.hear(Utterance(id=name, conversation=conversation, text=text, language=language, said_at=moment))
