from __future__ import annotations

import tracemalloc
from contextlib import closing
from pathlib import Path

import pytest

from tapedown.record import Head, Record, add, add_blob, append, heads, open_record, verify
from tapedown.values.ledger.entries import Entry, content_digest, entry_digest
from tapedown.values.progress import Progress
from tests.record.conftest import Foreign
from tests.record.marrow_fen import chain, strike, visit


@pytest.fixture
def written(record: Record) -> list[Entry]:
    """Two chains of five, a strike and a file."""
    entries = append(record, "laptop", [visit(number) for number in range(1, 6)])
    entries += append(record, "office", [visit(number) for number in range(11, 15)])
    entries += append(record, "office", [strike(20, entries[1].id)])
    add_blob(record, b"time,level\n", "text/csv")
    return entries


def found(record: Record, known: list[Head] | None = None) -> list[tuple[str, str]]:
    """What `verify` finds, and where, without ids."""
    proof = verify(record, known or [])
    assert proof.sound == (proof.problems == ())
    assert all(problem.mend for problem in proof.problems)
    return [(problem.what, problem.where.partition(",")[0]) for problem in proof.problems]


def test_an_untouched_record_is_sound(record: Record, written: list[Entry]) -> None:
    proof = verify(record, heads(record))
    assert proof.sound
    assert (proof.entries, proof.blobs, proof.devices) == (10, 1, 2)


def test_an_empty_record_is_sound(record: Record) -> None:
    assert verify(record) == (0, 0, 0, ())


CHANGED = "the entry does not match its digest: it was changed"


@pytest.mark.parametrize("column", [name for name in Entry._fields if name not in ("sequence", "strikes", "device")])
def test_a_change_to_any_field_of_an_entry_is_found(record: Record, foreign: Foreign, column: str) -> None:
    append(record, "laptop", [visit(1), visit(2), visit(3)])
    foreign.tamper(f"UPDATE entries SET {column} = '2026-05-14T09:00:00.000001Z' WHERE sequence = 2")
    assert (CHANGED, "laptop 2") in found(record)


def test_an_altered_byte_of_a_reading_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper("UPDATE entries SET body = replace(body, '84.30', '84.80') WHERE device = 'laptop' AND sequence = 3")
    assert found(record) == [(CHANGED, "laptop 3")]


def test_an_entry_altered_with_a_new_digest_is_found_by_the_next_link(
    record: Record, foreign: Foreign, written: list[Entry]
) -> None:
    forged = written[2]._replace(body=written[2].body.replace("84.30", "84.80"))
    content = content_digest(forged.kind, forged.about, forged.measured_at, forged.body)
    foreign.tamper(
        f"UPDATE entries SET body = '{forged.body}', digest = '{entry_digest(forged)}', content_digest = '{content}'"
        f" WHERE id = '{forged.id}'"
    )
    assert found(record) == [("the entry does not follow the one before it", "laptop 4")]


def test_a_removed_middle_entry_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper("DELETE FROM entries WHERE device = 'laptop' AND sequence = 3")
    assert found(record) == [("an entry is missing", "laptop 3")]


def test_removed_first_entries_are_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper("DELETE FROM entries WHERE device = 'office' AND sequence <= 2")
    assert found(record) == [("an entry is missing", "office 1 and on")]


def test_a_removed_end_is_found_by_a_head_known_from_before(
    record: Record, foreign: Foreign, written: list[Entry]
) -> None:
    known = heads(record)
    append(record, "office", [visit(30)])
    assert found(record, known) == []
    foreign.tamper("DELETE FROM entries WHERE device = 'laptop' AND sequence >= 4")
    assert found(record) == []
    assert found(record, known) == [("an entry known from before is gone", "laptop 5")]


def test_a_device_removed_whole_is_found_by_its_known_head(
    record: Record, foreign: Foreign, written: list[Entry]
) -> None:
    known = heads(record)
    foreign.tamper("DELETE FROM entries WHERE device = 'office'")
    assert len(found(record, known)) == 1


def test_a_chain_written_anew_is_found_by_its_known_head(record: Record, written: list[Entry]) -> None:
    known = [Head("laptop", 3, "f" * 64)]
    assert found(record, known) == [("another entry stands where a known one was: the chain was rewritten", "laptop 3")]


def test_entries_that_changed_places_are_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper(
        "UPDATE entries SET sequence = 99 WHERE device = 'laptop' AND sequence = 2",
        "UPDATE entries SET sequence = 2 WHERE device = 'laptop' AND sequence = 3",
        "UPDATE entries SET sequence = 3 WHERE device = 'laptop' AND sequence = 99",
    )
    assert {(CHANGED, "laptop 2"), (CHANGED, "laptop 3")} <= set(found(record))


def test_a_strike_of_nothing_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    if not foreign.is_file:
        foreign.run("ALTER TABLE entries DROP CONSTRAINT entries_strikes_fkey")
    foreign.tamper(f"DELETE FROM entries WHERE id = '{written[1].id}'")
    assert (f"the entry strikes {written[1].id}, which is not here", f"id {written[-1].id}") in found(record)


def test_a_time_that_goes_backward_in_a_chain_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper(f"UPDATE entries SET written_at = '{written[0].written_at}' WHERE id = '{written[4].id}'")
    assert ("the entry was written before the one before it in its chain", "laptop 5") in found(record)


def test_a_changed_content_digest_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper(f"UPDATE entries SET content_digest = 'x' WHERE id = '{written[0].id}'")
    assert found(record) == [("the digest of what the entry says was changed", "laptop 1")]


def test_an_altered_file_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    data = "X'00'" if foreign.is_file else "'\\x00'"
    foreign.tamper(f"UPDATE blobs SET bytes = {data}")
    assert found(record)[0][0] == "the stored file does not match its digest: it was changed"


@pytest.mark.parametrize("size", [0, 10, 12])
def test_a_size_of_a_file_that_is_not_its_own_is_found(
    record: Record, foreign: Foreign, written: list[Entry], size: int
) -> None:
    """The file has 11 bytes."""
    foreign.tamper(f"UPDATE blobs SET size = {size}")
    assert [what for what, _ in found(record)] == ["the stored file does not match its digest: it was changed"]


def test_a_missing_guard_is_found(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    table = "" if foreign.is_file else " ON entries"
    foreign.run(f"DROP TRIGGER entries_not_removed{table}")
    assert found(record) == [("a guard is missing", "trigger entries_not_removed")]


def test_a_guard_that_no_longer_guards_is_found(record: Record, foreign: Foreign) -> None:
    if foreign.is_file:
        foreign.run(
            "DROP TRIGGER entries_not_changed",
            "CREATE TRIGGER entries_not_changed BEFORE UPDATE ON entries BEGIN SELECT 1; END",
        )
        assert found(record) == [("a guard is changed", "trigger entries_not_changed")]
    else:
        foreign.run("ALTER TABLE entries DISABLE TRIGGER entries_not_changed")
        assert found(record) == [("a guard is changed", "trigger entries_not_changed")]
        foreign.run(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN RETURN NEW; END$$"
        )
        assert len(found(record)) == 12


def test_a_trigger_that_swallows_new_entries_is_found(record: Record, foreign: Foreign) -> None:
    if foreign.is_file:
        foreign.run("CREATE TRIGGER helpful BEFORE INSERT ON entries BEGIN SELECT RAISE(IGNORE); END")
    else:
        foreign.run(
            "CREATE FUNCTION swallow() RETURNS trigger LANGUAGE plpgsql AS $$BEGIN RETURN NULL; END$$",
            "CREATE TRIGGER helpful BEFORE INSERT ON entries FOR EACH ROW EXECUTE FUNCTION swallow()",
        )
    assert found(record) == [("a guard is not ours", "trigger helpful")]


def test_a_missing_index_is_found(record: Record, foreign: Foreign) -> None:
    foreign.run("DROP INDEX entries_content")
    assert found(record) == [("a guard is missing", "index entries_content")]


def test_text_that_is_no_longer_text_is_found(record_file: Record) -> None:
    append(record_file, "laptop", [visit(1), visit(2)])
    foreign = Foreign(record_file.where)
    foreign.tamper("UPDATE entries SET by = CAST(X'ff41' AS TEXT) WHERE sequence = 1")
    foreign.tamper("UPDATE entries SET body = X'00' WHERE sequence = 2")
    assert found(record_file) == [(CHANGED, "laptop 1"), (CHANGED, "laptop 2")]
    foreign.tamper("UPDATE entries SET sequence = 'two' WHERE sequence = 2")
    assert found(record_file) == [(CHANGED, "laptop 1"), (CHANGED, "laptop two")]


def test_a_byte_altered_in_the_file_itself_is_found(record_file: Record) -> None:
    append(record_file, "laptop", [visit(number) for number in range(100)])
    record_file.close()
    path = Path(record_file.where)
    whole = path.read_bytes()
    at = whole.index(b"84.30")
    path.write_bytes(whole[:at] + b"9" + whole[at + 1 :])
    with open_record(path) as record:
        assert [what for what, _ in found(record)] == [CHANGED]


def test_a_file_with_a_torn_page_is_found_damaged(record_file: Record) -> None:
    append(record_file, "laptop", [visit(number) for number in range(500)])
    record_file.close()
    path = Path(record_file.where)
    whole = bytearray(path.read_bytes())
    page = 4096 * (len(whole) // 4096 // 2)
    whole[page : page + 4096] = b"\xaa" * 4096
    path.write_bytes(whole)
    with open_record(path) as record:
        assert any("damaged" in what or "cannot be read" in what for what, _ in found(record))


def test_a_proof_needs_no_more_memory_for_a_longer_record(record_file: Record) -> None:
    def peak() -> int:
        tracemalloc.start()
        try:
            assert verify(record_file).sound
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    append(record_file, "laptop", [visit(number) for number in range(3_000)])
    short = peak()
    append(record_file, "laptop", [visit(number) for number in range(3_000, 15_000)])
    assert peak() < 1.3 * short


def test_a_proof_leaves_its_connection_as_it_was(record_file: Record) -> None:
    append(record_file, "laptop", [visit(1)])
    verify(record_file)
    with closing(record_file.engine.raw_connection()) as connection:
        (text,) = connection.execute("SELECT body FROM entries").fetchone()
    assert isinstance(text, str)


def test_whoever_waits_is_told_of_each_thousand_entries_and_each_file(record_file: Record) -> None:
    """Of 2,001 entries, one of them kept aside."""
    wrong, *_ = append(record_file, "laptop", [visit(number) for number in range(1999)])
    append(record_file, "laptop", [strike(5000, wrong.id)])
    add(record_file, chain("tablet", [strike(6000, wrong.id)]))
    add_blob(record_file, b"time,level\n", "text/csv")
    add_blob(record_file, b"time,depth\n", "text/csv")
    told: list[Progress] = []
    assert verify(record_file, watch=told.append) == (2001, 2, 2, ())
    assert told == [
        Progress("the file and its guards"),
        Progress("entries checked", 1000, 2001),
        Progress("entries checked", 2000, 2001),
        Progress("stored files checked: 1"),
        Progress("stored files checked: 2"),
    ]


def test_a_problem_is_told_with_the_entry_it_is_about(record: Record, foreign: Foreign, written: list[Entry]) -> None:
    foreign.tamper(f"UPDATE entries SET reason = 'none' WHERE id = '{written[1].id}'")
    (problem,) = verify(record).problems
    assert problem.where == f"laptop 2, id {written[1].id}"
    assert problem.mend == "restore a backup, or take the entry in again from the device that wrote it"


def test_each_device_begins_its_chain_anew(record: Record, foreign: Foreign) -> None:
    """The first entries of two devices of three are gone; the devices in between and after are sound."""
    for device, first in (("laptop", 1), ("office", 11), ("phone", 21)):
        append(record, device, [visit(first), visit(first + 1)])
    foreign.tamper("DELETE FROM entries WHERE device IN ('laptop', 'phone') AND sequence = 1")
    assert found(record) == [("an entry is missing", "laptop 1"), ("an entry is missing", "phone 1")]
    assert verify(record).devices == 3


def test_an_entry_struck_twice_is_found(record_file: Record) -> None:
    """By a program that dropped the rule of the table; made anew here without it."""
    foreign = Foreign(record_file.where)
    wrong, *_ = append(record_file, "laptop", [visit(1), strike(2, visit(1).id), visit(3)])
    foreign.run(
        "DROP TRIGGER entries_not_removed",
        "DROP TRIGGER entries_not_changed",
        "DROP TRIGGER entries_not_overwritten",
        "DROP TRIGGER entries_not_in_both",
        "DROP TRIGGER rivals_not_in_both",
        "CREATE TABLE other AS SELECT * FROM entries",
        "DROP TABLE entries",
        "ALTER TABLE other RENAME TO entries",
        f"UPDATE entries SET strikes = '{wrong.id}' WHERE sequence = 3",
    )
    assert ("the entry is struck more than once", f"id {wrong.id}") in found(record_file)


def test_a_file_whose_bytes_are_no_bytes_is_found(record_file: Record) -> None:
    digest = add_blob(record_file, b"84.30", "text/plain")
    foreign = Foreign(record_file.where)
    foreign.tamper("UPDATE blobs SET bytes = '84.30'")
    assert found(record_file) == [("the stored file does not match its digest: it was changed", f"file {digest}")]


def test_an_index_that_no_longer_agrees_with_its_table_is_told_as_damage(record_file: Record) -> None:
    append(record_file, "laptop", [visit(1)])
    other = "CREATE INDEX entries_content ON entries (digest)"
    Foreign(record_file.where).run(
        "PRAGMA writable_schema = ON",
        f"UPDATE sqlite_master SET sql = '{other}' WHERE name = 'entries_content'",
    )
    record_file.close()
    with open_record(record_file.where) as record:
        told = found(record)
    assert ("a guard is changed", "index entries_content") in told
    damage = [(what, where) for what, where in told if what.startswith("the file is damaged: ")]
    assert damage
    assert {where for _, where in damage} == {"database"}
