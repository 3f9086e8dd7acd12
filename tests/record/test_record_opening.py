from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import inspect

from tapedown.record import Record, append, create_record, entries, open_record, verify
from tapedown.record.errors import (
    NotARecord,
    RecordBusy,
    RecordExists,
    RecordMissing,
    RecordNewer,
    RecordReadOnly,
    RecordUnreadable,
)
from tapedown.record.opening import bring_up_to_date, reading
from tapedown.record.schema import MIGRATIONS, Migration, schema_number
from tapedown.record.tables import METADATA
from tests.record.conftest import Foreign
from tests.record.marrow_fen import visit


def test_a_record_can_be_closed_and_opened_again(where: str) -> None:
    with create_record(where) as record:
        written = append(record, "office", [visit(1)])
    with open_record(where) as record:
        assert [held.entry for held in entries(record)] == written


def test_a_record_is_not_made_over_another(where: str) -> None:
    create_record(where).close()
    with pytest.raises(RecordExists):
        create_record(where)


def test_a_place_without_a_record_is_told(where: str) -> None:
    with pytest.raises(RecordMissing):
        open_record(where)


def test_a_newer_record_is_refused(record: Record, where: str, foreign: Foreign) -> None:
    foreign.run("INSERT INTO schema_history (number, name) VALUES (99, 'from the years to come')")
    with pytest.raises(RecordNewer, match="schema 99") as refused:
        open_record(where)
    assert "update" in refused.value.hint


def test_another_programs_database_is_refused(where: str, foreign: Foreign) -> None:
    foreign.run("CREATE TABLE birds (name TEXT)")
    with pytest.raises(NotARecord):
        open_record(where)
    with pytest.raises(RecordExists):
        create_record(where)


_NEXT = "CREATE TABLE remarks (id TEXT)"
_BROKEN = ("CREATE TABLE half_made (id TEXT)", "CREATE TABLE entries (id TEXT)")


def test_a_migration_that_fails_leaves_nothing_behind(record: Record, foreign: Foreign) -> None:
    append(record, "office", [visit(1)])
    broken = (*MIGRATIONS, Migration(3, "breaks", _BROKEN, _BROKEN))
    with pytest.raises(Exception, match="entries"):
        bring_up_to_date(record, broken)
    assert foreign.run("SELECT number FROM schema_history ORDER BY number") == [(1,), (2,)]
    with pytest.raises(Foreign.refusals):
        foreign.run("SELECT * FROM half_made")
    assert verify(record).sound


def test_a_migration_runs_once(record: Record, foreign: Foreign) -> None:
    later = (*MIGRATIONS, Migration(3, "remarks", (_NEXT,), (_NEXT,)))
    bring_up_to_date(record, later)
    bring_up_to_date(record, later)
    assert foreign.run("SELECT number, name FROM schema_history ORDER BY number")[2:] == [(3, "remarks")]


def test_queries_know_the_columns_the_migrations_make(record: Record) -> None:
    with reading(record) as connection:
        assert schema_number(connection) == MIGRATIONS[-1].number
        made = {t: {c["name"] for c in inspect(connection).get_columns(t)} for t in METADATA.tables}
    assert made == {name: set(table.columns.keys()) for name, table in METADATA.tables.items()}


@pytest.mark.slow
def test_a_writer_that_waits_too_long_is_told(record: Record, foreign: Foreign) -> None:
    connection = foreign.connection()
    try:
        connection.execute("BEGIN IMMEDIATE" if foreign.is_file else "SELECT pg_advisory_xact_lock(7881120417)")
        with pytest.raises(RecordBusy):
            append(record, "office", [visit(1)])
    finally:
        connection.close()
    append(record, "office", [visit(1)])


def test_a_folder_may_be_named_instead_of_the_file(tmp_path: Path) -> None:
    create_record(tmp_path).close()
    assert (tmp_path / "record.db").is_file()
    open_record(tmp_path).close()
    open_record(tmp_path / "record.db").close()


def test_names_that_mean_something_in_addresses_are_only_names(tmp_path: Path) -> None:
    path = tmp_path / "Marrow Fen? 100%#1" / "well & tape.db"
    create_record(path).close()
    assert path.is_file()
    open_record(path).close()


@pytest.mark.parametrize("lines", [1, 1000])
def test_a_file_of_another_kind_is_refused_and_left_alone(tmp_path: Path, lines: int) -> None:
    path = tmp_path / "notes.txt"
    text = "MF-07: 84.30 ft below the measuring point\n" * lines
    path.write_text(text)
    with pytest.raises(NotARecord):
        open_record(path)
    with pytest.raises(NotARecord):
        create_record(path)
    assert path.read_text() == text


def test_a_file_left_empty_by_an_interrupted_start_can_become_a_record(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    path.touch()
    with pytest.raises(RecordMissing):
        open_record(path)
    create_record(path).close()
    open_record(path).close()


@pytest.mark.parametrize("url", ["mysql://host/fen", "://", "postgresql+psycopg://[::bad/fen"])
def test_a_url_that_is_no_record_is_refused(url: str) -> None:
    with pytest.raises(NotARecord) as refused:
        open_record(url)
    assert "postgresql+psycopg://" in refused.value.hint


def test_a_server_out_of_reach_is_told_without_the_password(tmp_path: Path) -> None:
    with pytest.raises(RecordUnreadable) as refused:
        open_record(f"postgresql+psycopg://alder:heron-7@/fen?host={tmp_path}")
    assert "heron-7" not in str(refused.value) + refused.value.hint


def test_writing_waits_for_the_disk_and_keeps_a_log(record_file: Record) -> None:
    with reading(record_file) as connection:
        values = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert values == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 5000}


@contextmanager
def read_only(folder: Path, fill: Callable[[Path], None]) -> Iterator[Path]:
    """A folder that is filled, and then nobody can write to it."""
    folder.mkdir()
    mounted = os.geteuid() == 0
    if mounted and subprocess.run(["mount", "-t", "tmpfs", "tmpfs", folder], check=False).returncode:
        pytest.skip("no rights to mount a file system, and root can write to every folder")
    try:
        fill(folder)
        if mounted:
            subprocess.run(["mount", "-o", "remount,ro", folder], check=True)
        else:
            folder.chmod(0o555)
        yield folder
    finally:
        if mounted:
            subprocess.run(["umount", folder], check=True)
        else:
            folder.chmod(0o755)


def one_visit(folder: Path) -> None:
    with create_record(folder) as record:
        append(record, "office", [visit(1)])


@pytest.fixture
def read_only_folder(tmp_path: Path) -> Iterator[Path]:
    """A folder with a record in it that nobody can write to."""
    with read_only(tmp_path / "card", one_visit) as folder:
        yield folder


def test_an_empty_log_beside_a_record_that_cannot_be_written_is_no_hindrance(tmp_path: Path) -> None:
    def fill(folder: Path) -> None:
        one_visit(folder)
        (folder / "record.db-wal").touch()

    with read_only(tmp_path / "card", fill) as folder, open_record(folder) as record:
        assert len(entries(record)) == 1


def test_a_log_that_cannot_be_read_where_nothing_can_be_written_is_not_passed_over(tmp_path: Path) -> None:
    """Copied while another program had it open, the log holds what the file lacks: to read the file alone would show a
    record without its last entries.
    """
    one_visit(tmp_path)
    with open_record(tmp_path) as record:
        append(record, "office", [visit(2)])
        file, log = ((tmp_path / name).read_bytes() for name in ("record.db", "record.db-wal"))
    assert log

    def fill(folder: Path) -> None:
        (folder / "record.db").write_bytes(file)
        (folder / "record.db-wal").write_bytes(log)

    with read_only(tmp_path / "card", fill) as folder, pytest.raises(RecordUnreadable), open_record(folder):
        pass


def test_a_record_in_a_folder_that_cannot_be_written_is_still_read(read_only_folder: Path) -> None:
    with open_record(read_only_folder) as record:
        assert len(entries(record)) == 1
        assert verify(record).sound
        with pytest.raises(RecordReadOnly):
            append(record, "office", [visit(2)])


def test_the_write_ahead_log_is_gone_once_a_record_is_closed(record_file: Record) -> None:
    append(record_file, "office", [visit(1)])
    path = Path(record_file.where)
    record_file.close()
    assert [file.name for file in path.parent.iterdir()] == [path.name]
    connection = sqlite3.connect(path)
    assert connection.execute("SELECT count(*) FROM entries").fetchone() == (1,)
    connection.close()
