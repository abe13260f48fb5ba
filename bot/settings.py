"""What a farm can set, from the environment (``ROWHAND_LANGUAGE``) or a TOML file, the environment first.

The file is ``settings.toml`` in the user's configuration folder, or the one that ``ROWHAND_SETTINGS`` names.
Secrets are never shown: they print as stars.
"""

from __future__ import annotations

import os
import re
from datetime import time, tzinfo
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from platformdirs import user_config_path, user_data_path
from pydantic import AfterValidator, BeforeValidator, Field, SecretStr, ValidationError
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

from engine.data.languages import DEFAULT
from engine.dialog.turns.elements import FEDERAL_DAYS, RecordTime
from engine.emergency_numbers import NUMBERS
from engine.errors import DefinitionError
from engine.messages import Language, System

PREFIX = "ROWHAND_"
CONVERSATION = "console"
"""The conversation of this computer, the same typed, spoken and on a phone in reach."""


class AdviceRule(StrEnum):
    """Which formula judges a test run and names the next dial position."""

    HANDBOOK = "handbook"
    ADVISE = "advise"


class RecognizerChoice(StrEnum):
    """Which engine hears; ``auto`` takes an installed model, else the panel of those that came along."""

    AUTO = "auto"
    PANEL = "panel"
    VOSK = "vosk"
    POCKETSPHINX = "pocketsphinx"


class VoiceChoice(StrEnum):
    """What speaks; ``auto`` takes Piper where a voice of the language is there, else espeak-ng."""

    AUTO = "auto"
    PIPER = "piper"
    ESPEAK_NG = "espeak-ng"
    NONE = "none"


def _known_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError("name a time zone like America/Chicago") from error
    return name


def _public_address(url: str) -> str:
    parts = urlsplit(url)
    is_here = parts.hostname in ("127.0.0.1", "::1", "localhost")
    if not parts.hostname or (parts.scheme != "https" and not (is_here and parts.scheme == "http")):
        raise ValueError("name a public address like https://farm.example/updates")
    if parts.path in ("", "/", "/health"):
        raise ValueError("the address needs a path of its own, like https://farm.example/updates")
    return url


def _long_secret(secret: SecretStr) -> SecretStr:
    if not re.fullmatch(r"[A-Za-z0-9_-]{16,256}", secret.get_secret_value()):
        raise ValueError("take 16 to 256 letters, digits, _ and -")
    return secret


def _system_zone() -> str:
    """The zone this computer is set to, UTC where it does not say."""
    place = os.environ.get("TZ", "").removeprefix(":") or str(Path("/etc/localtime").resolve())
    name = place.rpartition("zoneinfo/")[2]
    try:
        return _known_zone(name)
    except ValueError:
        return "UTC"


RecordPlace = Annotated[str, BeforeValidator(str)]
Place = Annotated[Path, AfterValidator(lambda path: path.expanduser().absolute())]
Zone = Annotated[str, AfterValidator(_known_zone)]
WebAddress = Annotated[str, AfterValidator(_public_address)]


class Settings(BaseSettings):
    """All settings, each with a default that works offline on one laptop."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, env_ignore_empty=True, extra="forbid", frozen=True)

    database: RecordPlace = Field(default_factory=lambda: str(user_data_path("rowhand") / "record.db"))
    """The record: a file, ``:memory:``, or the address of a database server."""
    backups: Place | None = None
    """Folder of the daily copies of the record; beside it where none is set."""
    backups_kept: int = Field(default=7, ge=0, le=1000)
    """How many daily copies stay (own decision: a week); 0 makes none."""
    language: Language = DEFAULT
    """Language that a conversation begins in."""
    units: System = System.US
    """Units that are shown where none were said."""
    time_zone: Zone = Field(default_factory=_system_zone)
    """Zone in which times are said and read."""
    tolerance: float = Field(default=5.0, gt=0, lt=100)
    """How far off the target a row may be [% of the target]."""
    advice: AdviceRule = AdviceRule.ADVISE
    """Rule by which the next setting of a row is advised."""
    recognizer: RecognizerChoice = RecognizerChoice.AUTO
    """What hears: an installed model, the panel of those that came along, or one of them."""
    acceptance: Place | None = None
    """File with limits of hearing in place of the measured ones."""
    voice_seconds: float = Field(default=60.0, gt=0)
    """Longest voice note that is heard [s]."""
    voice_bytes: int = Field(default=5_000_000, gt=0)
    """Largest voice note that is fetched [bytes]."""
    text_characters: int = Field(default=1_000, gt=0)
    """Longest message that is read [characters]."""
    voice_workers: int = Field(default=1, gt=0)
    """Processes that hear voice notes."""
    models: Place = Field(default_factory=lambda: user_data_path("rowhand") / "models")
    """Folder of the installed speech models."""
    voice: VoiceChoice = VoiceChoice.AUTO
    """What speaks."""
    voices: Place = Field(default_factory=lambda: user_data_path("rowhand") / "voices")
    """Folder of the Piper voices."""
    profiles: Place | None = None
    """Folder of what is known of people's voices; beside the record where none is named."""
    operator: str = "operator"
    """Who speaks at this machine."""
    speech_rate: float = Field(default=1.0, ge=0.5, le=2.0)
    """How many times faster than usual replies are spoken."""
    late_from: time | None = None
    """Time of day from which looks at the hoppers come closer together; None never."""
    late_until: time = time(6)
    """Time of day until which they do."""
    long_after_hours: float | None = Field(default=None, gt=0)
    """Time on shift after which they do as well [h]; None never."""
    again_minutes: float = Field(default=5.0, ge=0.5, le=60)
    """After so long a look that nobody answers is asked for again [min]."""
    tries: int = Field(default=3, ge=1, le=20)
    """After so many times the foreman is told."""
    record_days: int = Field(default=FEDERAL_DAYS, ge=0, le=FEDERAL_DAYS)
    """Within so long an application record is to be complete [days]; 14 by federal law of the United States."""
    record_hours: float | None = Field(default=None, gt=0, le=FEDERAL_DAYS * 24)
    """The same where the state asks for it sooner [h]."""
    record_of: Literal["restricted", "every"] = "restricted"
    """Of which products: those of restricted use, as federal law asks, or every one."""
    telegram_token: SecretStr | None = None
    """The secret of the bot."""
    telegram_url: str = "https://api.telegram.org"
    """Server of the Bot API."""
    telegram_rate: float = Field(default=30.0, gt=0)
    """Messages that it may get in a second."""
    telegram_chat_rate: float = Field(default=1.0, gt=0)
    """The same for one chat, after a short burst."""
    webhook_url: WebAddress | None = None
    """Public address at which the server brings updates."""
    webhook_secret: Annotated[SecretStr, AfterValidator(_long_secret)] | None = None
    """What it shows there; a new one at each start where none is set."""
    listen_address: str = "127.0.0.1"
    """Address at which this program takes updates."""
    listen_port: int = Field(default=8443, ge=0, le=65535)
    """Port at which it does; 0 for any that is free."""
    emergency_number: str = NUMBERS["emergency"]
    """Whom to call first. The three stand for the United States: elsewhere the local ones belong here."""
    poison_number: str = NUMBERS["poison"]
    """Poison Help."""
    spill_number: str = NUMBERS["spill"]
    """CHEMTREC, for large spills."""

    @property
    def voice_profiles(self) -> Path:
        """The folder of the voice profiles."""
        beside = self.database != ":memory:" and "://" not in self.database
        return self.profiles or (Path(self.database).parent if beside else user_data_path("rowhand")) / "profiles"

    @property
    def zone(self) -> tzinfo:
        return ZoneInfo(self.time_zone)

    @property
    def record_time(self) -> RecordTime:
        return RecordTime(self.record_days, self.record_hours, self.record_of == "every")

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,  # noqa: ARG003
        file_secret_settings: PydanticBaseSettingsSource,  # noqa: ARG003
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        return init_settings, env_settings, TomlConfigSettingsSource(settings_cls, settings_file())


def settings_file() -> Path:
    """Where the settings file is looked for."""
    named = os.environ.get(f"{PREFIX}SETTINGS")
    return Path(named).expanduser() if named else user_config_path("rowhand") / "settings.toml"


def load_settings(**given: object) -> Settings:
    """The settings, with those ``given`` (from a command line) over all others.

    Raises DefinitionError, which never shows the value of a secret.
    """
    try:
        return Settings(**{name: value for name, value in given.items() if value is not None})  # type: ignore[arg-type]
    except ValidationError as error:
        raise _explained(error) from None
    except (OSError, ValueError) as error:
        mend = 'write it as TOML, like: language = "es"'
        raise DefinitionError(str(settings_file()), "settings", str(error), mend) from None


def _explained(error: ValidationError) -> DefinitionError:
    first = error.errors()[0]
    name = str(first["loc"][0]) if first["loc"] else "settings"
    known = ", ".join(Settings.model_fields)
    unknown = first["type"] == "extra_forbidden"
    wrong = "there is no such setting" if unknown else first["msg"].removeprefix("Value error, ")
    mend = f"the settings are {known}" if unknown else f"set {PREFIX}{name.upper()}, or {name} in {settings_file()}"
    return DefinitionError("settings", name, wrong, mend)
