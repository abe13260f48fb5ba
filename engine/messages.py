"""The data that crosses the engine's doors: what was said, what is expected, what it means, what is answered.

One utterance travels ``Utterance → Reading (of Entry) → Turn``; ``Expectation`` goes the other way, from the dialog to
the ears. All are frozen and travel as JSON without loss.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from engine.clock import Moment
from engine.data.languages import LANGUAGES as LANGUAGES
from engine.data.languages import Language as Language
from engine.data.units import System as System
from engine.frozen_model import FrozenModel
from engine.intents import Command as Command
from engine.intents import Report as Report
from engine.intents import Topic as Topic
from engine.quantities import Measure
from engine.values import Value


class Message(FrozenModel):
    """Base of everything that crosses a door: frozen, closed, comparable."""


# ---------------------------------------------------------------- what was said


class HeardWord(Message):
    """One recognised word and how sure the recogniser is of it, 0 to 1."""

    text: str
    confidence: float = Field(ge=0, le=1)


class Confusion(Message):
    """What a voice says is heard as something else: where ``heard`` stands, ``said`` may have been said."""

    heard: str
    said: str


class Utterance(Message):
    """One thing an operator said or typed.

    ``id`` is unique for ever and makes a second delivery harmless; ``said_at`` is when it was said, not when it came.
    ``alternatives`` are other texts the recogniser thought of, best first; empty for typed text. ``noisy`` where the
    sound itself was measured to be poor. ``confusions`` are those that are known of this voice.
    """

    id: str = Field(min_length=1)
    conversation: str = Field(min_length=1)
    text: str
    language: Language
    said_at: AwareDatetime
    spoken: bool = False
    words: tuple[HeardWord, ...] = ()
    alternatives: tuple[str, ...] = ()
    noisy: bool = False
    confusions: tuple[Confusion, ...] = ()

    @property
    def confidence(self) -> float:
        """Confidence of the least certain word; 1 for typed text."""
        return min((word.confidence for word in self.words), default=1.0)


# ---------------------------------------------------------------- what it was taken to mean


class DoubtReason(StrEnum):
    """Why a value is read back as a question."""

    UNUSUAL = "unusual"
    LOW_CONFIDENCE = "low_confidence"
    BARELY_HEARD = "barely_heard"
    SOUND_ALIKE = "sound_alike"
    DECIMAL_UNSAID = "decimal_unsaid"
    UNIT_UNSAID = "unit_unsaid"
    INFERRED = "inferred"
    ELSEWHERE = "elsewhere"


class UnclearReason(StrEnum):
    """Why an utterance gave nothing that can be kept or asked."""

    NOTHING_HEARD = "nothing_heard"
    UNKNOWN_WORDS = "unknown_words"
    NO_VALUE = "no_value"
    NO_SUCH_ROW = "no_such_row"
    WRONG_UNIT = "wrong_unit"
    NOT_A_CHOICE = "not_a_choice"
    SEVERAL_CHOICES = "several_choices"
    NO_SUCH_SETTING = "no_such_setting"
    OUT_OF_RANGE = "out_of_range"
    WHICH_ROW = "which_row"
    TOO_NOISY = "too_noisy"
    UNSURE = "unsure"
    MISPLACED = "misplaced"


class Reported(Message):
    """A report during a shift. No ``rows`` means the whole planter, or the rest of it where others are named beside;
    ``rest`` where it is said of all rows but those.

    ``value`` is the mass left, added (``each``: in every hopper) or caught, a share of a full hopper, an area, a speed,
    a rate, a time or a name; a whole number of REFILLED counts bags. ``together``: in all hoppers as one; ``full``: up
    to the mark, or on top of what was left; ``confirmed``: it was asked whether it can be so. ``lot`` is what came in
    with a refill. ``when`` is the moment it happened, where that was said, ``until`` when it was over; ``area`` the
    size of a field. ``doubt`` says why it must be asked before it is taken.
    """

    kind: Literal["reported"] = "reported"
    report: Report
    rows: tuple[int, ...] = ()
    value: Value | None = None
    rest: bool = False
    each: bool = False
    together: bool = False
    full: bool | None = None
    confirmed: bool = False
    lot: str | None = None
    area: Measure | None = None
    when: Moment | None = None
    until: Moment | None = None
    said: str = ""
    doubt: DoubtReason | None = None


class Given(Message):
    """A value for a slot, for a row where the slot is per row.

    ``said`` is the piece of the utterance it came from. ``doubt`` says why it must be asked before it is kept, with
    ``rivals``, other values it may have been, likeliest first.
    ``correcting`` is True when the words themselves say that an earlier value is replaced.
    """

    kind: Literal["given"] = "given"
    slot: str
    row: int | None = None
    value: Value
    said: str = ""
    correcting: bool = False
    doubt: DoubtReason | None = None
    rivals: tuple[Value, ...] = ()


class Either(Message):
    """Words that split two ways: each reading is a whole set of values, and only the operator may choose.

    ``alike``: they sound alike, and the first is the likeliest.
    """

    kind: Literal["either"] = "either"
    readings: tuple[tuple[Given, ...], ...] = Field(min_length=2)
    alike: bool = False


class Commanded(Message):
    """One of the commands; ``row`` with skip ("skip row five"), scratch and correct where a row was said, ``language``
    the one to go on in."""

    kind: Literal["commanded"] = "commanded"
    command: Command
    row: int | None = None
    language: Language | None = None


class LeavingOut(Message):
    """Rows that are to be done without tonight, or with ``back`` taken in again; ``said`` tells why as it was said."""

    kind: Literal["leaving_out"] = "leaving_out"
    rows: tuple[int, ...]
    back: bool = False
    said: str = ""


class Repairing(Message):
    """Rows that were rebuilt or got a new part, in the words that tell it; with ``back`` they were not."""

    kind: Literal["repairing"] = "repairing"
    rows: tuple[int, ...]
    back: bool = False
    said: str = ""


class Correcting(Message):
    """ "Correct row two" or "change the spacing": the value is to be asked again."""

    kind: Literal["correcting"] = "correcting"
    slot: str | None = None
    row: int | None = None


class Asked(Message):
    """A question that is always answered; ``amount`` is the area in "how much for forty acres", ``slot`` the value
    that is asked about by its name."""

    kind: Literal["asked"] = "asked"
    topic: Topic
    row: int | None = None
    slot: str | None = None
    amount: Measure | None = None


class Answered(Message):
    """Yes or no."""

    kind: Literal["answered"] = "answered"
    yes: bool


class Chosen(Message):
    """ "The first": an index from 0 into the candidates."""

    kind: Literal["chosen"] = "chosen"
    index: int


class Opened(Message):
    """A dialog asked for by name."""

    kind: Literal["opened"] = "opened"
    dialog: str


class Unclear(Message):
    """Nothing that can be kept; ``said`` is the piece that was not understood, ``row`` a row that does not exist."""

    kind: Literal["unclear"] = "unclear"
    reason: UnclearReason
    said: str = ""
    slot: str | None = None
    row: int | None = None


Entry = Annotated[
    Given
    | Either
    | Commanded
    | LeavingOut
    | Repairing
    | Correcting
    | Asked
    | Answered
    | Chosen
    | Opened
    | Reported
    | Unclear,
    Field(discriminator="kind"),
]


class Decision(StrEnum):
    KEEP = "keep"
    ASK = "ask"
    UNCLEAR = "unclear"


class Reading(Message):
    """All that one utterance was taken to mean, in the order it was said; ``spoken`` where it was heard, ``left`` what
    tells something and went into no entry."""

    entries: tuple[Entry, ...]
    spoken: bool = False
    left: tuple[str, ...] = ()

    @property
    def decision(self) -> Decision:
        """Unclear when nothing can be kept, ask when any part needs a question, keep otherwise."""
        if any(isinstance(entry, Unclear) for entry in self.entries) or not self.entries:
            return Decision.UNCLEAR
        doubtful = any(
            isinstance(entry, Either) or (isinstance(entry, Given | Reported) and entry.doubt is not None)
            for entry in self.entries
        )
        return Decision.ASK if doubtful else Decision.KEEP


# ---------------------------------------------------------------- what is answered


class Button(Message):
    """One closed answer to draw: the label, and the words that pressing it says."""

    label: str
    says: str


class Reply(Message):
    """One answer to an operator: text to show, the same to say aloud, and the closed answers if there are any."""

    text: str
    speech: str = ""
    buttons: tuple[Button, ...] = ()
