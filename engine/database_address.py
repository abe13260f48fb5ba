"""The address of a database server."""

from __future__ import annotations

from sqlalchemy import URL
from sqlalchemy.engine import make_url


def address(url: str) -> URL:
    """A database URL, with the driver of the ``server`` extra where it names PostgreSQL and no driver.

    Raises ArgumentError for what is no URL.
    """
    parsed = make_url(url)
    return parsed.set(drivername="postgresql+psycopg") if parsed.drivername in ("postgresql", "postgres") else parsed
