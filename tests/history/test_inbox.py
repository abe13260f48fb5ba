"""Updates of a chat are in one worker's hands at a time, in their order, and in another's when its hold has run out."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta

from engine.database import Database
from engine.queues.inbox import Inbox, Incoming
from engine.queues.lease import LEASE, Leases, is_dead, worker_name
from engine.queues.outbox import Outbox
from tests.helpers.worker import dead_worker

NOW = datetime(2027, 4, 21, 12, tzinfo=UTC)


def came(number: int, chat: str, slow: bool = False) -> Incoming:
    return Incoming(number, chat, number, {"n": number}, NOW, slow)


def taken(inbox: Inbox, worker: str, at: datetime = NOW, slow: bool = False, most: int = 10) -> list[int]:
    return sorted(one.update_id for one in inbox.take(worker, at, LEASE, slow, most))


def test_the_first_of_each_chat_and_no_other(database: Database) -> None:
    inbox = Inbox(database)
    inbox.put([came(1, "a"), came(2, "a"), came(3, "b"), came(4, "b", slow=True)])
    assert taken(inbox, "w1", most=1) == [1]
    assert taken(inbox, "w2") == [3]
    assert taken(inbox, "w1") == taken(inbox, "w2") == []
    inbox.done(1, NOW)
    assert taken(inbox, "w2") == [], "the chat is still in the hands of the first"
    inbox.let_go("w1", ["a"])
    assert taken(inbox, "w2") == [2]
    inbox.done(3, NOW)
    inbox.let_go("w2", ["b"])
    assert (taken(inbox, "w1"), taken(inbox, "w1", slow=True)) == ([], [4])


def test_who_lets_go_lets_go_of_nothing_that_others_have(database: Database) -> None:
    inbox = Inbox(database)
    inbox.put([came(1, "a")])
    assert taken(inbox, "w1") == [1]
    inbox.let_go("w2", ["a"])
    assert taken(inbox, "w2") == []


def test_a_hold_that_ran_out_is_taken_over_and_a_renewed_one_is_not(database: Database) -> None:
    inbox, late = Inbox(database), NOW + LEASE
    inbox.put([came(1, "a")])
    assert taken(inbox, "w1") == [1]
    assert taken(inbox, "w2", late - timedelta(seconds=1)) == []
    Leases(database, "w1").renew(NOW + timedelta(seconds=5))
    assert taken(inbox, "w2", late) == []
    assert taken(inbox, "w2", late + timedelta(seconds=5)) == [1]


def test_the_dead_are_known_by_their_process() -> None:
    me = worker_name()
    host = me.split("/")[0]
    assert not is_dead(me, me)
    assert is_dead(f"{host}/{os.getpid()}/an-earlier-one", me)
    assert is_dead(dead_worker(), me)
    assert not is_dead(f"{host}/1/any", me)
    assert not is_dead("elsewhere/4194304/any", me)
    assert not is_dead("talk", me)


def test_only_the_dead_lose_what_they_had(database: Database) -> None:
    inbox, me = Inbox(database), worker_name()
    inbox.put([came(1, "a"), came(2, "b"), came(3, "c")])
    for worker in (dead_worker(), "elsewhere/1/living", me):
        assert len(inbox.take(worker, NOW, LEASE, False, 1)) == 1
    Leases(database, me).free_the_dead()
    assert taken(inbox, "another") == [1]
    Leases(database, me).let_go()
    assert taken(inbox, "another") == [3]
    assert Outbox(database).claim("another", NOW, LEASE) == ()
