"""What goes over the line between a phone and this computer: closed, bounded models in both directions."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from engine.messages import Button, Language, Message

LONGEST_TEXT = 4_000
Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{8,64}$")]
"""What a phone calls something that it sends: made there once, and the same each time it is sent."""
Milliseconds = Annotated[float, Field(ge=0, lt=1e15, allow_inf_nan=False)]
Turn = Annotated[int, Field(ge=0, lt=2**53)]
RingKey = Annotated[str, Field(max_length=200)]


class SentLine(Message):
    """Something said on a phone at the time ``at`` of its own clock, which shows ``now`` while it is sent.

    ``seq`` is the turn that stood on the phone then; ``call`` the call that it answers by one of its buttons.
    """

    id: Name
    at: Milliseconds
    now: Milliseconds
    seq: Turn
    call: RingKey | None = None


class TypedLine(SentLine):
    """Typed, or ``tapped`` on a button or a pad."""

    kind: Literal["said"] = "said"
    text: str = Field(min_length=1, max_length=LONGEST_TEXT)
    tapped: bool = False


class ShownCall(Message):
    """A call was shown and rung for on this phone."""

    kind: Literal["shown"] = "shown"
    key: RingKey


class Beat(Message):
    """A phone asks whether the line still stands; the same goes back."""

    kind: Literal["beat"] = "beat"


FromPhone = Annotated[TypedLine | ShownCall | Beat, Field(discriminator="kind")]
_FROM_PHONE: TypeAdapter[FromPhone] = TypeAdapter(FromPhone)


def read_from_phone(text: str | bytes) -> TypedLine | ShownCall | Beat:
    """Raises ValueError for what no phone of ours sends."""
    return _FROM_PHONE.validate_json(text)


# ---------------------------------------------------------------- to the phone


class Settlement(StrEnum):
    """What became of a line. ``moved_on``: the talk had gone on elsewhere, so that it is not taken for an answer to
    another question; ``unheard``: nothing could be made of the sound; ``failed``: it is to be sent again."""

    TAKEN = "taken"
    MOVED_ON = "moved_on"
    UNHEARD = "unheard"
    FAILED = "failed"
    REFUSED = "refused"


class SettledLine(Message):
    """The answer to one line; ``text`` says why it was not taken."""

    kind: Literal["settled"] = "settled"
    id: str
    how: Settlement
    text: str = ""


class UnitKey(Message):
    """A unit on the pad: how it is shown, and how it is said."""

    label: str
    says: str


class NumberPad(Message):
    """A number to be typed for ``name``, for the ``row`` that is asked for; without units a bare number.

    ``rows``: it is told row by row. ``says`` is the key of the text that is said with it, where that is none of these.
    """

    name: str
    says: str = ""
    units: tuple[UnitKey, ...]
    rows: bool = False
    row: int | None = None


class RowStanding(StrEnum):
    """How a row stands; those from ON_TARGET on are the marks of a drawn test run."""

    OPEN = "open"
    ASKED = "asked"
    TOLD = "told"
    DOWN = "down"
    NOTHING = "nothing"
    ON_TARGET = "on_target"
    CLOSEST = "closest"
    NOT_SURE = "not_sure"
    AGAIN = "again"
    MOVE = "move"
    FAULT = "fault"
    NO_CATCH = "no_catch"
    LEFT_OUT = "left_out"


class RowTile(Message):
    """One row on the grid: its standing in a ``word``, its newest value, and what was found of it in ``detail``.

    ``off``, ``low`` and ``high`` are percent of the target, as they stand on the sheet of the run.
    """

    row: int
    standing: RowStanding
    word: str
    value: str = ""
    detail: str = ""
    off: float | None = None
    low: float | None = None
    high: float | None = None


class RowGrid(Message):
    """All rows; ``tolerance`` in percent is the band, where a run was judged. ``title`` says what is shown."""

    title: str = ""
    summary: str = ""
    tolerance: float | None = None
    tiles: tuple[RowTile, ...] = ()


class RingingCall(Message):
    """A call that nobody answered yet, the ``attempt``-th; one that ``asks`` nothing is shown until it was read."""

    key: str
    asks: bool
    text: str
    speech: str
    attempt: int
    buttons: tuple[Button, ...]


class HeardLine(Message):
    """One turn of before, and who said it: this page or another channel."""

    seq: int
    heard: str
    reply: str
    at: float


class ConversationView(Message):
    """Where the conversation stands, all that an operator's phone shows."""

    kind: Literal["view"] = "view"
    version: str
    language: Language
    seq: int
    opened: str
    said: str
    question: str
    speech: str
    buttons: tuple[Button, ...]
    names: tuple[Button, ...]
    pads: tuple[NumberPad, ...]
    row_buttons: tuple[Button, ...]
    grid: RowGrid
    calls: tuple[RingingCall, ...]
    before: tuple[HeardLine, ...]
    types: bool
    skips: bool
    languages: tuple[Button, ...]


class PlanterCard(Message):
    """One planter as a foreman sees it: what is open since when, what was said last, calls, rows, and the shift."""

    name: str
    open: str
    last: str
    calls: tuple[str, ...]
    lines: tuple[str, ...]
    grid: RowGrid


class PlantersView(Message):
    """All planters of the record, to look at."""

    kind: Literal["planters"] = "planters"
    version: str
    language: Language
    cards: tuple[PlanterCard, ...]


class PaperLinks(Message):
    """A summary in words, and the files of it: ``picture`` and ``pages`` are their addresses where they can be made."""

    title: str
    lines: tuple[str, ...]
    picture: str = ""
    pages: str = ""
    lacks: str = ""


ToPhone = SettledLine | ConversationView | PlantersView | Beat
