from __future__ import annotations

from datetime import timedelta

import pytest

from engine.errors import DatabaseError
from engine.history.store.journal import Journal
from engine.queues.outbox import Arrival, DeliveryState, Outbox, Outgoing, Setback
from engine.queues.outbox_message import PictureMessage, VoiceNoteMessage
from tests.helpers.turns import START, new_turn

LEASE = timedelta(seconds=30)
NOW = START + timedelta(minutes=5)


@pytest.fixture
def outbox(journal: Journal) -> Outbox:
    for conversation in ("a", "b"):
        for seq in (1, 2):
            journal.append(new_turn(seq, conversation=conversation, sends=2))
    return Outbox(journal.database)


def keys(outbox: Outbox, worker: str = "w1", after: timedelta = timedelta(0)) -> list[str]:
    return [message.key for message in outbox.claim(worker, NOW + after, LEASE)]


def waiting(outbox: Outbox, conversation: str = "a") -> list[str]:
    return [one.outgoing.key for one in outbox.pending(conversation)]


def test_messages_wait_in_the_order_written(outbox: Outbox) -> None:
    assert waiting(outbox) == ["a-1/0", "a-1/1", "a-2/0", "a-2/1"]


def test_the_first_of_each_conversation_goes(outbox: Outbox) -> None:
    assert keys(outbox) == ["a-1/0", "b-1/0"]
    assert keys(outbox) == []
    outbox.mark_sent("a-1/0")
    assert keys(outbox) == ["a-1/1"]


def test_what_follows_a_message_waits_with_its_mark_once(outbox: Outbox) -> None:
    note = Outgoing("a-1/0/voice", "a", VoiceNoteMessage(said="good", language="en"), NOW)
    arrived = Arrival("a-1/0", 77, (note,))
    outbox.settle((arrived, Setback("b-1/0", None, "refused")))
    outbox.settle((arrived,))
    assert waiting(outbox) == ["a-1/1", "a-2/0", "a-2/1", "a-1/0/voice"]
    assert outbox.posted("a", ("a-1/0", "a-1/1", "b-1/0")) == (77,)
    assert outbox.posted("b", ("a-1/0",)) == ()
    given_up = outbox.find("b-1/0")
    assert given_up and (given_up.state, given_up.why, given_up.attempts) == (DeliveryState.FAILED, "refused", 1)


def test_where_what_follows_cannot_be_kept_the_message_is_not_marked_either(outbox: Outbox) -> None:
    impossible = Outgoing("a-1/0/voice", "a", PictureMessage(text="", drawing={"x": float("nan")}), NOW)
    with pytest.raises(DatabaseError):
        outbox.settle((Arrival("a-1/0", 77, (impossible,)),))
    assert waiting(outbox)[0] == "a-1/0"


def test_no_more_than_asked(outbox: Outbox) -> None:
    assert len(outbox.claim("w1", NOW, LEASE, limit=1)) == 1


def test_all_arrive_in_order_through_two_workers(outbox: Outbox) -> None:
    sent: list[str] = []
    for turn in range(8):
        for key in keys(outbox, worker=f"w{turn % 2}"):
            sent.append(key)
            outbox.mark_sent(key)
    assert [key for key in sent if key.startswith("a")] == ["a-1/0", "a-1/1", "a-2/0", "a-2/1"]
    assert len(sent) == len(set(sent)) == 8


def test_nothing_goes_before_it_is_due(outbox: Outbox) -> None:
    assert outbox.claim("w1", START - timedelta(seconds=1), LEASE) == ()


def test_a_dead_worker_loses_its_lease(outbox: Outbox) -> None:
    assert keys(outbox, "dead") == ["a-1/0", "b-1/0"]
    assert keys(outbox, "next", after=LEASE - timedelta(seconds=1)) == []
    assert keys(outbox, "next", after=LEASE) == ["a-1/0", "b-1/0"]


def test_a_failed_message_holds_the_later_ones_until_it_is_tried_again(outbox: Outbox) -> None:
    keys(outbox)
    outbox.settle((Setback("a-1/0", NOW + timedelta(minutes=1), "too many requests"),))
    outbox.mark_sent("b-1/0")
    assert keys(outbox) == ["b-1/1"]
    assert sorted(keys(outbox, after=timedelta(minutes=1))) == ["a-1/0", "b-1/1"]
    found = outbox.find("a-1/0")
    assert found is not None
    assert (found.state, found.attempts, found.why) == (DeliveryState.PENDING, 1, "too many requests")


def test_a_message_given_up_lets_the_next_one_go(outbox: Outbox) -> None:
    keys(outbox)
    outbox.settle((Setback("a-1/0", None, "the chat is gone"),))
    found = outbox.find("a-1/0")
    assert found is not None and found.state is DeliveryState.FAILED
    assert waiting(outbox) == ["a-1/1", "a-2/0", "a-2/1"]
    assert "a-1/1" in keys(outbox)


def test_a_late_mark_does_not_bring_a_sent_message_back(outbox: Outbox) -> None:
    keys(outbox)
    outbox.mark_sent("a-1/0")
    outbox.settle((Setback("a-1/0", NOW), Setback("a-1/0", None)))
    found = outbox.find("a-1/0")
    assert found is not None
    assert (found.state, found.attempts) == (DeliveryState.SENT, 0)


def test_an_unknown_key_is_not_found(outbox: Outbox) -> None:
    assert outbox.find("nobody") is None
