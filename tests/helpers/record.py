"""Where a test keeps its record: in a file, or on the server that ``ROWHAND_TEST_DATABASE`` names."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from sqlalchemy import create_engine

from engine.database import address

SERVER = os.environ.get("ROWHAND_TEST_DATABASE", "")

files_only = pytest.mark.skipif(bool(SERVER), reason="about files of SQLite")
servers_only = pytest.mark.skipif(not SERVER, reason="ROWHAND_TEST_DATABASE names no server: python -m tests.postgres")


def where(path: Path | str) -> str:
    """The path itself, or the address of a schema of its own, the same one for the same path; an address stays."""
    if not SERVER or "://" in str(path):
        return str(path)
    name = f"t{hashlib.sha256(str(Path(path).resolve()).encode()).hexdigest()[:20]}"
    engine = create_engine(address(SERVER))
    with engine.begin() as connection:
        connection.exec_driver_sql(f"CREATE SCHEMA IF NOT EXISTS {name}")
    engine.dispose()
    in_it = address(SERVER).update_query_dict({"options": f"-csearch_path={name}"})
    return in_it.render_as_string(hide_password=False)
