from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from tapedown.record import (
    Record,
    add,
    add_blob,
    append,
    backup,
    blob,
    create_record,
    entries,
    heads,
    open_record,
    restore,
    verify,
)
from tapedown.record.errors import NotARecord, RecordExists, RecordFull, RecordMissing, RecordUnsound
from tests.record.conftest import Foreign
from tests.record.marrow_fen import chain, strike, visit


@pytest.fixture
def filled(record: Record) -> Record:
    wrong, *_ = append(record, "laptop", [visit(number) for number in range(1, 1500)])
    append(record, "office", [strike(2000, wrong.id)])
    add(record, chain("phone", [strike(2001, wrong.id), visit(2002)]))
    add_blob(record, b"time,level\n" * 1000, "text/csv")
    return record


def rows(foreign: Foreign) -> list[list[tuple[object, ...]]]:
    return [foreign.run(f"SELECT * FROM {table} ORDER BY 1") for table in ("entries", "rivals", "blobs")]


def test_a_backup_holds_all_in_one_file(filled: Record, foreign: Foreign, tmp_path: Path) -> None:
    proof = backup(filled, tmp_path / "fen.db")
    assert proof == (1502, 1, 3, ())
    assert [path.name for path in tmp_path.iterdir()] == ["fen.db"]
    assert rows(Foreign(str(tmp_path / "fen.db"))) == rows(foreign)


def test_a_backup_overwrites_nothing(filled: Record, tmp_path: Path) -> None:
    (tmp_path / "fen.db").write_text("last year's")
    with pytest.raises(RecordExists):
        backup(filled, tmp_path / "fen.db")
    assert (tmp_path / "fen.db").read_text() == "last year's"


def test_a_backup_needs_its_folder(filled: Record, tmp_path: Path) -> None:
    with pytest.raises(RecordMissing, match="no folder"):
        backup(filled, tmp_path / "nowhere" / "fen.db")


def test_an_unsound_record_gives_no_backup(filled: Record, foreign: Foreign, tmp_path: Path) -> None:
    foreign.tamper("UPDATE entries SET body = '{}' WHERE sequence = 7")
    with pytest.raises(RecordUnsound, match="laptop 7"):
        backup(filled, tmp_path / "fen.db")
    assert list(tmp_path.iterdir()) == []


def test_a_backup_made_while_others_write_is_whole(filled: Record, tmp_path: Path) -> None:
    written: list[str] = []
    stop = threading.Event()

    def write() -> None:
        number = 5000
        while not stop.is_set():
            written.extend(entry.id for entry in append(filled, "tablet", [visit(number), visit(number + 1)]))
            number += 2

    writer = threading.Thread(target=write)
    writer.start()
    try:
        while not written:
            stop.wait(0.001)
        before = set(written)
        for number in range(3):
            assert backup(filled, tmp_path / f"{number}.db").sound
    finally:
        stop.set()
        writer.join()
    for number in range(3):
        with open_record(tmp_path / f"{number}.db") as copy:
            tablet = {held.entry.id for held in entries(copy) if held.entry.device == "tablet"}
            assert before <= tablet <= set(written)
            assert len(tablet) % 2 == 0, "a request was copied by half"


def test_what_was_backed_up_is_restored(
    filled: Record, tmp_path: Path, new_place: Callable[[], str], foreign: Foreign
) -> None:
    backup(filled, tmp_path / "fen.db")
    original = (tmp_path / "fen.db").read_bytes()
    place = new_place()
    assert restore(tmp_path / "fen.db", place).sound
    assert (tmp_path / "fen.db").read_bytes() == original
    assert rows(Foreign(place)) == rows(foreign)
    with open_record(place) as restored:
        assert verify(restored, heads(filled)).sound
        append(restored, "office", [visit(3000)])
        assert heads(restored)[1].sequence == 2


def test_a_restored_record_overwrites_nothing(filled: Record, where: str, tmp_path: Path) -> None:
    backup(filled, tmp_path / "fen.db")
    with pytest.raises(RecordExists):
        restore(tmp_path / "fen.db", where)
    assert len(entries(filled)) == 1500


def test_a_backup_that_was_altered_is_not_restored(
    filled: Record, tmp_path: Path, new_place: Callable[[], str]
) -> None:
    backup(filled, tmp_path / "fen.db")
    Foreign(str(tmp_path / "fen.db")).tamper("DELETE FROM entries WHERE sequence = 900")
    place = new_place()
    with pytest.raises(RecordUnsound, match="missing"):
        restore(tmp_path / "fen.db", place)
    with pytest.raises(RecordMissing):
        open_record(place)


def test_restoring_needs_a_backup(tmp_path: Path) -> None:
    with pytest.raises(RecordMissing):
        restore(tmp_path / "fen.db", tmp_path / "record.db")
    (tmp_path / "notes.txt").write_text("no record\n" * 1000)
    with pytest.raises(NotARecord):
        restore(tmp_path / "notes.txt", tmp_path / "record.db")
    assert not (tmp_path / "record.db").exists()


def test_a_full_disk_leaves_no_half_backup(record_file: Record, small_disk: Path) -> None:
    add_blob(record_file, bytes(4_000_000), "application/octet-stream")
    with pytest.raises(RecordFull):
        backup(record_file, small_disk / "fen.db")
    assert list(small_disk.iterdir()) == []


def test_files_come_through_a_backup_byte_for_byte(record: Record, tmp_path: Path) -> None:
    data = bytes(range(256)) * 4000
    digest = add_blob(record, data, "application/octet-stream")
    backup(record, tmp_path / "fen.db")
    with open_record(tmp_path / "fen.db") as copy:
        assert blob(copy, digest) == (data, "application/octet-stream")


def test_a_backup_can_be_read_where_nothing_can_be_written(record_file: Record, tmp_path: Path) -> None:
    append(record_file, "laptop", [visit(1)])
    backup(record_file, tmp_path / "fen.db")
    connection = sqlite3.connect(f"file:{tmp_path / 'fen.db'}?mode=ro", uri=True)
    try:
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert connection.execute("SELECT count(*) FROM entries").fetchone() == (1,)
    finally:
        connection.close()


def test_a_backup_of_an_empty_record_restores_to_one(tmp_path: Path) -> None:
    with create_record(tmp_path / "record.db") as record:
        backup(record, tmp_path / "fen.db")
    restore(tmp_path / "fen.db", tmp_path / "again.db")
    with open_record(tmp_path / "again.db") as record:
        assert entries(record, struck=True) == []
