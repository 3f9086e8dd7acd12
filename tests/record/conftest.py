"""A fresh place for a record on each database, and a connection that goes around our code."""

from __future__ import annotations

import itertools
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tapedown.record import Record, create_record
from tests.record.server import NoServer, running_server

_numbers = itertools.count(1)


class Foreign:
    """What another program could do to the record: plain SQL through the database's own driver."""

    refusals = (sqlite3.DatabaseError, psycopg.Error)

    def __init__(self, where: str) -> None:
        self.where = where
        self.is_file = "://" not in where

    def run(self, *statements: str) -> list[tuple[Any, ...]]:
        """Run the statements in one transaction; gives the rows of the last."""
        with closing(self.connection()) as connection, connection:
            for statement in statements:
                cursor = connection.execute(statement)
            return list(cursor.fetchall()) if cursor.description else []

    def connection(self) -> Any:
        """A connection of the driver."""
        if self.is_file:
            return sqlite3.connect(self.where)
        return psycopg.connect(self.where.replace("+psycopg", ""))

    def tamper(self, *statements: str) -> None:
        """Run statements with the guards taken away, and put the guards back, as someone covering a trace would."""
        if self.is_file:
            guards = self.run("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            down = [f"DROP TRIGGER {name}" for name, _ in guards]
            up = [sql for _, sql in guards]
        else:
            guards = self.run("SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
            down = [f"ALTER TABLE {table} DISABLE TRIGGER {name}" for name, table in guards]
            up = [f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}" for name, table in guards]
        self.run(*down)
        self.run(*statements)
        self.run(*up)


@pytest.fixture(scope="session")
def server() -> Iterator[Path]:
    """The socket folder of a PostgreSQL server."""
    try:
        with running_server() as folder:
            yield folder
    except NoServer as error:
        pytest.skip(f"no PostgreSQL server could be started: {error}")


@pytest.fixture(scope="session", params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def new_place(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Callable[[], str]:
    """Gives a new place for a record each time: a path or a URL."""
    if request.param == "sqlite":
        return lambda: str(tmp_path_factory.mktemp("place") / "record.db")
    folder = request.getfixturevalue("server")

    def new_database() -> str:
        name = f"fen{next(_numbers)}"
        with psycopg.connect(f"postgresql://postgres@/postgres?host={folder}", autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}")
        return f"postgresql+psycopg://postgres@/{name}?host={folder}"

    return new_database


@pytest.fixture
def where(new_place: Callable[[], str]) -> str:
    """A place with no record in it yet."""
    return new_place()


@pytest.fixture
def record(where: str) -> Iterator[Record]:
    """A new record."""
    with create_record(where) as record:
        yield record


@pytest.fixture
def foreign(where: str) -> Foreign:
    """Another program at work on the same place."""
    return Foreign(where)


@pytest.fixture
def record_file(tmp_path: Path) -> Iterator[Record]:
    """A new record in a file, where the test is about files."""
    with create_record(tmp_path / "record.db") as record:
        yield record


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of two megabytes."""
    folder = tmp_path / "small"
    folder.mkdir()
    if shutil.which("mount") is None or os.geteuid() != 0:
        pytest.skip("only root can make a small file system")
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", folder], check=False).returncode:
        pytest.skip("no rights to mount a file system")
    yield folder
    subprocess.run(["umount", folder], check=True)
