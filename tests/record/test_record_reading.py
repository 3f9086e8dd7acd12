from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from sqlalchemy import select

from tapedown.record import (
    Head,
    Record,
    add,
    add_blob,
    append,
    blob,
    blobs_present,
    entries,
    entries_after,
    entry,
    heads,
    present,
)
from tapedown.record.errors import NoSuchBlob, NoSuchEntry
from tapedown.record.opening import reading
from tapedown.record.tables import ENTRIES
from tapedown.values.ledger.entries import content_digest
from tests.record.marrow_fen import chain, moment, strike, visit


def ids(record: Record, **asked: object) -> list[str]:
    return [held.entry.id for held in entries(record, **asked)]  # type: ignore[arg-type]


def test_an_unknown_id_is_told(record: Record) -> None:
    with pytest.raises(NoSuchEntry, match="no entry 7"):
        entry(record, "7")


def test_entries_come_in_the_order_they_were_written_wherever_that_was(record: Record) -> None:
    append(record, "office", [visit(4), visit(9)])
    add(record, chain("tablet", [visit(2), visit(4, id="b"), visit(12)]))
    assert ids(record) == [visit(2).id, visit(4).id, "b", visit(9).id, visit(12).id]


def test_entries_are_chosen_by_subject_and_kind(record: Record) -> None:
    append(
        record,
        "office",
        [
            visit(1),
            visit(2),
            visit(3, about="well/MF-02", kind="access", body="{}"),
            visit(4, kind="construction", body="{}"),
        ],
    )
    assert ids(record, about="well/MF-02") == [visit(1).id, visit(3).id]
    assert ids(record, about="well/MF-02", kinds={"access"}) == [visit(3).id]
    assert ids(record, kinds=["access", "construction"]) == [visit(3).id, visit(4).id]
    assert ids(record, kinds=[]) == []
    assert ids(record, about="well/MF-0") == []


def test_struck_entries_are_hidden_unless_asked_for(record: Record) -> None:
    wrong, right = append(record, "office", [visit(1), visit(2)])
    (correction,) = append(
        record, "office", [visit(3, about=wrong.about, strikes=wrong.id, reason="hold and cut swapped")]
    )
    assert ids(record) == [right.id, correction.id]
    assert [held.struck_by for held in entries(record, struck=True)] == [correction.id, None, None]


def test_what_was_known_on_a_date_can_be_shown(record: Record) -> None:
    wrong, later = append(record, "office", [visit(10), visit(20)])
    (correction,) = append(record, "office", [strike(30, wrong.id)])
    assert ids(record, as_of=moment(9)) == []
    assert ids(record, as_of=moment(10)) == [wrong.id]
    assert ids(record, as_of=moment(29)) == [wrong.id, later.id]
    assert ids(record, as_of=moment(30)) == [later.id, correction.id]
    assert [h.struck_by for h in entries(record, as_of=moment(29), struck=True)] == [None, None]
    assert [h.struck_by for h in entries(record, as_of=moment(30), struck=True)] == [correction.id, None, None]


def test_a_date_in_another_form_is_a_mistake(record: Record) -> None:
    with pytest.raises(ValueError, match="as_of"):
        entries(record, as_of="2026-05-14")


def test_content_held_already_is_found_whoever_wrote_it(record: Record) -> None:
    drafts = [visit(number) for number in range(1100)]
    written = append(record, "office", drafts)
    append(record, "office", [strike(2000, written[5].id)])
    held = {content_digest(d.kind, d.about, d.measured_at, d.body) for d in drafts}
    new = content_digest("visit", "well/MF-07", "", "{}")
    assert present(record, {*held, new}) == held
    assert present(record, []) == set()


def test_heads_are_the_last_entry_of_every_device(record: Record) -> None:
    _, last = append(record, "office", [visit(1), visit(2)])
    (only,) = append(record, "laptop", [visit(3)])
    assert heads(record) == [Head("laptop", 1, only.digest), Head("office", 2, last.digest)]


def test_a_file_is_kept_once_with_every_byte(record: Record) -> None:
    data = bytes(range(256)) * 1000
    digest = add_blob(record, data, "text/csv")
    assert add_blob(record, data, "application/octet-stream") == digest
    assert blob(record, digest) == (data, "text/csv")
    assert blob(record, add_blob(record, b"", "text/plain")).bytes == b""


def test_an_unknown_file_is_told(record: Record) -> None:
    with pytest.raises(NoSuchBlob):
        blob(record, "0" * 64)


def test_a_reader_keeps_no_writer_waiting_and_sees_one_state(record: Record) -> None:
    append(record, "office", [visit(1)])
    with reading(record) as connection:
        query = select(ENTRIES.c.id)
        before = connection.execute(query).all()
        with ThreadPoolExecutor(1) as pool:
            pool.submit(append, record, "office", [visit(2)]).result(timeout=4)
        assert connection.execute(query).all() == before
    assert len(entries(record)) == 2


def test_files_that_are_kept_here_are_named(record: Record) -> None:
    held = {add_blob(record, str(number).encode(), "text/plain") for number in range(3)}
    assert blobs_present(record, [*held, "0" * 64]) == held
    assert blobs_present(record, ["0" * 64] * 600 + sorted(held)) == held
    assert blobs_present(record, []) == set()


def test_what_comes_after_known_heads_comes_chain_by_chain(record: Record) -> None:
    add(record, chain("tablet", [visit(1), visit(2), visit(3)]))
    append(record, "office", [visit(11), visit(12)])
    known = [Head("tablet", 1, "f" * 64), Head("phone", 9, "f" * 64)]
    after = entries_after(record, known)
    assert [(one.device, one.sequence) for one in after] == [("office", 1), ("office", 2), ("tablet", 2), ("tablet", 3)]


def test_a_subject_and_a_date_are_asked_for_together(record: Record) -> None:
    first, other = append(record, "office", [visit(10, about="well/MF-01"), visit(20, about="well/MF-02")])
    append(record, "office", [visit(30, about="well/MF-01", strikes=first.id, reason="misread")])
    assert ids(record, about="well/MF-01", as_of=moment(29)) == [first.id]
    assert ids(record, about="well/MF-01", as_of=moment(30)) == [visit(30).id]
    assert ids(record, about="well/MF-02", as_of=moment(19)) == []
    assert ids(record, kinds={"visit"}, about="well/MF-02", as_of=moment(20)) == [other.id]
    assert [h.struck_by for h in entries(record, about="well/MF-01", struck=True)] == [visit(30).id, None]
