"""Backups: a whole record in one SQLite file, checked before it gets its name; and the way back.

A copy is built in a folder beside its place and moved there last, so a half-made copy never bears the name of a whole
one.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Collection, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import insert, select

from tapedown.record.errors import RecordExists, RecordMissing, RecordUnsound
from tapedown.record.held import Head, heads
from tapedown.record.opening import (
    FILE_NAME,
    Record,
    create_record,
    open_record,
    place_of,
    reading,
    refusing,
    sync_folder,
    writing,
)
from tapedown.record.proof import Proof, verify
from tapedown.record.tables import BLOBS, LINKS


def backup(record: Record, path: str | Path) -> Proof:
    """Copy the record into one SQLite file, while others go on writing; gives the proof of the copy.

    Raises
    ------
    RecordExists
        Something stands at `path` already.
    RecordUnsound
        The copy does not pass `verify`; nothing is left at `path`.
    """
    known = heads(record)
    with _moved_when_done(Path(path)) as place:
        if record.engine.dialect.name == "sqlite":
            with record.engine.connect() as connection:
                driver: Any = connection.connection.driver_connection
                _copy_pages(driver, place)
        else:
            with create_record(place) as copy:
                _copy_rows(record, copy)
        return _sealed(place, known)


def restore(path: str | Path, where: str | Path) -> Proof:
    """Make a record at `where` out of a backup; gives the proof of what was restored.

    Raises
    ------
    RecordMissing
        There is no backup at `path`.
    RecordExists
        Something stands at `where` already.
    RecordUnsound
        The backup does not pass `verify`; nothing is restored.
    """
    source = Path(path)
    if not source.is_file():
        raise RecordMissing(f"there is no backup at {source}", hint="check the path")
    target = place_of(where)
    if isinstance(target, Path):
        with _moved_when_done(target) as place:
            return _copied_and_sealed(source, place)
    with TemporaryDirectory() as folder:
        place = Path(folder, FILE_NAME)
        proof = _copied_and_sealed(source, place)
        with open_record(place) as copy, create_record(target) as record:
            _copy_rows(copy, record)
    return proof


@contextmanager
def _moved_when_done(target: Path) -> Iterator[Path]:
    """A path to build the file at; it is moved to `target`, on the disk for good, if nothing goes wrong."""
    if target.exists():
        raise RecordExists(f"{target} exists already", hint="choose another name; nothing is overwritten")
    if not target.parent.is_dir():
        raise RecordMissing(f"there is no folder {target.parent}", hint="make the folder first")
    with refusing(), TemporaryDirectory(dir=target.parent, prefix=".copying-") as folder:
        place = Path(folder, target.name)
        yield place
        with place.open("rb+") as file:
            os.fsync(file.fileno())
        place.rename(target)
        sync_folder(target.parent)


def _copied_and_sealed(source: Path, place: Path) -> Proof:
    with refusing(), closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        _copy_pages(connection, place)
    return _sealed(place)


def _copy_pages(source: sqlite3.Connection, place: Path) -> None:
    with closing(sqlite3.connect(place)) as target:
        source.backup(target)


def _copy_rows(source: Record, target: Record) -> None:
    with reading(source) as taken, writing(target) as put:
        for table, batch in (*((table, 1000) for table in LINKS), (BLOBS, 1)):
            rows = taken.execute(select(table).execution_options(yield_per=batch)).mappings()
            for some in rows.partitions():
                put.execute(insert(table), [dict(row) for row in some])


def _sealed(place: Path, known: Collection[Head] = ()) -> Proof:
    """The proof of a finished copy, which is left as a single file without a write-ahead log beside it."""
    with open_record(place) as copy:
        proof = verify(copy, known)
    if not proof.sound:
        first = proof.problems[0]
        raise RecordUnsound(
            f"the copy is not sound: {first.what} ({first.where})",
            hint="verify the record or backup it was made from",
        )
    with closing(sqlite3.connect(place)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    return proof
