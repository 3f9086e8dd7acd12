from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import pytest

from tapedown.record import Record, append, entries, entry, heads, verify
from tapedown.record.errors import AlreadyStruck, ClockBehind, IdTaken, NothingToStrike
from tapedown.values.ledger.entries import FIRST, canonical, entry_digest
from tests.record.conftest import Foreign
from tests.record.marrow_fen import moment, strike, visit
from tests.record.writer_child import append_visits


def test_entries_of_a_device_form_a_chain(record: Record) -> None:
    first, second = append(record, "laptop", [visit(1), visit(2)])
    (third,) = append(record, "laptop", [visit(3)])
    assert [e.sequence for e in (first, second, third)] == [1, 2, 3]
    assert [e.previous for e in (first, second, third)] == [FIRST, first.digest, second.digest]
    assert all(e.digest == entry_digest(e) for e in (first, second, third))


def test_what_was_written_is_read_back_to_the_last_letter(record: Record) -> None:
    body = canonical({"people": ["84.30"], "remarks": 'reed "bed" \\ Röhricht 葦 \t \' ; --'})
    (written,) = append(record, "laptop", [visit(1, body=body, by="M. Teasel, née Ødegård", measured_at="")])
    assert entry(record, written.id) == written
    assert written.data["people"] == ["84.30"]


def test_each_device_has_its_own_chain(record: Record) -> None:
    append(record, "laptop", [visit(1), visit(2)])
    append(record, "office", [visit(3)])
    assert [(h.device, h.sequence) for h in heads(record)] == [("laptop", 2), ("office", 1)]


def test_no_drafts_no_entries(record: Record) -> None:
    assert append(record, "laptop", []) == []


def test_a_repeated_request_enters_nothing_twice(record: Record) -> None:
    once = append(record, "laptop", [visit(1), visit(2)])
    again = append(record, "laptop", [visit(1), visit(2), visit(3), visit(3)])
    assert again[:2] == once
    assert again[2] == again[3]
    assert len(entries(record)) == 3


def test_a_repeated_request_may_come_from_a_later_clock(record: Record) -> None:
    once = append(record, "laptop", [visit(1)])
    assert append(record, "laptop", [visit(1, written_at=moment(5))]) == once


def test_an_id_never_says_two_things(record: Record) -> None:
    append(record, "laptop", [visit(1)])
    with pytest.raises(IdTaken) as refused:
        append(record, "laptop", [visit(2), visit(1, by="J. Sedge")])
    assert "R. Alder" in str(refused.value)
    assert refused.value.hint
    assert len(entries(record)) == 1


def test_the_second_corrector_is_told_who_was_first_and_when(record: Record) -> None:
    (wrong,) = append(record, "laptop", [visit(1)])
    (first,) = append(record, "laptop", [strike(2, wrong.id, by="J. Sedge")])
    with pytest.raises(AlreadyStruck) as refused:
        append(record, "office", [strike(3, wrong.id, by="M. Teasel")])
    told = str(refused.value)
    assert all(word in told for word in ("J. Sedge", first.written_at, first.id, first.reason))
    assert refused.value.striker == first


def test_two_corrections_of_one_entry_in_one_request_are_refused(record: Record) -> None:
    (wrong,) = append(record, "laptop", [visit(1)])
    with pytest.raises(AlreadyStruck):
        append(record, "laptop", [strike(2, wrong.id), strike(3, wrong.id)])
    assert len(entries(record)) == 1


def test_a_correction_can_itself_be_corrected_once(record: Record) -> None:
    (wrong,) = append(record, "laptop", [visit(1)])
    (better,) = append(record, "laptop", [visit(2, about=wrong.about, strikes=wrong.id, reason="hold and cut swapped")])
    (best,) = append(
        record, "laptop", [visit(3, about=wrong.about, strikes=better.id, reason="weight interval forgotten")]
    )
    with pytest.raises(AlreadyStruck):
        append(record, "laptop", [strike(4, better.id)])
    assert [held.entry for held in entries(record)] == [best]


def test_nothing_unknown_is_struck(record: Record) -> None:
    with pytest.raises(NothingToStrike):
        append(record, "laptop", [strike(1, visit(9).id)])
    with pytest.raises(NothingToStrike):
        append(record, "laptop", [strike(1, visit(1).id)])
    assert entries(record, struck=True) == []


def test_one_request_may_hold_an_entry_and_its_correction(record: Record) -> None:
    append(record, "laptop", [visit(1), strike(2, visit(1).id)])
    assert [held.struck_by for held in entries(record, struck=True)] == [visit(2).id, None]


def test_all_drafts_enter_or_none(record: Record) -> None:
    with pytest.raises(NothingToStrike):
        append(record, "laptop", [visit(1), visit(2), strike(3, visit(9).id)])
    assert entries(record) == []
    assert heads(record) == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"by": ""}, "by"),
        ({"id": ""}, "id"),
        ({"written_at": "2026-05-14T09:20:00Z"}, "written_at"),
        ({"written_at": "2026-13-14T09:20:00.000000Z"}, "written_at"),
        ({"body": '{"b":1, "a":2}'}, "body"),
        ({"body": "[]"}, "body"),
        ({"body": "84.30 ft"}, "body"),
        ({"by": "R.\0Alder"}, "characters"),
        ({"by": "R. \ud800"}, "characters"),
        ({"strikes": visit(1).id}, "reason"),
    ],
)
def test_a_draft_that_could_not_be_read_back_is_a_mistake(record: Record, changes: dict[str, str], field: str) -> None:
    with pytest.raises(ValueError, match=field):
        append(record, "laptop", [visit(2, **changes)])


def test_a_nameless_device_is_a_mistake(record: Record) -> None:
    with pytest.raises(ValueError, match="device"):
        append(record, "", [visit(1)])


def test_a_clock_a_moment_behind_does_not_turn_the_chain_backward(record: Record) -> None:
    append(record, "laptop", [visit(2_000_000)])
    (late,) = append(record, "laptop", [visit(1)])
    assert late.written_at == moment(2_000_000)
    assert verify(record).sound


def test_a_clock_far_behind_is_refused(record: Record) -> None:
    append(record, "laptop", [visit(90_000_000)])
    with pytest.raises(ClockBehind, match="laptop last wrote"):
        append(record, "laptop", [visit(1)])


def test_the_record_notes_when_it_took_an_entry_in(record: Record, foreign: Foreign) -> None:
    append(record, "laptop", [visit(1)])
    ((received_at,),) = foreign.run("SELECT received_at FROM entries")
    assert len(received_at) == len(moment(1))
    assert received_at > moment(1)
    assert received_at.endswith("Z")


def test_two_threads_on_one_device_give_one_unbroken_chain(record: Record) -> None:
    def write(first: int) -> None:
        for number in range(first, first + 30):
            append(record, "laptop", [visit(number)])

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(write, (1000, 2000)))
    assert [(h.device, h.sequence) for h in heads(record)] == [("laptop", 60)]
    assert verify(record).sound


def test_two_programs_on_one_device_give_one_unbroken_chain(record: Record, where: str) -> None:
    context = multiprocessing.get_context("forkserver")
    with ProcessPoolExecutor(2, mp_context=context) as pool:
        list(pool.map(append_visits, (where, where), ("laptop", "laptop"), (1000, 2000), (30, 30)))
    assert [(h.device, h.sequence) for h in heads(record)] == [("laptop", 60)]
    assert verify(record).sound


def test_a_season_of_readings_enters_in_one_request(record: Record) -> None:
    append(record, "office", [visit(number) for number in range(21_532)])
    assert [(h.device, h.sequence) for h in heads(record)] == [("office", 21_532)]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": ""}, "kind is empty"),
        ({"about": ""}, "about is empty"),
        ({"strikes": visit(1).id, "reason": " \t"}, "reason is empty"),
        ({"written_at": "2026-05-14T09:20:00.0000000Z"}, "written_at is"),
        ({"written_at": "2026-05-14T09:20:00.000000+00:00"}, "written_at is"),
        ({"written_at": "at 2026-05-14T09:20:00.000000Z"}, "written_at is"),
        ({"written_at": "2026-05-14T24:20:00.000000Z"}, "written_at is"),
        ({"body": '{"a": 1}'}, "canonical"),
        ({"body": '{"a":NaN}'}, "canonical"),
        ({"body": '{"a":1,"a":1}'}, "canonical"),
        ({"body": '{"a":' * 50_000 + "1" + "}" * 50_000}, "canonical"),
        ({"body": ""}, "canonical"),
        ({"about": "well\0"}, "cannot be stored"),
        ({"reason": "\udcff"}, "cannot be stored"),
    ],
)
def test_a_draft_is_refused_for_the_field_that_is_wrong(
    record_file: Record, changes: dict[str, str], field: str
) -> None:
    draft = visit(2, **changes)
    with pytest.raises(ValueError, match=field) as refused:
        append(record_file, "laptop", [draft])
    assert str(refused.value).startswith(f"draft {draft.id!r}: ")
    assert entries(record_file) == []


def test_a_device_whose_name_cannot_be_stored_is_a_mistake(record_file: Record) -> None:
    with pytest.raises(ValueError, match="name the machine that writes"):
        append(record_file, "lap\0top", [visit(1)])


def test_a_repeated_request_that_says_other_than_before_is_refused_for_any_field(record_file: Record) -> None:
    append(record_file, "laptop", [visit(1), strike(2, visit(1).id)])
    for changes in ({"about": "well/MF-99"}, {"measured_at": ""}, {"body": "{}"}, {"kind": "access", "body": "{}"}):
        with pytest.raises(IdTaken):
            append(record_file, "laptop", [visit(1, **changes)])
    with pytest.raises(IdTaken):
        append(record_file, "laptop", [strike(2, visit(1).id, reason="another")])
