"""``rowhand page`` on the command line: codes, phones, forgetting; and a list that is damaged."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot import cli
from bot.page.command import drawn
from bot.page.visitors.address import in_url, reachable
from bot.page.visitors.phones import CODE_LASTS, SEEN_EACH, PhoneRole, PhoneShelf
from engine.errors import DefinitionError, InputError

NOW = datetime(2026, 4, 22, 1, tzinfo=UTC)


def said(*words: str) -> str:
    done = CliRunner().invoke(cli.app, ["page", *words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_phones_are_paired_listed_and_removed(tmp_path: Path) -> None:
    place = str(tmp_path / "record.db")
    shelf = PhoneShelf.of(place)
    assert said("phones", "--db", place) == "no phone is paired\n"
    told = said("pair", "--db", place, "--role", "foreman")
    assert told.startswith("code for a foreman's phone, for 30 minutes, once: ")
    code = told.rpartition(": ")[2].replace(" ", "").strip()
    assert shelf.pair(code, datetime.now(UTC)) is not None
    assert "1: foreman, paired " in said("phones", "--db", place)
    assert said("forget", "1", "--db", place) == "phone 1 is let in no more\n"
    with pytest.raises(InputError, match="there is no phone 1"):
        said("forget", "1", "--db", place)


def test_a_number_is_never_given_again(tmp_path: Path) -> None:
    shelf = PhoneShelf(tmp_path / "phones.json")
    numbers = []
    for _ in range(3):
        found = shelf.pair(shelf.open_code(PhoneRole.OPERATOR, NOW), NOW)
        assert found is not None
        numbers.append(found[0].number)
        shelf.forget(found[0].number)
    assert numbers == [1, 2, 3]


def test_a_code_that_is_too_old_pairs_nothing(tmp_path: Path) -> None:
    shelf = PhoneShelf(tmp_path / "phones.json")
    code = shelf.open_code(PhoneRole.OPERATOR, NOW)
    assert shelf.pair(code, NOW + CODE_LASTS) is None
    assert shelf.pair("", NOW) is None
    assert shelf.pair(code, NOW + CODE_LASTS - timedelta(seconds=1)) is not None


def test_that_a_phone_is_in_use_is_noted_now_and_then(tmp_path: Path) -> None:
    shelf = PhoneShelf(tmp_path / "phones.json")
    shelf.pair(shelf.open_code(PhoneRole.OPERATOR, NOW), NOW)
    shelf.seen(1, NOW + SEEN_EACH / 2)
    assert shelf.all()[0].seen_at == NOW
    shelf.seen(1, NOW + 2 * SEEN_EACH)
    assert shelf.all()[0].seen_at == NOW + 2 * SEEN_EACH


@pytest.mark.parametrize("text", ["", "{", '{"format": "2"}', '{"phones": [{"number": "x"}]}'])
def test_a_damaged_list_is_told_with_its_place(tmp_path: Path, text: str) -> None:
    shelf = PhoneShelf(tmp_path / "phones.json")
    shelf.file.write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError, match="pair the phones anew"):
        shelf.all()


def test_the_code_of_the_address_is_drawn_as_light_on_dark() -> None:
    lines = drawn("http://192.168.4.1:8470/pair?code=12345678").splitlines()
    assert len(lines) > 14 and all("█" in line or "▀" in line for line in lines)


def test_addresses_are_printed_as_a_browser_takes_them() -> None:
    assert in_url("192.168.4.1", 8470) == "http://192.168.4.1:8470/" and in_url("::1", 80) == "http://[::1]:80/"
    assert reachable("127.0.0.1") == ["127.0.0.1"] and reachable("")
