"""Every ring in both languages, as it is read and as it is said; the golden texts stand in ``rings.yaml``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import yaml

from bot.bell.ringing import Ringing
from engine.crew.farm import Farm
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.messages import LANGUAGES, Button, Language, System
from engine.reminders.reminder import Audience, ClockKind, ClockNotice, Relief, Ring
from tests.helpers.bell import CHICAGO, DUE, LOOKED, assistant, notice, reminder, ring, say, waiting_field
from tests.helpers.reminding import sit

GOLDEN = yaml.safe_load((Path(__file__).parent / "rings.yaml").read_text(encoding="utf-8"))
OPERATOR, FOREMAN = "telegram:1", "telegram:2"


def minutes(count: float) -> timedelta:
    return timedelta(minutes=count)


SAID: dict[str, Ring | Relief | ClockNotice] = {
    "first call": ring(reminder()),
    "on the hour": ring(reminder(due=DUE - minutes(40))),
    "few minutes past": ring(reminder(due=DUE - minutes(35))),
    "afternoon": ring(reminder(due=DUE + minutes(12 * 60))),
    "without an area": ring(reminder(area=False)),
    "second call": ring(reminder(asked=1), now=DUE + minutes(5)),
    "third call": ring(reminder(asked=2), now=DUE + minutes(10)),
    "away for hours": ring(reminder(), now=DUE + minutes(120), missed=True),
    "away, two due": ring(reminder(1, DUE - minutes(30)), reminder(2), now=DUE + minutes(60), missed=True),
    "away, three due": ring(
        reminder(1, DUE - minutes(60)), reminder(2, DUE - minutes(30)), reminder(3), now=DUE + minutes(60), missed=True
    ),
    "away since yesterday": ring(reminder(), now=DUE + minutes(60 * 20), missed=True),
    "foreman": ring(reminder(talk=OPERATOR, asked=3), to=FOREMAN, now=DUE + minutes(15), audience=Audience.FOREMAN),
    "not shown": replace(
        ring(reminder(talk="console", asked=1), to=FOREMAN, now=DUE + minutes(15), audience=Audience.FOREMAN),
        unshown=True,
    ),
    "answered after all": Relief(FOREMAN, DUE + minutes(17), reminder(talk=OPERATOR, asked=3)),
    "field over": ring(waiting_field()),
    "field over, told late": ring(waiting_field(), now=DUE + minutes(60 * 20), missed=True),
    "field without a name over": ring(waiting_field(field="")),
    "field over, to the foreman": ring(waiting_field(talk=OPERATOR), to=FOREMAN, audience=Audience.FOREMAN),
    "field without a name over, to the foreman": ring(
        waiting_field(field="", talk=OPERATOR), to=FOREMAN, audience=Audience.FOREMAN
    ),
    "clock ahead, a field alone": notice(ClockKind.FORWARD, minutes(60), waiting_field(due=DUE + minutes(300))),
    "clock back, a field alone": notice(ClockKind.BACK, minutes(-300), waiting_field(due=DUE + minutes(60 * 30))),
    "clock stopped, a field alone": notice(ClockKind.STOPPED, minutes(-2), waiting_field(due=DUE + minutes(300))),
    "clock back, a look and a field": notice(
        ClockKind.BACK, minutes(-300), waiting_field(due=DUE - minutes(5)), reminder(2, due=DUE + minutes(5))
    ),
    "clock ahead": notice(ClockKind.FORWARD, minutes(60), reminder(due=DUE + minutes(5))),
    "clock ahead, look due": notice(ClockKind.FORWARD, minutes(60), reminder(due=DUE - minutes(5))),
    "clock back": notice(ClockKind.BACK, minutes(-300), reminder(due=DUE + minutes(5))),
    "clock stopped": notice(ClockKind.STOPPED, -timedelta(seconds=21), reminder(due=DUE + minutes(5))),
}


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(tmp_path / "record.db")
    yield opened
    opened.close()


def ringing(database: Database, language: Language = "en", system: System = System.US) -> Ringing:
    return Ringing(assistant(database, language, system), database, CHICAGO)


def farm(database: Database, *, named: bool = True) -> None:
    people = People(database)
    for chat, role, name in (
        (OPERATOR, PersonRole.OPERATOR, "Ana" if named else None),
        (FOREMAN, PersonRole.FOREMAN, "Joe"),
    ):
        assert people.join(chat, people.invite("home", role, DUE), LOOKED, name)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", SAID)
def test_golden(database: Database, name: str, language: Language) -> None:
    farm(database)
    body = ringing(database, language).compose(SAID[name])
    assert [body.text, body.speech] == GOLDEN[name][language]
    assert body.language == language


def test_nothing_in_the_golden_file_that_no_ring_says() -> None:
    assert set(GOLDEN) == set(SAID)


def test_the_operator_can_press_what_he_would_say(database: Database) -> None:
    body = ringing(database, "es").compose(SAID["third call"])
    assert list(body.buttons) == [
        Button(label="Todo bien", says="todo bien"),
        Button(label="Diez minutos más", says="diez minutos más"),
    ]
    assert (body.audience, body.attempt) == ("operator", 3)
    for other in ("foreman", "clock back"):
        assert ringing(database).compose(SAID[other]).buttons == ()
    assert ringing(database).compose(SAID["foreman"]).audience == "foreman"


@pytest.mark.parametrize("name", ["field over", "field over, told late", "field over, to the foreman"])
def test_a_field_that_is_over_asks_nothing_and_lets_its_reader_sleep(database: Database, name: str) -> None:
    farm(database)
    body = ringing(database).compose(SAID[name])
    assert body.buttons == () and not body.aloud_too and body.can_wait and body.attempt == 1


def test_metric_units(database: Database) -> None:
    text = ringing(database, system=System.METRIC).compose(SAID["first call"]).text
    assert "about 2 ha since" in text


@pytest.mark.parametrize(
    ("named", "planter", "speaker", "who"),
    [
        (True, None, None, "from Ana since"),
        (True, "North", None, "from Ana on planter North since"),
        (True, "North", "Luis", "from Luis on planter North since"),
        (False, "North", None, "from planter North since"),
        (False, None, None, "from an operator since"),
    ],
)
def test_who_does_not_answer(
    database: Database, named: bool, planter: str | None, speaker: str | None, who: str
) -> None:
    farm(database, named=named)
    operator = People(database).member(OPERATOR)
    assert operator
    if planter:
        Farm(database, operator).work_with(planter, LOOKED)
    if speaker:
        Farm(database, operator).hand_over(speaker, LOOKED)
    assert who in ringing(database).compose(SAID["foreman"]).text


def test_a_foreman_who_is_no_member_learns_no_name(database: Database) -> None:
    farm(database)
    told = ring(reminder(talk=OPERATOR, asked=3), to="elsewhere", audience=Audience.FOREMAN)
    assert "from an operator" in str(ringing(database).compose(told).text)


def test_the_longer_nobody_looks_the_more_is_planted(database: Database) -> None:
    """Five acres in twenty-five minutes: eight after forty."""
    body = ringing(database).compose(ring(reminder(asked=2), now=LOOKED + minutes(40)))
    assert "about 8 acres" in body.text


def test_a_reminder_of_another_make_rings_all_the_same(database: Database) -> None:
    one = reminder()
    odd = replace(one, body={**one.body, "area": "much", "shape": 4})
    assert ringing(database).compose(ring(odd)).text == GOLDEN["without an area"]["en"][0]


def test_an_operator_is_called_in_the_language_of_the_conversation_that_asks(database: Database) -> None:
    """Who sits with another planter meanwhile is called about the first one as that was talked about."""
    farm(database)
    ringer = ringing(database)
    say(assistant(database), "español", DUE, "telegram:9")
    sit(database, OPERATOR, "telegram:9")
    assert ringer.compose(ring(reminder(talk=OPERATOR), to=OPERATOR)).language == "en"
    sit(database, FOREMAN, "telegram:9")
    told = ring(reminder(talk=OPERATOR, asked=3), to=FOREMAN, audience=Audience.FOREMAN)
    assert ringer.compose(told).language == "es"
