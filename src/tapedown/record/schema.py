"""The migrations, and the guards that keep every program, not only this one, from changing what is written.

On SQLite the tables have no hidden row number (`WITHOUT ROWID`): `INSERT OR REPLACE` could otherwise name one and
overwrite a row without touching its id.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import NamedTuple

from sqlalchemy import Connection, func, insert, inspect, select

from tapedown.record.tables import SCHEMA_HISTORY

_CHANGED = "what is written in the record is never changed; write a new entry that strikes the old one"
_REMOVED = "what is written in the record is never removed; write a new entry that strikes the old one"
_OVERWRITTEN = "the record holds this already and overwrites nothing"

_GUARDED = ("entries", "blobs", "schema_history")

_TABLES = (
    """CREATE TABLE schema_history (
    number BIGINT NOT NULL PRIMARY KEY,
    name {text} NOT NULL,
    ran_at {text} NOT NULL DEFAULT ({now})
){options}""",
    """CREATE TABLE entries (
    id {text} NOT NULL PRIMARY KEY,
    kind {text} NOT NULL,
    about {text} NOT NULL,
    measured_at {text} NOT NULL,
    written_at {text} NOT NULL,
    "by" {text} NOT NULL,
    body {text} NOT NULL,
    strikes {text} UNIQUE REFERENCES entries (id) DEFERRABLE INITIALLY DEFERRED,
    reason {text} NOT NULL,
    device {text} NOT NULL,
    sequence BIGINT NOT NULL,
    previous {text} NOT NULL,
    digest {text} NOT NULL,
    content_digest {text} NOT NULL,
    received_at {text} NOT NULL DEFAULT ({now}),
    UNIQUE (device, sequence)
){options}""",
    "CREATE INDEX entries_about ON entries (about, kind)",
    "CREATE INDEX entries_content ON entries (content_digest)",
    """CREATE TABLE blobs (
    sha256 {text} NOT NULL PRIMARY KEY,
    media_type {text} NOT NULL,
    size BIGINT NOT NULL,
    bytes {bytes} NOT NULL
){options}""",
)


def _sqlite_guards() -> tuple[str, ...]:
    held_already = {
        "entries": (
            "EXISTS (SELECT 1 FROM entries WHERE id = NEW.id)"
            " OR EXISTS (SELECT 1 FROM entries WHERE strikes = NEW.strikes)"
            " OR EXISTS (SELECT 1 FROM entries WHERE device = NEW.device AND sequence = NEW.sequence)"
        ),
        "blobs": "EXISTS (SELECT 1 FROM blobs WHERE sha256 = NEW.sha256)",
        "schema_history": "EXISTS (SELECT 1 FROM schema_history WHERE number = NEW.number)",
    }
    return tuple(
        f"CREATE TRIGGER {table}_{name} BEFORE {event} ON {table} {when} BEGIN SELECT RAISE(ABORT, '{words}'); END"
        for table in _GUARDED
        for name, event, when, words in (
            ("not_changed", "UPDATE", "", _CHANGED),
            ("not_removed", "DELETE", "", _REMOVED),
            ("not_overwritten", "INSERT", f"WHEN {held_already[table]}", _OVERWRITTEN),
        )
    )


_REFUSE_BODY = "BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0]; END"


def _postgresql_guards() -> tuple[str, ...]:
    statements = [f"CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $${_REFUSE_BODY}$$"]
    for table in _GUARDED:
        for name, event, words in (
            ("not_changed", "UPDATE ON {} FOR EACH ROW", _CHANGED),
            ("not_removed", "DELETE ON {} FOR EACH ROW", _REMOVED),
            ("not_emptied", "TRUNCATE ON {} FOR EACH STATEMENT", _REMOVED),
        ):
            trigger = f"{table}_{name}"
            when = event.format(table)
            statements += [
                f"CREATE TRIGGER {trigger} BEFORE {when} EXECUTE FUNCTION refuse_change('{words}')",
                f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {trigger}",
            ]
    return tuple(statements)


def _tables(**words: str) -> tuple[str, ...]:
    return tuple(statement.format(**words) for statement in _TABLES)


class Migration(NamedTuple):
    """One step of the schema: its number, a name for people, and its statements for each database."""

    number: int
    name: str
    sqlite: tuple[str, ...]
    postgresql: tuple[str, ...]

    def statements(self, dialect: str) -> tuple[str, ...]:
        """The statements for SQLAlchemy's dialect of that name."""
        return {"sqlite": self.sqlite, "postgresql": self.postgresql}[dialect]


MIGRATIONS = (
    Migration(
        1,
        "entries, blobs and their guards",
        sqlite=(
            *_tables(
                text="TEXT",
                bytes="BLOB",
                now="strftime('%Y-%m-%dT%H:%M:%f', 'now') || '000Z'",
                options=" WITHOUT ROWID",
            ),
            *_sqlite_guards(),
        ),
        postgresql=(
            *_tables(
                text='TEXT COLLATE "C"',  # so that both databases sort alike
                bytes="BYTEA",
                now="to_char(clock_timestamp() AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')",
                options="",
            ),
            *_postgresql_guards(),
        ),
    ),
)
"""Never edit one that has been released: add the next."""


def schema_number(connection: Connection) -> int | None:
    """Number of the last migration that ran, 0 in an empty database, None where something else lives."""
    found = inspect(connection)
    if found.has_table(SCHEMA_HISTORY.name):
        return connection.execute(select(func.max(SCHEMA_HISTORY.c.number))).scalar() or 0
    return None if found.get_table_names() else 0


def migrate(connection: Connection, migration: Migration) -> None:
    """Run one migration and write down that it ran; the caller's transaction holds both."""
    for statement in migration.statements(connection.dialect.name):
        connection.exec_driver_sql(statement)
    connection.execute(insert(SCHEMA_HISTORY), {"number": migration.number, "name": migration.name})


def guard_faults(connection: Connection) -> list[tuple[str, str]]:
    """Each table, index or trigger that is "missing", "changed" or, for triggers, "not ours"; the fault second."""
    if connection.dialect.name == "sqlite":
        found, expected = _sqlite_objects(connection), _sqlite_expected(MIGRATIONS)
    else:
        found, expected = _postgresql_objects(connection), _postgresql_expected()
    faults = [
        (name, "changed" if name in found else "missing")
        for name, definition in expected.items()
        if found.get(name) != definition
    ]
    return faults + [(name, "not ours") for name in found.keys() - expected.keys() if name.startswith("trigger")]


_SQLITE_OBJECTS = "SELECT type || ' ' || name, sql FROM sqlite_master WHERE sql IS NOT NULL"


def _sqlite_objects(connection: Connection) -> dict[str, str]:
    return {row[0]: row[1] for row in connection.exec_driver_sql(_SQLITE_OBJECTS)}


def _sqlite_expected(migrations: Sequence[Migration]) -> dict[str, str]:
    fresh = sqlite3.connect(":memory:")
    try:
        for migration in migrations:
            for statement in migration.sqlite:
                fresh.execute(statement)
        return dict(fresh.execute(_SQLITE_OBJECTS).fetchall())
    finally:
        fresh.close()


_POSTGRESQL_TRIGGERS = """
SELECT 'trigger ' || t.tgname, t.tgenabled::text || ' ' || p.prosrc
FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace
"""
_POSTGRESQL_INDEXES = "SELECT 'index ' || indexname, 'there' FROM pg_indexes WHERE schemaname = current_schema()"
_POSTGRESQL_INDEX_NAMES = (
    "entries_pkey",
    "entries_strikes_key",
    "entries_device_sequence_key",
    "entries_about",
    "entries_content",
    "blobs_pkey",
)


def _postgresql_objects(connection: Connection) -> dict[str, str]:
    queries = (_POSTGRESQL_TRIGGERS, _POSTGRESQL_INDEXES)
    return {row[0]: row[1] for query in queries for row in connection.exec_driver_sql(query)}


def _postgresql_expected() -> dict[str, str]:
    triggers = [
        f"trigger {table}_{name}" for table in _GUARDED for name in ("not_changed", "not_removed", "not_emptied")
    ]
    indexes = [f"index {name}" for name in _POSTGRESQL_INDEX_NAMES]
    return dict.fromkeys(triggers, f"A {_REFUSE_BODY}") | dict.fromkeys(indexes, "there")
