"""Making and opening a record, and the two kinds of transaction everything else runs in."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

from sqlalchemy import Connection, Engine, QueuePool, create_engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from tapedown.record.errors import (
    NotARecord,
    RecordExists,
    RecordMissing,
    RecordNewer,
    RecordReadOnly,
    RecordUnreadable,
    refusal,
)
from tapedown.record.schema import MIGRATIONS, Migration, migrate, schema_number

BUSY_MS = 5000
"""How long a writer waits for another one."""

FILE_NAME = "record.db"
"""The record's file when only its folder is named."""


class Starts(NamedTuple):
    """Statements that open a reading and a writing transaction."""

    reading: tuple[str, ...]
    writing: tuple[str, ...]


_SQLITE_STARTS = Starts(("BEGIN",), ("BEGIN IMMEDIATE",))
_POSTGRESQL_STARTS = Starts(
    ("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY",),
    # One writer at a time, as on SQLite: heads of chains and strikes are read before they are written. The number
    # only has to be the same for every writer.
    (f"SET LOCAL lock_timeout = {BUSY_MS}", "SELECT pg_advisory_xact_lock(7881120417)"),
)


class Record:
    """An open record. Close it, or use it in a `with` statement. Safe to share between threads, not across a fork."""

    __slots__ = ("engine", "starts", "where")

    def __init__(self, engine: Engine, where: str, starts: Starts) -> None:
        self.engine = engine
        self.where = where
        self.starts = starts

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def create_record(where: str | Path) -> Record:
    """Make a new, empty record and open it.

    `where` is the path of the file to make, a folder to make it in, or the URL of an empty PostgreSQL database.

    Raises
    ------
    RecordExists
        The file or database holds tables already.
    NotARecord
        There is a file of another kind.
    """
    place = place_of(where)
    if isinstance(place, Path):
        with refusing():
            place.parent.mkdir(parents=True, exist_ok=True)
    record = _connected(place, new=True)
    with _closed_on_error(record):
        with writing(record) as connection:
            if schema_number(connection) != 0:
                raise RecordExists(f"{record.where} holds tables already", hint="open it, or choose another place")
            migrate(connection, MIGRATIONS[0])
        bring_up_to_date(record)
        if isinstance(place, Path):
            sync_folder(place.parent)
    return record


def open_record(where: str | Path) -> Record:
    """Open a record and, if an older version of the program made it, bring its schema up to date.

    Raises
    ------
    RecordMissing, NotARecord, RecordNewer, RecordUnreadable
    RecordReadOnly
        It has an older schema and cannot be written.
    """
    place = place_of(where)
    if isinstance(place, Path) and not place.is_file():
        raise RecordMissing(f"there is no record at {place}", hint="check the path, or create a record there")
    record = _connected(place, new=False)
    with _closed_on_error(record):
        bring_up_to_date(record)
    return record


def bring_up_to_date(record: Record, migrations: Sequence[Migration] = MIGRATIONS) -> None:
    """Run the migrations that have not run yet, each in a transaction of its own."""
    with reading(record) as connection:
        number = _known_number(record, schema_number(connection), newest=migrations[-1].number)
    try:
        for migration in migrations[number:]:
            with writing(record) as connection:
                if (schema_number(connection) or 0) < migration.number:  # another program may have been first
                    migrate(connection, migration)
    except RecordReadOnly as error:
        raise RecordReadOnly(
            f"{record.where} has the older schema {number} and cannot be brought up to date here",
            hint="copy the file to where it can be written and open the copy; on a server, open it once as its owner",
        ) from error


def _known_number(record: Record, number: int | None, *, newest: int) -> int:
    if number is None:
        raise NotARecord(f"{record.where} holds something else than a record", hint="check the path or URL")
    if number == 0:
        raise RecordMissing(f"{record.where} is empty", hint="create a record there")
    if number > newest:
        raise RecordNewer(
            f"{record.where} has schema {number}; this version of the program knows {newest}",
            hint="update the program",
        )
    return number


@contextmanager
def reading(record: Record) -> Iterator[Connection]:
    """A transaction that sees one state of the record and keeps no writer waiting."""
    with _transaction(record, record.starts.reading) as connection:
        yield connection


@contextmanager
def writing(record: Record) -> Iterator[Connection]:
    """A transaction that is the only one writing, from its first statement on."""
    with _transaction(record, record.starts.writing) as connection:
        yield connection


@contextmanager
def _transaction(record: Record, start: tuple[str, ...]) -> Iterator[Connection]:
    with refusing(), record.engine.begin() as connection:
        for statement in start:
            connection.exec_driver_sql(statement)
        yield connection


@contextmanager
def refusing() -> Iterator[None]:
    """Turn the errors of a database or disk into refusals that tell the mend."""
    try:
        yield
    except (DBAPIError, sqlite3.Error, OSError) as error:
        refused = refusal(error)
        if refused is None:
            raise
        raise refused from error


@contextmanager
def _closed_on_error(record: Record) -> Iterator[None]:
    try:
        yield
    except BaseException:
        record.close()
        raise


def sync_folder(folder: Path) -> None:
    """Make the names in a folder last through a power cut, where the system lets a program ask for it."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def place_of(where: str | Path) -> Path | str:
    """The file's path, or the URL."""
    if isinstance(where, str) and "://" in where:
        return where
    path = Path(where)
    return path / FILE_NAME if path.is_dir() else path


def _connected(place: Path | str, *, new: bool) -> Record:
    return _sqlite(place, new=new) if isinstance(place, Path) else _postgresql(place)


def _sqlite(path: Path, *, new: bool) -> Record:
    mode = "rwc" if new else _mode(path)
    uri = f"{path.absolute().as_uri()}?mode={mode}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            uri, uri=True, timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False
        )
        try:
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
            if mode.startswith("rw"):
                connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)
    return Record(engine, str(path), _SQLITE_STARTS)


def _mode(path: Path) -> str:
    """How SQLite may open the file: a folder that cannot be written has no room for the write-ahead log.

    Without a log beside the file nobody is writing to it, so it may be taken as unchanging.
    """
    if os.access(path.parent, os.W_OK):
        return "rw"
    log = path.with_name(path.name + "-wal")
    return "ro" if log.exists() and log.stat().st_size > 0 else "ro&immutable=1"


def _postgresql(url: str) -> Record:
    try:
        parsed = make_url(url)
    except (ArgumentError, ValueError) as error:
        raise NotARecord("this is not the URL of a database", hint=_URL_HINT) from error
    if parsed.get_backend_name() != "postgresql":
        raise NotARecord(f"a record cannot live in {parsed.get_backend_name()}", hint=_URL_HINT)
    try:
        engine = create_engine(
            parsed.set(drivername="postgresql+psycopg"), isolation_level="READ COMMITTED", pool_pre_ping=True
        )
    except ModuleNotFoundError as error:
        raise RecordUnreadable(
            "the PostgreSQL driver is not installed", hint="install it: pip install 'tapedown[shared]'"
        ) from error
    return Record(engine, parsed.render_as_string(hide_password=True), _POSTGRESQL_STARTS)


_URL_HINT = "write it as postgresql+psycopg://role@host/database, or give the path of a file"
