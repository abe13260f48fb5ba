"""What a column holds: text, moments and plain data, the same on SQLite and PostgreSQL.

All text is compared by its characters alone, never by the rules of a language. Instants are UTC, as text that sorts in
order of time: ``2027-03-28T06:30:00.000000Z``.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Dialect, String, Text
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.schema import CreateColumn
from sqlalchemy.sql.compiler import DDLCompiler
from sqlalchemy.types import TypeDecorator

_INSTANT = "%Y-%m-%dT%H:%M:%S.%fZ"


def without_nul(text: str) -> str:
    """Text as PostgreSQL can hold it."""
    return text.replace("\0", "\ufffd")


class TextColumn(TypeDecorator[str]):
    """Text of any length; the character NUL, which PostgreSQL cannot hold, is kept there as U+FFFD."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return without_nul(value) if value and dialect.name == "postgresql" else value


def instant_written(moment: datetime) -> str:
    """A moment as it is stored; ValueError for a time without a zone."""
    if moment.utcoffset() is None:
        raise ValueError("a moment needs its time zone")
    return moment.astimezone(UTC).strftime(_INSTANT)


def instant_read(text: str) -> datetime:
    """A stored moment; ValueError for any other text."""
    return datetime.strptime(text, _INSTANT).replace(tzinfo=UTC)


class Instant(TypeDecorator[datetime]):
    """A moment, stored as UTC text; a time without a zone is refused."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else instant_written(value)

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return None if value is None else datetime.fromisoformat(value)


class Json(TypeDecorator[Any]):
    """Plain data as JSON text; numbers come back exactly as they went in, NaN and infinity are refused."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else json.dumps(value, ensure_ascii=False, allow_nan=False)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else json.loads(value)


@compiles(CreateColumn, "postgresql")
def _compared_by_characters(create: CreateColumn, compiler: DDLCompiler, **given: Any) -> str:
    """A column of text as PostgreSQL has to make it to compare as SQLite does."""
    made = str(compiler.visit_create_column(create, **given))  # type: ignore[no-untyped-call]
    kind = compiler.dialect.type_compiler_instance.process(create.element.type)
    text = isinstance(create.element.type, TextColumn | Instant)
    return made.replace(kind, f'{kind} COLLATE "C"', 1) if text else made
