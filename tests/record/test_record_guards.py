from __future__ import annotations

from collections.abc import Callable

import psycopg
import pytest

from tapedown.record import (
    Record,
    add,
    add_blob,
    append,
    create_record,
    entries,
    grant_writer,
    open_record,
    verify,
)
from tapedown.record.errors import NotShared, RoleUnfit
from tests.record.conftest import Foreign
from tests.record.marrow_fen import chain, strike, visit

COLUMNS = "id, kind, about, measured_at, written_at, by, body, strikes, reason, device, sequence, previous, digest"


@pytest.fixture
def filled(record: Record) -> Record:
    wrong, _ = append(record, "office", [visit(1), visit(2)])
    append(record, "office", [strike(3, wrong.id)])
    add(record, chain("tablet", [strike(4, wrong.id)]))
    add_blob(record, b"84.30", "text/plain")
    return record


TABLES = ("entries", "rivals", "blobs", "schema_history")


def everything(foreign: Foreign) -> list[list[tuple[object, ...]]]:
    return [foreign.run(f"SELECT * FROM {table} ORDER BY 1") for table in TABLES]


CHANGES = [
    "UPDATE entries SET body = '{}'",
    "UPDATE entries SET received_at = '' WHERE sequence = 2",
    "DELETE FROM entries WHERE sequence = 3",
    "DELETE FROM entries",
    "UPDATE rivals SET reason = 'none'",
    "DELETE FROM rivals",
    "UPDATE blobs SET media_type = 'text/csv'",
    "DELETE FROM blobs",
    "UPDATE schema_history SET number = 7",
    "DELETE FROM schema_history",
]


@pytest.mark.parametrize("statement", CHANGES)
def test_no_program_can_change_or_remove_what_is_written(filled: Record, foreign: Foreign, statement: str) -> None:
    before = everything(foreign)
    with pytest.raises(Foreign.refusals, match="write a new entry that strikes the old one"):
        foreign.run(statement)
    assert everything(foreign) == before


def row(**changes: object) -> str:
    """VALUES for an entry of another program that meets no other entry."""
    values: dict[str, object] = dict.fromkeys(COLUMNS.split(", "), "x") | {"strikes": None, "sequence": 1} | changes
    written = ", ".join("NULL" if value is None else repr(value) for value in values.values())
    return f"INTO entries ({COLUMNS}, content_digest) VALUES ({written}, 'x')"


OVERWRITES = [
    {"id": visit(1).id},
    {"strikes": visit(1).id},
    {"device": "office", "sequence": 2},
]


@pytest.mark.parametrize("verb", ["INSERT", "INSERT OR REPLACE", "REPLACE", "INSERT OR IGNORE"])
@pytest.mark.parametrize("meets", OVERWRITES)
def test_a_file_is_not_overwritten_by_any_kind_of_insert(
    tmp_path_factory: pytest.TempPathFactory, verb: str, meets: dict[str, object]
) -> None:
    where = str(tmp_path_factory.mktemp("place") / "record.db")
    foreign = Foreign(where)
    with create_record(where) as record:
        wrong, _ = append(record, "office", [visit(1), visit(2)])
        append(record, "office", [strike(3, wrong.id)])
    before = everything(foreign)
    with pytest.raises(Foreign.refusals, match="overwrites nothing"):
        foreign.run(f"{verb} {row(**meets)}")
    with pytest.raises(Foreign.refusals, match="no column named rowid"):
        foreign.run(f"{verb} {row().replace('(id,', '(rowid, id,', 1).replace('VALUES (', 'VALUES (1, ', 1)}")
    with pytest.raises(Foreign.refusals, match="overwrites nothing"):
        foreign.run(f"{verb} INTO schema_history (number, name) VALUES (1, 'x')")
    assert everything(foreign) == before


@pytest.mark.parametrize("meets", OVERWRITES)
def test_no_insert_overwrites_an_entry(filled: Record, foreign: Foreign, meets: dict[str, object]) -> None:
    before = everything(foreign)
    for ending in ("", " ON CONFLICT (id) DO UPDATE SET body = 'forged'"):
        with pytest.raises(Foreign.refusals):
            foreign.run(f"INSERT {row(**meets)}{ending}")
    assert everything(foreign) == before


def test_a_file_with_the_same_digest_is_not_overwritten(filled: Record, foreign: Foreign) -> None:
    ((digest,),) = foreign.run("SELECT sha256 FROM blobs")
    data = "X'00'" if foreign.is_file else "'\\x00'"
    with pytest.raises(Foreign.refusals):
        foreign.run(f"INSERT INTO blobs (sha256, media_type, size, bytes) VALUES ('{digest}', 'x', 1, {data})")


@pytest.mark.parametrize("table", ["entries", "rivals", "blobs", "schema_history", "entries, blobs"])
def test_tables_cannot_be_emptied_at_a_stroke(filled: Record, foreign: Foreign, table: str) -> None:
    if foreign.is_file:
        pytest.skip("SQLite has no TRUNCATE")
    with pytest.raises(psycopg.Error, match="never removed"):
        foreign.run(f"TRUNCATE {table} CASCADE")


def test_guards_hold_in_replication_mode(filled: Record, foreign: Foreign) -> None:
    if foreign.is_file:
        pytest.skip("SQLite has no replication mode")
    with pytest.raises(psycopg.Error, match="never changed"):
        foreign.run("SET session_replication_role = replica", "UPDATE entries SET body = '{}'")


@pytest.fixture
def shared(record: Record, foreign: Foreign) -> Record:
    if foreign.is_file:
        pytest.skip("a file has no roles")
    return record


@pytest.fixture
def new_role(shared: Record, foreign: Foreign) -> Callable[[str], str]:
    made = iter(range(1, 100))
    ((database,),) = foreign.run("SELECT current_database()")

    def make(options: str) -> str:
        name = f"{database} writer {next(made)}"
        foreign.run(f'CREATE ROLE "{name}" LOGIN {options}')
        return name

    return make


def test_a_writer_may_read_and_enter_and_nothing_else(
    shared: Record, foreign: Foreign, new_role: Callable[[str], str]
) -> None:
    role = new_role("")
    grant_writer(shared, role)
    grant_writer(shared, role)
    with open_record(shared.where.replace("//postgres@", f"//{role.replace(' ', '%20')}@")) as record:
        (written,) = append(record, "tablet", [visit(1)])
        append(record, "tablet", [strike(2, written.id)])
        add_blob(record, b"84.30", "text/plain")
        assert len(entries(record, struck=True)) == 2
        assert verify(record).sound
    for statement in (*CHANGES, "TRUNCATE entries", "ALTER TABLE entries DISABLE TRIGGER ALL", "DROP TABLE entries"):
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            foreign.run(f'SET ROLE "{role}"', statement)


def test_a_role_that_could_lift_the_guards_is_no_writer(shared: Record, new_role: Callable[[str], str]) -> None:
    for role in ("postgres", new_role("SUPERUSER"), new_role("IN ROLE postgres")):
        with pytest.raises(RoleUnfit, match="owns the tables"):
            grant_writer(shared, role)
    with pytest.raises(RoleUnfit, match="no role"):
        grant_writer(shared, 'nobody"; DROP TABLE entries; --')


def test_a_file_has_no_writer_roles(record_file: Record) -> None:
    with pytest.raises(NotShared, match="file"):
        grant_writer(record_file, "alder")
