"""What the database refuses to do with the rows of a record, the same on SQLite and PostgreSQL."""

from __future__ import annotations

from sqlalchemy import Connection

NAMELESS = ":/"
"""Stands in the name of every conversation that is not called after the chat of one person."""


def written_once(connection: Connection, table: str, unless: str = "false") -> None:
    """Make the database refuse to change or delete rows of a table.

    A change for which the condition ``unless`` holds passes.
    """
    server = connection.dialect.name == "postgresql"
    if server:
        connection.exec_driver_sql(_REFUSAL)
    for verb, but in (("UPDATE", unless), ("DELETE", "false")):
        head = f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}"
        refuse = f"BEGIN SELECT RAISE(ABORT, '{table} rows are written once'); END"
        each, then = ("FOR EACH ROW", "EXECUTE FUNCTION rowhand_refuse()") if server else ("", refuse)
        connection.exec_driver_sql(f"{head} {each} WHEN (NOT ({but})) {then}")


_REFUSAL = """CREATE OR REPLACE FUNCTION rowhand_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
    RAISE integrity_constraint_violation USING MESSAGE = TG_TABLE_NAME || ' rows are written once'; END $$"""


def only_forgets_whose(connection: Connection, *kept: str) -> str:
    """The condition that a change of a turn takes a person's chat out of it and leaves the ``kept`` columns alone."""
    server = connection.dialect.name == "postgresql"
    same, place = ("IS NOT DISTINCT FROM", "strpos") if server else ("IS", "instr")
    moves = f"{place}(NEW.conversation, '{NAMELESS}') > 0 AND {place}(OLD.conversation, '{NAMELESS}') = 0"
    return " AND ".join([moves, *(f"NEW.{name} {same} OLD.{name}" for name in kept)])
