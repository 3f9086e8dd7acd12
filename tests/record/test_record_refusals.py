"""Every refusal of the record names the cause and the mend, whichever database or disk it comes from."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest
from sqlalchemy.exc import OperationalError, ProgrammingError

from tapedown.record import (
    Record,
    append,
    backup,
    blob,
    create_record,
    entry,
    grant_writer,
    open_record,
    restore,
)
from tapedown.record.errors import (
    AlreadyStruck,
    ClockBehind,
    IdTaken,
    NoSuchBlob,
    NoSuchEntry,
    NotARecord,
    NothingToStrike,
    NotShared,
    RecordBusy,
    RecordExists,
    RecordFull,
    RecordMissing,
    RecordNewer,
    RecordReadOnly,
    RecordUnreadable,
    RecordUnsound,
    refusal,
    told,
)
from tapedown.record.opening import refusing
from tapedown.values.errors import TapedownError
from tests.record.conftest import Foreign
from tests.record.marrow_fen import chain, moment, strike, visit


def mended(refused: TapedownError) -> str:
    """The whole of what a person reads: a cause and a mend, each begun in lower case, on a line."""
    for text in (str(refused), refused.hint):
        assert text
        assert text == text.strip()
        assert text[0].islower() or text[0] == "/"
        assert text != text.upper()
        assert "\n" not in text
    return f"{refused}; {refused.hint}"


def sqlite_error(code: int, words: str = "as the driver says") -> sqlite3.OperationalError:
    error = sqlite3.OperationalError(words)
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(("code", "cause"), [
    ("SQLITE_BUSY", RecordBusy), ("SQLITE_BUSY_SNAPSHOT", RecordBusy), ("SQLITE_LOCKED", RecordBusy),
    ("SQLITE_FULL", RecordFull), ("SQLITE_IOERR_SHMSIZE", RecordFull), ("SQLITE_READONLY", RecordReadOnly),
    ("SQLITE_READONLY_DIRECTORY", RecordReadOnly), ("SQLITE_PERM", RecordReadOnly), ("SQLITE_NOTADB", NotARecord),
    ("SQLITE_IOERR_READ", RecordUnreadable), ("SQLITE_CORRUPT", RecordUnreadable),
])  # fmt: skip
def test_what_sqlite_reports_becomes_one_refusal_a_cause(code: str, cause: type[TapedownError]) -> None:
    """Extended codes hold their cause in the lowest byte (SQLite's documentation of result codes, from memory)."""
    error = sqlite_error(getattr(sqlite3, code))
    for wrapped in (error, OperationalError("SELECT 1", {}, error)):
        found = refusal(wrapped)
        assert type(found) is cause
        assert found is not None
        mended(found)


@pytest.mark.parametrize(("state", "cause"), [
    ("55P03", RecordBusy), ("40P01", RecordBusy), ("40001", RecordBusy), ("23505", RecordBusy), ("53100", RecordFull),
    ("42501", RecordReadOnly), ("25006", RecordReadOnly),
])  # fmt: skip
def test_what_postgresql_reports_becomes_one_refusal_a_cause(state: str, cause: type[TapedownError]) -> None:
    """Names of the states: PostgreSQL documentation, appendix on error codes, from memory."""
    error = psycopg.errors.lookup(state)("as the server says")
    found = refusal(OperationalError("SELECT 1", {}, error))
    assert type(found) is cause
    assert found is not None
    mended(found)


@pytest.mark.parametrize(("number", "cause"), [
    (errno.ENOSPC, RecordFull), (errno.EDQUOT, RecordFull),
    (errno.EACCES, RecordUnreadable), (errno.EIO, RecordUnreadable),
])  # fmt: skip
def test_what_the_disk_reports_becomes_one_refusal_a_cause(number: int, cause: type[TapedownError]) -> None:
    found = refusal(OSError(number, "as the system says"))
    assert type(found) is cause
    assert found is not None
    mended(found)


def test_an_error_without_a_known_cause_is_told_by_its_first_line_and_each_refusal_is_new() -> None:
    found = refusal(sqlite3.OperationalError("  no such page\nand more of it"))
    assert str(found) == "the record cannot be read: no such page"
    one, other = (refusal(sqlite_error(sqlite3.SQLITE_BUSY)) for _ in range(2))
    assert one is not other
    assert str(one) == str(other)
    connection_lost = refusal(OperationalError("SELECT 1", {}, psycopg.OperationalError("server closed")))
    assert isinstance(connection_lost, RecordUnreadable)


def test_a_mistake_in_the_program_is_no_refusal() -> None:
    assert refusal(sqlite3.ProgrammingError("wrong number of bindings")) is None
    assert refusal(ProgrammingError("SELEC 1", {}, psycopg.errors.lookup("42601")("syntax"))) is None
    with pytest.raises(sqlite3.ProgrammingError), refusing():
        raise sqlite3.ProgrammingError("wrong number of bindings")


def test_an_entry_is_told_with_what_it_is_by_whom_when_and_where() -> None:
    (one,) = chain("tablet", [visit(1)])
    assert told(one) == f"visit {one.id}, written by R. Alder at {moment(1)} on tablet"


def newer(where: str, foreign: Foreign) -> None:
    create_record(where).close()
    foreign.run("INSERT INTO schema_history (number, name) VALUES (3, 'from the years to come')")
    open_record(where)


def twice(where: str, _: Foreign) -> None:
    create_record(where).close()
    create_record(where)


def other_tables(where: str, foreign: Foreign) -> None:
    foreign.run("CREATE TABLE birds (name TEXT)")
    open_record(where)


def empty(where: str, foreign: Foreign) -> None:
    foreign.run("CREATE TABLE birds (name TEXT)", "DROP TABLE birds")
    open_record(where)


def tampered_backup(where: str, foreign: Foreign) -> None:
    with create_record(where) as record:
        append(record, "office", [visit(1)])
        foreign.tamper("UPDATE entries SET body = '{}'")
        backup(record, Path(where).parent / "copy.db")


Refused = Callable[[str, Foreign], object]


@pytest.mark.parametrize(("cause", "refused"), [
    (RecordMissing, lambda where, _: open_record(where)),
    (RecordMissing, empty),
    (RecordNewer, newer),
    (NotARecord, other_tables),
    (NotARecord, lambda *_: open_record("mysql://host/fen")),
    (NotARecord, lambda *_: open_record("postgresql+psycopg://[::bad/fen")),
    (RecordExists, twice),
    (RecordMissing, lambda where, _: restore(Path(where).parent / "none.db", where)),
    (RecordMissing, lambda where, _: backup(create_record(where), Path(where).parent / "none" / "copy.db")),
    (RecordExists, lambda where, _: backup(create_record(where), where)),
    (RecordUnsound, tampered_backup),
    (NoSuchEntry, lambda where, _: entry(create_record(where), "7")),
    (NoSuchBlob, lambda where, _: blob(create_record(where), "7")),
    (NotShared, lambda where, _: grant_writer(create_record(where), "M. Teasel")),
])  # fmt: skip
def test_a_refusal_tells_the_cause_and_the_mend(tmp_path: Path, cause: type[TapedownError], refused: Refused) -> None:
    where = str(tmp_path / "fen.db")
    with pytest.raises(cause) as caught:
        refused(where, Foreign(where))
    assert type(caught.value) is cause
    mended(caught.value)


def test_a_refused_entry_names_whom_to_ask(record_file: Record) -> None:
    (wrong,) = append(record_file, "laptop", [visit(1)])
    (striker,) = append(record_file, "laptop", [strike(2, wrong.id)])
    with pytest.raises(IdTaken) as taken:
        append(record_file, "laptop", [visit(1, by="J. Sedge")])
    assert taken.value.stored == wrong
    assert wrong.id in mended(taken.value)
    with pytest.raises(AlreadyStruck) as struck:
        append(record_file, "laptop", [strike(3, wrong.id)])
    assert struck.value.striker == striker
    assert f"strike it instead: {striker.id}" in mended(struck.value)
    with pytest.raises(NothingToStrike) as nothing:
        append(record_file, "laptop", [strike(3, "gone")])
    assert "entry gone is not in this record" in mended(nothing.value)


@pytest.mark.parametrize(("behind_us", "refused"), [(60_000_000, False), (60_000_001, True)])
def test_a_clock_may_be_a_minute_behind_and_no_more(record_file: Record, behind_us: int, refused: bool) -> None:
    append(record_file, "laptop", [visit(120_000_000)])
    late = visit(120_000_000 - behind_us)
    if not refused:
        assert append(record_file, "laptop", [late])[0].written_at == moment(120_000_000)
        return
    with pytest.raises(ClockBehind) as caught:
        append(record_file, "laptop", [late])
    assert mended(caught.value).startswith(
        f"the clock says {late.written_at}, but laptop last wrote at {moment(120_000_000)}"
    )
