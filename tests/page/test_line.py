"""The line of a phone: once, in order, at the time it was said, and never as the answer to another question."""

from __future__ import annotations

import asyncio
import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tornado.httpclient import HTTPClientError

from bot.page.line import AT_ONCE
from bot.page.views.messages import read_from_phone
from bot.page.visitors.phones import PhoneRole
from tests.helpers.page_client import PhoneWire, ask, paired
from tests.helpers.page_host import PageHost

DAY_MS = 86_400_000.0


async def test_what_is_said_is_a_turn_and_stands_on_every_phone(host: PageHost) -> None:
    one, other = [await PhoneWire.open(host, paired(host)) for _ in range(2)]
    assert (await one.say("set up"))["how"] == "taken"
    assert (await one.stands(1))["question"] == "How many rows?"
    assert (await other.stands(1))["question"] == "How many rows?"
    host.elsewhere("eight")
    assert (await one.stands(2))["said"] == "Rows: 8."


async def test_a_line_that_comes_again_is_taken_once(host: PageHost) -> None:
    phone = await PhoneWire.open(host, paired(host))
    for _ in range(3):
        assert (await phone.say("set up", id="a" * 32, seq=0))["how"] == "taken"
    assert host.heard() == ["set up"]


async def test_the_same_name_on_two_phones_is_two_lines(host: PageHost) -> None:
    for _ in range(2):
        phone = await PhoneWire.open(host, paired(host))
        await phone.say("what is left", id="a" * 32)
    assert host.heard() == ["what is left"] * 2


@pytest.mark.parametrize("skew", [0.0, -400 * DAY_MS, 3_600_000.0])
async def test_a_wrong_clock_of_the_phone_changes_no_time(host: PageHost, skew: float) -> None:
    phone = await PhoneWire.open(host, paired(host))
    phone.skew = skew
    now = phone.clock()
    await phone.say("set up", at=now - 3 * 3_600_000, now=now)
    said_at = host.journal.turns("console")[0].said_at
    assert abs(datetime.now(UTC) - timedelta(hours=3) - said_at) < timedelta(seconds=30)


async def test_a_clock_that_was_set_while_it_waited_gives_no_time_to_come(host: PageHost) -> None:
    phone = await PhoneWire.open(host, paired(host))
    now = phone.clock()
    await phone.say("set up", at=now + DAY_MS, now=now)
    await phone.say("eight", at=0, now=now)
    first, second = [turn.said_at for turn in host.journal.turns("console")]
    assert first <= datetime.now(UTC) and second > datetime.now(UTC) - timedelta(days=15)


async def test_an_answer_to_a_question_that_is_gone_is_not_kept(host: PageHost) -> None:
    """Two rows of a catch: the phone answers row 1 while somebody else did."""
    phone = await PhoneWire.open(host, paired(host))
    await phone.say("set up")
    view = await phone.stands(1)
    host.elsewhere("eight")
    settled = await phone.say("30", seq=view["seq"])
    assert settled["how"] == "moved_on" and "30" not in host.heard()
    assert (await phone.say("30 in", seq=2))["how"] == "taken"


async def test_a_second_tap_of_the_same_button_answers_nothing(host: PageHost) -> None:
    host.elsewhere("set up", "eight", "thirty inches", "0 to 30 by 1")
    phone = await PhoneWire.open(host, paired(host))
    seq = phone.view["seq"]
    assert (await phone.say("no", seq=seq, tapped=True))["how"] == "taken"
    assert (await phone.say("no", seq=seq, tapped=True))["how"] == "moved_on"
    assert host.heard()[-1] == "no" and len(host.heard()) == seq + 1


async def test_what_was_typed_in_a_row_without_reach_follows_its_own_lines(host: PageHost) -> None:
    phone = await PhoneWire.open(host, paired(host))
    for text in ("set up", "eight", "thirty inches"):
        assert (await phone.say(text, seq=0))["how"] == "taken"
    assert host.heard() == ["set up", "eight", "thirty inches"]


async def test_a_question_is_answered_wherever_the_talk_stands(host: PageHost) -> None:
    host.elsewhere("set up")
    phone = await PhoneWire.open(host, paired(host))
    host.elsewhere("eight")
    assert (await phone.say("why do you ask that", seq=1))["how"] == "taken"


async def test_a_text_that_is_too_long_is_refused_with_a_word(host: PageHost) -> None:
    phone = await PhoneWire.open(host, paired(host))
    settled = await phone.say("a" * 1_500)
    assert settled["how"] == "refused" and settled["text"] and host.heard() == []


async def test_a_foreman_looks_on_and_says_nothing(host: PageHost) -> None:
    host.elsewhere("set up", "eight")
    token = paired(host, PhoneRole.FOREMAN)
    phone = await PhoneWire.open(host, token)
    card = phone.view["cards"][0]
    assert "Set up" in card["open"] and card["last"] == "Last said: “eight”."
    phone.wire.write_message(json.dumps({"kind": "said", "id": "a" * 32, "at": 1, "now": 1, "seq": 2, "text": "no"}))
    async with asyncio.timeout(30):
        while await phone.wire.read_message() is not None:
            pass
    assert ask(host, "/recording?id=aaaaaaaa&at=1&now=1&seq=2", "POST", b"x", token=token).status == 403
    assert len(host.heard()) == 2


async def test_a_phone_that_is_removed_is_let_in_no_more(host: PageHost) -> None:
    token = paired(host)
    phone = await PhoneWire.open(host, token)
    assert host.shelf.forget(1)
    async with asyncio.timeout(30):
        while await phone.wire.read_message() is not None:
            pass
    with pytest.raises(HTTPClientError, match="403"):
        await PhoneWire.open(host, token)


async def test_a_phone_that_floods_is_cut_off_and_others_are_not(host: PageHost) -> None:
    flood, other = [await PhoneWire.open(host, paired(host)) for _ in range(2)]
    for _ in range(int(AT_ONCE) + 60):
        flood.wire.write_message('{"kind":"beat"}')
    async with asyncio.timeout(30):
        while await flood.wire.read_message() is not None:
            pass
    assert (await other.say("set up"))["how"] == "taken"


HOSTILE = st.one_of(
    st.text(max_size=200),
    st.binary(max_size=200),
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=30),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(
                st.sampled_from(["kind", "id", "at", "now", "seq", "text", "key", "call"]), inner, max_size=8
            )
        ),
        max_leaves=12,
    ).map(json.dumps),
    st.builds(
        lambda **told: json.dumps({"kind": "said", **told}),
        id=st.text(max_size=80) | st.none(),
        at=st.floats() | st.text(max_size=5),
        now=st.floats(),
        seq=st.integers() | st.floats(),
        text=st.text(max_size=50) | st.integers(),
    ),
)


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow])
@given(HOSTILE)
def test_what_no_phone_of_ours_sends_is_a_value_error_or_a_bounded_line(sent: str | bytes) -> None:
    try:
        found = read_from_phone(sent)
    except ValueError:
        return
    assert found.kind in ("said", "shown", "beat")
    if found.kind == "said":
        assert 8 <= len(found.id) <= 64 and 0 < len(found.text) <= 4_000 and 0 <= found.at < 1e15


@pytest.mark.parametrize(
    "sent",
    [
        "", "x", "[]", "null", "{}", '{"kind":"said"}', '{"kind":"view"}', b"\xff\xfe", "[" * 5_000, "a" * 20_000,
        '{"kind":"said","id":"../../../x","at":1,"now":1,"seq":0,"text":"set up"}',
        '{"kind":"said","id":"aaaaaaaaaaaaaaaa","at":NaN,"now":1,"seq":0,"text":"set up"}',
        '{"kind":"said","id":"aaaaaaaaaaaaaaaa","at":1,"now":1,"seq":-1,"text":"set up"}',
        '{"kind":"said","id":"aaaaaaaaaaaaaaaa","at":1,"now":1,"seq":0,"text":"set up","phone":7}',
    ],
)  # fmt: skip
async def test_a_hostile_message_ends_its_line_and_nothing_else(host: PageHost, sent: str | bytes) -> None:
    phone = await PhoneWire.open(host, paired(host))
    phone.wire.write_message(sent, binary=isinstance(sent, bytes))
    async with asyncio.timeout(30):
        while await phone.wire.read_message() is not None:
            pass
    assert host.heard() == [] and ask(host, "/pair").status == 200
