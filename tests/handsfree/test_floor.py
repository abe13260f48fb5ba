"""Who has the floor, for any order of events."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as some

from bot.handsfree.turn_taking import TAIL_S, QueuedSpeech, TurnTaking
from engine.messages import Reply

EVENTS = some.lists(some.sampled_from(["open", "close", "answer", "announce", "take", "give", "hold", "release"]))


def line(text: str) -> QueuedSpeech:
    return QueuedSpeech(Reply(text=text))


@given(EVENTS)
def test_nothing_is_lost_said_twice_or_said_while_somebody_speaks(events: list[str]) -> None:
    floor, given, said, now = TurnTaking(), list[str](), list[str](), 0.0
    for number, event in enumerate(events):
        now += 1
        before = floor
        match event:
            case "open" | "close":
                floor = floor.heard(event == "open")
            case "answer":
                floor = floor.answer(Reply(text=f"answer {number}"))
                given.append(f"answer {number}")
            case "announce":
                floor = floor.announce(line(f"announced {number}"))
                given.append(f"announced {number}")
            case "take":
                floor, taken = floor.take()
                if taken is not None:
                    assert not before.speaking
                    assert taken.reply.text.startswith("answer") or not (before.is_open or before.answers)
                    assert not floor.hears(now)
                    said.append(taken.reply.text)
            case "give":
                floor = floor.give(now)
            case _:
                floor = floor.hold(event == "hold")
    while (floor := floor.heard(False).give(now)).answers or floor.announcements:
        floor, taken = floor.take()
        assert taken is not None
        said.append(taken.reply.text)
    for kind in ("answer", "announced"):
        assert [text for text in said if text.startswith(kind)] == [text for text in given if text.startswith(kind)]


def test_it_is_deaf_while_it_speaks_and_a_moment_after() -> None:
    floor, taken = TurnTaking().answer(Reply(text="Row 1?")).take()
    assert taken == line("Row 1?")
    assert not floor.hears(1.0)
    floor = floor.give(2.0)
    assert not floor.hears(2.0 + TAIL_S * 0.9)
    assert floor.hears(2.0 + TAIL_S)


def test_what_is_only_shown_leaves_no_tail() -> None:
    floor, _ = TurnTaking().answer(Reply(text="Row 1?")).take()
    assert floor.give(2.0, aloud=False).hears(2.0)


def test_an_announcement_waits_for_the_end_of_the_utterance_and_its_answer() -> None:
    floor = TurnTaking().heard(True).announce(line("Look into the hoppers."))
    assert floor.take() == (floor, None)
    floor = floor.heard(False).answer(Reply(text="Row 1, 61 g."))
    floor, first = floor.take()
    assert first == line("Row 1, 61 g.")
    assert floor.take() == (floor, None)
    _, second = floor.give(3.0).take()
    assert second == line("Look into the hoppers.")


def test_a_held_channel_still_announces() -> None:
    _, said = TurnTaking().hold(True).announce(line("Look into the hoppers.")).take()
    assert said == line("Look into the hoppers.")
