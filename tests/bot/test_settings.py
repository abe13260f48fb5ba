from __future__ import annotations

from pathlib import Path

import pytest

from bot.settings import AdviceRule, RecognizerChoice, load_settings
from bot.wiring import rules
from engine.entries.acceptance import load_acceptance
from engine.errors import DefinitionError
from engine.messages import System

TOKEN = "123456:not-a-real-token"


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "settings.toml"
    monkeypatch.setenv("ROWHAND_SETTINGS", str(place))
    for name in ("LANGUAGE", "TOLERANCE", "TIME_ZONE", "TELEGRAM_TOKEN", "ADVICE", "UNITS", "DATABASE"):
        monkeypatch.delenv(f"ROWHAND_{name}", raising=False)
    return place


def test_everything_has_a_default() -> None:
    settings = load_settings()
    assert (settings.language, settings.tolerance, settings.units) == ("en", 5.0, System.US)
    assert settings.recognizer is RecognizerChoice.AUTO
    assert settings.telegram_token is None
    assert settings.database.endswith("record.db")


def test_the_environment_goes_over_the_file_and_the_command_line_over_both(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file.write_text('language = "es"\ntolerance = 3\nadvice = "advise"\n')
    monkeypatch.setenv("ROWHAND_TOLERANCE", "4")
    settings = load_settings(units="metric", database=None)
    assert (settings.language, settings.tolerance, settings.units) == ("es", 4.0, System.METRIC)
    assert settings.advice is AdviceRule.ADVISE


def test_an_empty_variable_is_no_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ROWHAND_TOLERANCE", "")
    assert load_settings().tolerance == 5.0


def test_the_token_is_never_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ROWHAND_TELEGRAM_TOKEN", TOKEN)
    settings = load_settings()
    assert settings.telegram_token is not None
    assert settings.telegram_token.get_secret_value() == TOKEN
    assert TOKEN not in f"{settings!r} {settings} {settings.model_dump_json()}"


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("tolerance", "0", "tolerance: Input should be greater than 0"),
        ("tolerance", "wide", "tolerance: Input should be a valid number"),
        ("language", "fr", "language: Input should be 'en' or 'es'"),
        ("time_zone", "Iowa", "time_zone: name a time zone like America/Chicago"),
        ("time_zone", "../../etc/passwd", "time_zone: name a time zone"),
    ],
)
def test_a_wrong_value_names_its_place_and_mend(
    name: str, value: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(f"ROWHAND_{name.upper()}", value)
    with pytest.raises(DefinitionError, match=said) as caught:
        load_settings()
    assert f"set ROWHAND_{name.upper()}" in caught.value.mend


def test_a_setting_that_does_not_exist(file: Path) -> None:
    file.write_text("tolerence = 4\n")
    with pytest.raises(DefinitionError, match="tolerence: there is no such setting") as caught:
        load_settings()
    assert "tolerance" in caught.value.mend


def test_a_file_that_cannot_be_read(file: Path) -> None:
    file.write_text("language: es\n")
    with pytest.raises(DefinitionError, match=r"settings\.toml.*write it as TOML"):
        load_settings()


def test_the_computers_own_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "America/Chicago")
    assert load_settings().time_zone == "America/Chicago"
    monkeypatch.setenv("TZ", "nowhere")
    assert load_settings().time_zone == "UTC"


def test_other_limits_of_hearing_can_be_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    limits = load_acceptance().model_copy(update={"value_kept": 0.97, "sound_alike_kept": 0.99})
    file = tmp_path / "limits.yaml"
    file.write_text("".join(f"{name}: {value}\n" for name, value in limits.model_dump().items()))
    monkeypatch.setenv("ROWHAND_ACCEPTANCE", str(file))
    assert rules(load_settings()).acceptance == limits
    monkeypatch.delenv("ROWHAND_ACCEPTANCE")
    assert rules(load_settings()).acceptance == load_acceptance()
