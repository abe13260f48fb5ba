"""Who has the floor: the operator or the program, never both. Knows no sound; time comes in."""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.messages import Reply

TAIL_S = 0.5
"""Still deaf after the last word of our own: what the loudspeaker and the cab hold back reaches the microphone late."""


@dataclass(frozen=True)
class QueuedSpeech:
    """Something to say; ``key`` names the message of the outbox that it is, None for an answer.

    ``attempt`` counts the calls of a reminder from 1, louder each time; 0 for what is no reminder.
    """

    reply: Reply
    key: str | None = None
    attempt: int = 0


@dataclass(frozen=True)
class TurnTaking:
    """Who speaks and what waits to be said.

    ``is_open``: the operator is in the middle of an utterance. ``held``: told to wait, so that only "go on" is heard.
    ``answers`` belong to the utterance that just ended and go at once; ``announcements`` wait until nobody speaks.
    """

    held: bool = False
    speaking: bool = False
    is_open: bool = False
    deaf_until: float = 0.0
    answers: tuple[QueuedSpeech, ...] = ()
    announcements: tuple[QueuedSpeech, ...] = ()

    def hears(self, now: float) -> bool:
        """Whether the microphone counts now."""
        return not self.speaking and now >= self.deaf_until

    def heard(self, is_open: bool) -> TurnTaking:
        """The operator is, or is no longer, in the middle of an utterance."""
        return replace(self, is_open=is_open)

    def hold(self, held: bool) -> TurnTaking:
        return replace(self, held=held)

    def answer(self, reply: Reply) -> TurnTaking:
        """Say this next."""
        return replace(self, answers=(*self.answers, QueuedSpeech(reply)))

    def announce(self, line: QueuedSpeech) -> TurnTaking:
        """Say this when the operator has ended and was answered."""
        return replace(self, announcements=(*self.announcements, line))

    def take(self) -> tuple[TurnTaking, QueuedSpeech | None]:
        """What is to be said now; the floor is the program's until ``give``. None while it is somebody's."""
        if self.speaking:
            return self, None
        if self.answers:
            return replace(self, speaking=True, is_open=False, answers=self.answers[1:]), self.answers[0]
        if self.announcements and not self.is_open:
            return replace(self, speaking=True, announcements=self.announcements[1:]), self.announcements[0]
        return self, None

    def give(self, now: float, aloud: bool = True) -> TurnTaking:
        """All is said; what was only shown and not spoken ``aloud`` leaves no tail."""
        return replace(self, speaking=False, deaf_until=now + TAIL_S if aloud else self.deaf_until)
