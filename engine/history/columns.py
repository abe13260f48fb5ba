"""What a column holds: text, moments and plain data, the same on SQLite and PostgreSQL.

All text is compared by its characters alone, never by the rules of a language. Instants are UTC, as text that sorts in
order of time: ``2027-03-28T06:30:00.000000Z``.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Dialect, String, Text
from sqlalchemy.types import TypeDecorator, TypeEngine

_INSTANT = "%Y-%m-%dT%H:%M:%S.%fZ"


class Words(TypeDecorator[str]):
    """Text of any length; the character NUL, which PostgreSQL cannot hold, is kept there as U+FFFD."""

    impl = Text
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Text(collation=_collation(dialect)))

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return value.replace("\0", "\ufffd") if value and dialect.name == "postgresql" else value


class Instant(TypeDecorator[datetime]):
    """A moment, stored as UTC text; a time without a zone is refused."""

    impl = String(27)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(String(27, collation=_collation(dialect)))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError("a moment needs its time zone")
        return value.astimezone(UTC).strftime(_INSTANT)

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return None if value is None else datetime.strptime(value, _INSTANT).replace(tzinfo=UTC)


class Json(TypeDecorator[Any]):
    """Plain data as JSON text; numbers come back exactly as they went in, NaN and infinity are refused."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else json.dumps(value, ensure_ascii=False, allow_nan=False)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else json.loads(value)


def _collation(dialect: Dialect) -> str | None:
    return "C" if dialect.name == "postgresql" else None
