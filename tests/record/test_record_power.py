"""What is left when a program is killed or the disk fills up."""

from __future__ import annotations

import itertools
import random
from pathlib import Path

import pytest

from tapedown.record import Record, add_blob, append, create_record, entries, open_record, verify
from tapedown.record.errors import RecordFull
from tapedown.record.opening import writing
from tests.record.marrow_fen import visit
from tests.record.writer_child import kill_writers


@pytest.mark.slow
@pytest.mark.parametrize("round_", range(4))
def test_what_was_acknowledged_survives_a_kill(tmp_path: Path, round_: int) -> None:
    chance = random.Random(round_)
    acknowledged = kill_writers(tmp_path / "record.db", kills=50, chance=chance)
    assert acknowledged > 50


def append_until_full(record: Record) -> list[str]:
    """The ids acknowledged before the disk was full."""
    acknowledged: list[str] = []
    for number in itertools.count(1):
        try:
            acknowledged += [entry.id for entry in append(record, "laptop", [visit(number)])]
        except RecordFull:
            break
    return acknowledged


def test_a_file_that_may_not_grow_refuses_and_stays_sound(record_file: Record) -> None:
    with writing(record_file) as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages + 20}")
    acknowledged = append_until_full(record_file)
    assert acknowledged
    assert [held.entry.id for held in entries(record_file)] == acknowledged
    assert verify(record_file).sound


def test_a_full_disk_refuses_and_what_was_acknowledged_is_there(small_disk: Path) -> None:
    path = small_disk / "record.db"
    with create_record(path) as record:
        acknowledged = append_until_full(record)
        assert acknowledged
        with pytest.raises(RecordFull) as refused:
            append(record, "laptop", [visit(number) for number in range(200_000, 201_000)])
        assert "make room" in refused.value.hint
        with pytest.raises(RecordFull):
            add_blob(record, bytes(2_000_000), "application/octet-stream")
        assert [held.entry.id for held in entries(record)] == acknowledged
        assert verify(record).sound
    with open_record(path) as record:
        assert [held.entry.id for held in entries(record)] == acknowledged
        assert verify(record).sound


def test_once_there_is_room_again_the_chain_goes_on(small_disk: Path) -> None:
    filler = small_disk / "photographs"
    filler.write_bytes(bytes(1_000_000))
    with create_record(small_disk / "record.db") as record:
        acknowledged = append_until_full(record)
        filler.unlink()
        append(record, "laptop", [visit(len(acknowledged) + 1)])
        assert verify(record).entries == len(acknowledged) + 1
        assert verify(record).sound
