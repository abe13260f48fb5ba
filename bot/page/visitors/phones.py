"""The phones that were paired, in a file beside the record that its owner alone can read.

Of a phone's token and of a pairing code only a hash is kept. Every change is made under a lock, so that the command
line and the program that serves the page can change the file side by side.
"""

from __future__ import annotations

import fcntl
import hashlib
import hmac
import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Literal

from platformdirs import user_data_path
from pydantic import AwareDatetime, ValidationError

from bot.record.place import file_of
from engine.errors import DefinitionError, WorldError
from engine.messages import Message
from engine.new_file import on_disk, part_of, writing

ENDING = ".phones.json"
CODE_DIGITS = 8
CODE_LASTS = timedelta(minutes=30)
TOKEN_BYTES = 32
SEEN_EACH = timedelta(hours=1)
"""How often it is written down that a phone is still in use."""
MOST_PHONES, MOST_CODES = 100, 20


class PhoneRole(StrEnum):
    """An operator's phone talks; a foreman's looks on and says nothing."""

    OPERATOR = "operator"
    FOREMAN = "foreman"


class PairedPhone(Message):
    """One phone, called by its ``number``; ``token`` is the hash of what it shows."""

    number: int
    role: PhoneRole
    token: str
    paired_at: AwareDatetime
    seen_at: AwareDatetime


class PairingCode(Message):
    """One code that can still be used, by its hash under a ``salt`` of its own."""

    hashed: str
    salt: str
    role: PhoneRole
    until: AwareDatetime


class PhoneList(Message):
    """The whole file; ``newest`` is the number of the last phone, which is never given again."""

    format: Literal["1"] = "1"
    newest: int = 0
    phones: tuple[PairedPhone, ...] = ()
    codes: tuple[PairingCode, ...] = ()


@dataclass(frozen=True)
class PhoneShelf:
    """The file of the phones of one record. Raises DefinitionError where it is damaged, WorldError where it fails."""

    file: Path

    @classmethod
    def of(cls, database: str) -> PhoneShelf:
        """That of a record: beside its file, else in the folder of this program."""
        record = file_of(database)
        return cls(record.with_name(record.name + ENDING) if record else user_data_path("rowhand") / f"record{ENDING}")

    def all(self) -> tuple[PairedPhone, ...]:
        """Every phone, the oldest first."""
        return self._read().phones

    def open_code(self, role: PhoneRole, now: datetime) -> str:
        """A new code that pairs one phone, once and for half an hour."""
        code, salt = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS)), secrets.token_hex(16)
        made = PairingCode(hashed=_slow(code, salt), salt=salt, role=role, until=now + CODE_LASTS)

        def add(known: PhoneList) -> PhoneList:
            still = tuple(one for one in known.codes if one.until > now)[-(MOST_CODES - 1) :]
            return known.model_copy(update={"codes": (*still, made)})

        self._change(add)
        return code

    def pair(self, code: str, now: datetime) -> tuple[PairedPhone, str] | None:
        """A phone and its token for a code, which is used up by it; None for one that is wrong, used or too old."""
        found = [one for one in self._read().codes if one.until > now and _same(_slow(code, one.salt), one.hashed)]
        if not found:
            return None
        token = secrets.token_urlsafe(TOKEN_BYTES)
        paired: list[PairedPhone] = []

        def add(known: PhoneList) -> PhoneList:
            if found[0] not in known.codes or len(known.phones) >= MOST_PHONES:
                return known
            number = known.newest + 1
            new = PairedPhone(number=number, role=found[0].role, token=_quick(token), paired_at=now, seen_at=now)
            paired.append(new)
            rest = tuple(one for one in known.codes if one != found[0])
            return known.model_copy(update={"newest": number, "phones": (*known.phones, new), "codes": rest})

        self._change(add)
        return (paired[0], token) if paired else None

    def of_token(self, token: str) -> PairedPhone | None:
        """The phone that shows this token."""
        hashed = _quick(token)
        return next((one for one in self._read().phones if _same(one.token, hashed)), None)

    def seen(self, number: int, now: datetime) -> None:
        """Note that a phone is in use, now and then."""
        if any(one.number == number and now - one.seen_at > SEEN_EACH for one in self.all()):
            self._change(
                lambda known: known.model_copy(
                    update={
                        "phones": tuple(
                            one.model_copy(update={"seen_at": now}) if one.number == number else one
                            for one in known.phones
                        )
                    }
                )
            )

    def forget(self, number: int) -> bool:
        """Remove a phone; whether there was one of this number."""
        there = any(one.number == number for one in self.all())
        self._change(
            lambda known: known.model_copy(
                update={"phones": tuple(one for one in known.phones if one.number != number)}
            )
        )
        return there

    def _read(self) -> PhoneList:
        if not self.file.exists():
            return PhoneList()
        try:
            return PhoneList.model_validate_json(self.file.read_bytes())
        except ValidationError as error:
            mend = "remove the file and pair the phones anew"
            raise DefinitionError(str(self.file), "phones", "it is no list of phones", mend) from error
        except OSError as error:
            raise WorldError(f"{self.file} cannot be read: {error.strerror}") from error

    def _change(self, change: Callable[[PhoneList], PhoneList]) -> None:
        with self._alone(), part_of(self.file) as part, writing(self.file):
            part.write_text(change(self._read()).model_dump_json(indent=1), encoding="utf-8")
            on_disk(part)
            part.replace(self.file)
            on_disk(self.file.parent)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        lock = self.file.with_name(f".{self.file.name}.lock")
        with writing(lock):
            lock.parent.mkdir(parents=True, exist_ok=True)
            handle = os.open(lock, os.O_CREAT | os.O_RDWR, 0o600)
        try:
            with writing(lock):
                fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)


def _quick(token: str) -> str:
    """A token is long and random: one round is enough."""
    return hashlib.sha256(token.encode()).hexdigest()


def _slow(code: str, salt: str) -> str:
    """A code is short: who reads the file shall not try all of them in a moment."""
    return hashlib.scrypt(code.encode(), salt=bytes.fromhex(salt), n=2**14, r=8, p=1).hex()


def _same(one: str, other: str) -> bool:
    return hmac.compare_digest(one, other)
