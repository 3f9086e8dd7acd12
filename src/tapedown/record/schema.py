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

_FIRST_GUARDED = ("entries", "blobs", "schema_history")
_GUARDED = (*_FIRST_GUARDED, "rivals")

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

_RIVALS_TABLE = """CREATE TABLE rivals (
    id {text} NOT NULL PRIMARY KEY,
    kind {text} NOT NULL,
    about {text} NOT NULL,
    measured_at {text} NOT NULL,
    written_at {text} NOT NULL,
    "by" {text} NOT NULL,
    body {text} NOT NULL,
    strikes {text} NOT NULL,
    reason {text} NOT NULL,
    device {text} NOT NULL,
    sequence BIGINT NOT NULL,
    previous {text} NOT NULL,
    digest {text} NOT NULL,
    content_digest {text} NOT NULL,
    received_at {text} NOT NULL DEFAULT ({now}),
    UNIQUE (device, sequence)
){options}"""

_SQLITE_WORDS = {
    "text": "TEXT",
    "bytes": "BLOB",
    "now": "strftime('%Y-%m-%dT%H:%M:%f', 'now') || '000Z'",
    "options": " WITHOUT ROWID",
}
_POSTGRESQL_WORDS = {
    "text": 'TEXT COLLATE "C"',  # so that both databases sort alike
    "bytes": "BYTEA",
    "now": "to_char(clock_timestamp() AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')",
    "options": "",
}


def _sqlite_guards(*tables: str) -> tuple[str, ...]:
    held_already = {
        "entries": (
            "EXISTS (SELECT 1 FROM entries WHERE id = NEW.id)"
            " OR EXISTS (SELECT 1 FROM entries WHERE strikes = NEW.strikes)"
            " OR EXISTS (SELECT 1 FROM entries WHERE device = NEW.device AND sequence = NEW.sequence)"
        ),
        "rivals": _held_in("rivals"),
        "blobs": "EXISTS (SELECT 1 FROM blobs WHERE sha256 = NEW.sha256)",
        "schema_history": "EXISTS (SELECT 1 FROM schema_history WHERE number = NEW.number)",
    }
    return tuple(
        f"CREATE TRIGGER {table}_{name} BEFORE {event} ON {table} {when} BEGIN SELECT RAISE(ABORT, '{words}'); END"
        for table in tables
        for name, event, when, words in (
            ("not_changed", "UPDATE", "", _CHANGED),
            ("not_removed", "DELETE", "", _REMOVED),
            ("not_overwritten", "INSERT", f"WHEN {held_already[table]}", _OVERWRITTEN),
        )
    )


def _held_in(table: str) -> str:
    """Whether another table of links holds the id or the place in the chain of a new row."""
    return " OR ".join(
        f"EXISTS (SELECT 1 FROM {table} WHERE {meets})"  # noqa: S608 - the names are our own
        for meets in ("id = NEW.id", "device = NEW.device AND sequence = NEW.sequence")
    )


_NOT_IN_BOTH = (("entries", "rivals"), ("rivals", "entries"))
_SQLITE_NOT_IN_BOTH = tuple(
    f"CREATE TRIGGER {table}_not_in_both BEFORE INSERT ON {table} WHEN {_held_in(other)}"
    f" BEGIN SELECT RAISE(ABORT, '{_OVERWRITTEN}'); END"
    for table, other in _NOT_IN_BOTH
)

_REFUSE_BODY = "BEGIN RAISE EXCEPTION USING MESSAGE = TG_ARGV[0]; END"


def _postgresql_guards(*tables: str) -> tuple[str, ...]:
    statements: list[str] = []
    for table in tables:
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


def _not_in_both_body(other: str) -> str:
    return f"BEGIN IF {_held_in(other)} THEN RAISE EXCEPTION '{_OVERWRITTEN}'; END IF; RETURN NEW; END"


def _postgresql_not_in_both() -> tuple[str, ...]:
    statements: list[str] = []
    for table, other in _NOT_IN_BOTH:
        name = f"{table}_not_in_both"
        statements += [
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${_not_in_both_body(other)}$$",
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
            f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}",
        ]
    return tuple(statements)


_SAME_RIGHTS = """DO $$
DECLARE found record;
BEGIN
    FOR found IN
        SELECT grantee, privilege_type FROM information_schema.role_table_grants
        WHERE table_schema = current_schema() AND table_name = 'entries'
        AND privilege_type IN ('SELECT', 'INSERT') AND grantee <> 'PUBLIC'
    LOOP
        EXECUTE 'GRANT ' || found.privilege_type || ' ON rivals TO ' || quote_ident(found.grantee);
    END LOOP;
END $$"""
"""Whoever could enter before can go on entering."""


def _tables(words: dict[str, str]) -> tuple[str, ...]:
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
        sqlite=(*_tables(_SQLITE_WORDS), *_sqlite_guards(*_FIRST_GUARDED)),
        postgresql=(
            *_tables(_POSTGRESQL_WORDS),
            f"CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $${_REFUSE_BODY}$$",
            *_postgresql_guards(*_FIRST_GUARDED),
        ),
    ),
    Migration(
        2,
        "rival corrections",
        sqlite=(
            _RIVALS_TABLE.format(**_SQLITE_WORDS),
            "CREATE INDEX rivals_content ON rivals (content_digest)",
            *_sqlite_guards("rivals"),
            *_SQLITE_NOT_IN_BOTH,
        ),
        postgresql=(
            _RIVALS_TABLE.format(**_POSTGRESQL_WORDS),
            "CREATE INDEX rivals_content ON rivals (content_digest)",
            *_postgresql_guards("rivals"),
            *_postgresql_not_in_both(),
            _SAME_RIGHTS,
        ),
    ),
)
"""Never edit one that has been released: add the next."""


def schema_number(connection: Connection) -> int | None:
    """Number of the last migration that ran, 0 in an empty database, None where something else lives."""
    tables = inspect(connection)
    if tables.has_table(SCHEMA_HISTORY.name):
        return connection.execute(select(func.max(SCHEMA_HISTORY.c.number))).scalar() or 0
    return None if tables.get_table_names() else 0


def migrate(connection: Connection, migration: Migration) -> None:
    """Run one migration and write down that it ran; the caller's transaction holds both."""
    for statement in migration.statements(connection.dialect.name):
        connection.exec_driver_sql(statement)
    connection.execute(insert(SCHEMA_HISTORY), {"number": migration.number, "name": migration.name})


def guard_faults(connection: Connection) -> list[tuple[str, str]]:
    """Each table, index or trigger that is "missing", "changed" or, for triggers, "not ours"; the fault second."""
    if connection.dialect.name == "sqlite":
        present, expected = _sqlite_objects(connection), _sqlite_expected(MIGRATIONS)
    else:
        present, expected = _postgresql_objects(connection), _postgresql_expected()
    faults = [
        (name, "changed" if name in present else "missing")
        for name, definition in expected.items()
        if present.get(name) != definition
    ]
    return faults + [(name, "not ours") for name in present.keys() - expected.keys() if name.startswith("trigger")]


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
    "rivals_pkey",
    "rivals_device_sequence_key",
    "rivals_content",
)


def _postgresql_objects(connection: Connection) -> dict[str, str]:
    queries = (_POSTGRESQL_TRIGGERS, _POSTGRESQL_INDEXES)
    return {row[0]: row[1] for query in queries for row in connection.exec_driver_sql(query)}


def _postgresql_expected() -> dict[str, str]:
    triggers = [
        f"trigger {table}_{name}" for table in _GUARDED for name in ("not_changed", "not_removed", "not_emptied")
    ]
    indexes = [f"index {name}" for name in _POSTGRESQL_INDEX_NAMES]
    in_both = {f"trigger {table}_not_in_both": f"A {_not_in_both_body(other)}" for table, other in _NOT_IN_BOTH}
    return dict.fromkeys(triggers, f"A {_REFUSE_BODY}") | in_both | dict.fromkeys(indexes, "there")
