"""Two people, out of touch with each other, strike the same entry."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert

from tapedown.record import (
    Record,
    add,
    append,
    create_record,
    entries,
    entries_after,
    entry,
    grant_writer,
    heads,
    kept_aside,
    open_record,
    present,
    verify,
)
from tapedown.record import opening as record_opening
from tapedown.record.errors import AlreadyStruck, RecordReadOnly
from tapedown.record.opening import bring_up_to_date, writing
from tapedown.record.schema import MIGRATIONS
from tapedown.record.tables import ENTRIES
from tapedown.values.ledger.entries import Draft, Entry, canonical, content_digest
from tests.record.conftest import Foreign
from tests.record.marrow_fen import chain, moment, strike, visit

WRONG = visit(1)
HERE = WRONG.about


def correction(number: int, target: str, reading: str, by: str) -> Draft:
    """A visit that replaces another."""
    said = canonical({"remarks": reading})
    return visit(number, about=WRONG.about, strikes=target, reason="misread", by=by, body=said)


FIRST = correction(10, WRONG.id, "84.80", "J. Sedge")
SECOND = correction(20, WRONG.id, "88.30", "M. Teasel")


@pytest.fixture
def office(record: Record) -> Record:
    """A record in which J. Sedge corrected an entry."""
    append(record, "office", [WRONG, FIRST])
    return record


def tablet(*drafts: Draft) -> list[Entry]:
    return chain("tablet", list(drafts))


def outcomes(record: Record, batch: list[Entry]) -> list[str]:
    return [receipt.outcome for receipt in add(record, batch)]


def in_force(record: Record) -> list[str]:
    return [held.entry.id for held in entries(record)]


def aside(record: Record) -> list[str]:
    return [found.entry.id for found in kept_aside(record)]


def test_a_rival_correction_is_kept_whole_and_the_device_goes_on(office: Record) -> None:
    rival, later, last = tablet(SECOND, visit(21), visit(22))
    assert outcomes(office, [rival]) == ["kept aside"]
    assert outcomes(office, [later, last]) == ["entered", "entered"]
    assert in_force(office) == [FIRST.id, later.id, last.id]
    (kept,) = kept_aside(office)
    assert (kept.entry, kept.rival.id, kept.struck_by) == (rival, FIRST.id, None)
    assert entry(office, rival.id) == rival
    assert [(head.device, head.sequence) for head in heads(office)] == [("office", 2), ("tablet", 3)]
    assert verify(office, heads(office)) == (5, 0, 2, ())


def test_the_one_who_sends_a_rival_is_told_who_was_first_and_how_to_settle_it(office: Record) -> None:
    (receipt,) = add(office, tablet(SECOND))
    assert all(word in receipt.why for word in ("J. Sedge", moment(10), FIRST.id, "misread", f"strike {SECOND.id}"))


def test_the_correction_written_first_takes_its_place_however_late_it_comes(record: Record) -> None:
    add(record, chain("office", [WRONG]) + tablet(SECOND))
    (receipt,) = add(record, chain("phone", [FIRST]))
    assert receipt.outcome == "entered"
    assert "in place of" in receipt.why
    assert SECOND.id in receipt.why
    assert in_force(record) == [FIRST.id]
    assert aside(record) == [SECOND.id]
    assert [h.struck_by for h in entries(record, struck=True)] == [FIRST.id, None]


def test_within_one_batch_the_order_does_not_show(new_place: Callable[[], str]) -> None:
    batch = chain("office", [WRONG]) + tablet(SECOND) + chain("phone", [FIRST])
    for order in itertools.permutations(batch):
        with create_record(new_place()) as record:
            told = {receipt.id: (receipt.outcome, bool(receipt.why)) for receipt in add(record, order)}
        expected = {WRONG.id: ("entered", False), FIRST.id: ("entered", False), SECOND.id: ("kept aside", True)}
        assert told == expected


def test_a_rival_taken_in_twice_is_there_already(office: Record) -> None:
    batch = tablet(SECOND, visit(21))
    add(office, batch)
    assert outcomes(office, batch) == ["already there", "already there"]
    assert aside(office) == [SECOND.id]


def test_whoever_writes_here_is_still_told_while_they_stand_there(office: Record) -> None:
    add(office, tablet(SECOND))
    with pytest.raises(AlreadyStruck, match=r"J\. Sedge"):
        append(office, "office", [strike(30, WRONG.id)])
    assert len(entries_after(office)) == 3


def test_what_follows_a_correction_kept_aside_is_kept_aside_with_it(office: Record) -> None:
    better = correction(21, SECOND.id, "88.31", "M. Teasel")
    receipts = add(office, tablet(SECOND, better))
    assert [receipt.outcome for receipt in receipts] == ["kept aside", "kept aside"]
    assert "J. Sedge" in receipts[1].why
    assert in_force(office) == [FIRST.id]
    assert [found.struck_by for found in kept_aside(office)] == [better.id, None]


def test_what_followed_goes_with_a_correction_that_lost_its_place(record: Record) -> None:
    better = correction(21, SECOND.id, "88.31", "M. Teasel")
    add(record, chain("office", [WRONG]) + tablet(SECOND, better))
    assert in_force(record) == [better.id]
    add(record, chain("phone", [FIRST]))
    assert in_force(record) == [FIRST.id]
    assert aside(record) == [SECOND.id, better.id]
    assert verify(record).sound


def test_somebody_settles_it_by_striking_the_one_kept_aside(office: Record) -> None:
    add(office, tablet(SECOND))
    append(office, "office", [strike(30, SECOND.id, about=HERE)])
    assert in_force(office) == [FIRST.id]
    assert [(a.entry.id, a.struck_by) for a in kept_aside(office)] == [
        (SECOND.id, visit(30).id),
        (visit(30).id, None),
    ]
    with pytest.raises(AlreadyStruck):
        append(office, "office", [strike(31, SECOND.id, about=HERE)])
    assert verify(office).sound


def test_a_decision_for_the_other_value_corrects_the_one_in_force(office: Record) -> None:
    add(office, tablet(SECOND))
    (decided,) = append(office, "office", [correction(30, FIRST.id, "88.30", "R. Alder")])
    assert in_force(office) == [decided.id]


def test_what_was_known_before_the_second_correction_can_be_shown(record: Record) -> None:
    add(record, chain("office", [WRONG]) + tablet(SECOND, visit(21)))
    add(record, chain("phone", [FIRST]))

    def known(number: int) -> list[str]:
        return [held.entry.id for held in entries(record, as_of=moment(number))]

    assert [known(n) for n in (1, 9, 10, 19, 20)] == [[WRONG.id], [WRONG.id], [FIRST.id], [FIRST.id], [FIRST.id]]
    assert known(21) == [FIRST.id, visit(21).id]


def test_a_correction_in_force_is_found_by_subject_and_kind_wherever_it_stands(record: Record) -> None:
    add(record, chain("office", [WRONG]) + tablet(SECOND))
    add(record, chain("phone", [FIRST]))
    assert [h.entry.id for h in entries(record, kinds={"visit"}, about=FIRST.about)] == [FIRST.id]
    assert entries(record, kinds={"access"}) == []
    assert [h.entry.id for h in entries(record, about=WRONG.about, struck=True)] == [WRONG.id, FIRST.id]


def test_what_a_rival_says_counts_as_held(office: Record) -> None:
    add(office, tablet(SECOND))
    said = content_digest(SECOND.kind, SECOND.about, SECOND.measured_at, SECOND.body)
    assert present(office, [said]) == {said}


def test_a_dry_run_tells_the_same_and_writes_nothing(office: Record) -> None:
    batch = tablet(SECOND, visit(21))
    before = entries_after(office)
    told = add(office, batch, dry_run=True)
    assert entries_after(office) == before
    assert add(office, batch) == told


def test_only_what_the_other_side_lacks_is_handed_on(office: Record) -> None:
    batch = tablet(SECOND, visit(21))
    known = heads(office)
    add(office, batch)
    assert entries_after(office, known) == batch
    assert len(entries_after(office)) == 4
    assert entries_after(office, heads(office)) == []


def test_an_altered_rival_is_found(office: Record, foreign: Foreign) -> None:
    add(office, tablet(SECOND, visit(21)))
    foreign.tamper("UPDATE rivals SET reason = 'none'")
    (problem,) = verify(office).problems
    assert "does not match its digest" in problem.what
    assert problem.where.startswith("tablet 1,")


def test_a_removed_rival_is_found(office: Record, foreign: Foreign) -> None:
    add(office, tablet(SECOND, visit(21)))
    foreign.tamper("DELETE FROM rivals")
    assert [(p.what, p.where) for p in verify(office).problems] == [("an entry is missing", "tablet 1")]


def test_a_rival_of_nothing_is_found(office: Record, foreign: Foreign) -> None:
    add(office, tablet(SECOND))
    foreign.tamper("UPDATE rivals SET strikes = 'gone'")
    assert f"id {SECOND.id}" in [p.where for p in verify(office).problems if "not here" in p.what]


COLUMNS = "id, kind, about, measured_at, written_at, by, body, strikes, reason, device, sequence, previous, digest"


def copied(from_: str, into: str, **changes: str) -> str:
    """SQL that puts a row of one table into the other."""
    values = ", ".join(changes.get(name, name) for name in f"{COLUMNS}, content_digest".split(", "))
    return f"INSERT INTO {into} ({COLUMNS}, content_digest) SELECT {values} FROM {from_} WHERE strikes IS NOT NULL"


@pytest.mark.parametrize("changes", [{"id": "'x'"}, {"sequence": "99"}])
def test_no_link_can_stand_in_both_tables(office: Record, foreign: Foreign, changes: dict[str, str]) -> None:
    add(office, tablet(SECOND))
    for statement in (
        copied("entries", "rivals", **changes),
        copied("rivals", "rivals", **changes),
        copied("rivals", "entries", **{"strikes": "NULL", **changes}),
    ):
        with pytest.raises(Foreign.refusals):
            foreign.run(statement)
    assert verify(office).sound


def test_a_link_put_in_both_tables_is_found(office: Record, foreign: Foreign) -> None:
    add(office, tablet(SECOND))
    foreign.tamper(copied("entries", "rivals"))
    assert ("the entry is held twice", f"id {FIRST.id}") in [(p.what, p.where) for p in verify(office).problems]


@pytest.fixture
def old_record(where: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Record]:
    """A record as the first version of the program made it, with an entry."""
    with monkeypatch.context() as earlier:
        earlier.setattr(record_opening, "MIGRATIONS", MIGRATIONS[:1])
        earlier.setattr(record_opening.bring_up_to_date, "__defaults__", (MIGRATIONS[:1],))
        record = create_record(where)
    with writing(record) as connection:
        for e in chain("office", [WRONG, FIRST]):
            said = content_digest(e.kind, e.about, e.measured_at, e.body)
            connection.execute(insert(ENTRIES), {**e._asdict(), "content_digest": said})
    yield record
    record.close()


def test_a_record_of_the_first_version_opens_and_takes_rivals(old_record: Record, where: str, foreign: Foreign) -> None:
    assert foreign.run("SELECT number FROM schema_history") == [(1,)]
    before = foreign.run("SELECT * FROM entries ORDER BY id")
    with open_record(where) as record:
        assert foreign.run("SELECT number, name FROM schema_history ORDER BY number")[1] == (2, "rival corrections")
        assert foreign.run("SELECT * FROM entries ORDER BY id") == before
        assert outcomes(record, tablet(SECOND, visit(21))) == ["kept aside", "entered"]
        assert verify(record) == (4, 0, 2, ())


def test_a_migration_cut_short_leaves_the_record_as_it_was(old_record: Record, where: str, foreign: Foreign) -> None:
    breaks = ("CREATE TABLE entries (id TEXT)",)
    second = MIGRATIONS[1]
    broken = second._replace(sqlite=second.sqlite + breaks, postgresql=second.postgresql + breaks)
    with pytest.raises(Exception, match="entries"):
        bring_up_to_date(old_record, (MIGRATIONS[0], broken))
    with pytest.raises(Foreign.refusals):
        foreign.run("SELECT * FROM rivals")
    with open_record(where) as record:
        assert in_force(record) == [FIRST.id]


def test_a_writer_let_in_before_the_migration_can_go_on(old_record: Record, where: str, foreign: Foreign) -> None:
    if foreign.is_file:
        pytest.skip("a file has no roles")
    ((database,),) = foreign.run("SELECT current_database()")
    role = f"{database} early writer"
    foreign.run(
        f'CREATE ROLE "{role}" LOGIN',
        f'GRANT SELECT, INSERT ON entries, blobs TO "{role}"',
        f'GRANT SELECT ON schema_history TO "{role}"',
    )
    as_writer = where.replace("//postgres@", f"//{role.replace(' ', '%20')}@")
    with pytest.raises(RecordReadOnly, match="older schema 1"):
        open_record(as_writer)
    open_record(where).close()
    with open_record(as_writer) as record:
        assert outcomes(record, tablet(SECOND)) == ["kept aside"]


def test_a_writer_may_keep_a_rival_and_change_none(office: Record, foreign: Foreign) -> None:
    if foreign.is_file:
        pytest.skip("a file has no roles")
    ((database,),) = foreign.run("SELECT current_database()")
    role = f"{database} rival writer"
    foreign.run(f'CREATE ROLE "{role}" LOGIN')
    grant_writer(office, role)
    with open_record(office.where.replace("//postgres@", f"//{role.replace(' ', '%20')}@")) as record:
        assert outcomes(record, tablet(SECOND)) == ["kept aside"]
    for statement in ("UPDATE rivals SET reason = ''", "DELETE FROM rivals", "TRUNCATE rivals"):
        with pytest.raises(Foreign.refusals, match="permission denied"):
            foreign.run(f'SET ROLE "{role}"', statement)


def test_entries_that_cannot_be_stored_are_refused_not_raised(record: Record) -> None:
    bad = [visit(1, id="a\0b"), visit(2, id="\ud800"), strike(3, "c\0"), visit(4)]
    devices = ["laptop", "office", "phone", "tab\0let"]
    batch = [Entry(*draft, device, 1, "0" * 64, "f" * 64) for draft, device in zip(bad, devices)]
    assert outcomes(record, batch) == ["refused"] * 4
    assert entries(record) == []


class Plan(NamedTuple):
    """What happens: (device, what it strikes by place among what it knows, or -1 for a visit)."""

    steps: list[tuple[str, int]]
    meetings: list[tuple[str, str, int]]


DEVICES = ("laptop", "office", "tablet")


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    device = st.sampled_from(DEVICES)
    steps = draw(st.lists(st.tuples(device, st.integers(-1, 5)), min_size=4, max_size=16))
    meetings = draw(st.lists(st.tuples(device, device, st.integers(1, 4)), max_size=6))
    return Plan(steps, meetings)


def hand_over(giver: Record, taker: Record, size: int, order: st.DataObject | None = None) -> None:
    """All the taker lacks, in batches, in some order, again and again until nothing moves."""
    batch = entries_after(giver, heads(taker))
    if order is not None and batch:
        batch = order.draw(st.permutations(batch))
    before = None
    while before != (before := heads(taker)):
        for start in range(0, len(batch), size):
            add(taker, batch[start : start + size])


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plan=plans(), data=st.data())
def test_records_that_meet_agree_on_everything_in_any_order(
    new_place: Callable[[], str], plan: Plan, data: st.DataObject
) -> None:
    records = {device: create_record(new_place()) for device in DEVICES}
    try:
        start = append(records["office"], "office", [visit(n, about=HERE) for n in range(3)])
        for record in records.values():
            add(record, start)
        meetings = iter(plan.meetings)
        for number, (device, place) in enumerate(plan.steps, start=10):
            own = records[device]
            standing = entries(own)
            target = standing[place].entry if 0 <= place < len(standing) else None
            clock = number + 7 * DEVICES.index(device)  # clocks that do not agree
            append(
                own,
                device,
                [
                    strike(number, target.id, about=HERE, kind="visit")
                    if target
                    else visit(number, about=HERE, written_at=moment(clock))
                ],
            )
            if number % 3 == 0 and (meeting := next(meetings, None)):
                hand_over(records[meeting[0]], records[meeting[1]], meeting[2])
        for giver, taker in itertools.permutations(DEVICES, 2):
            hand_over(records[giver], records[taker], data.draw(st.integers(1, 9)), data)
        for giver, taker in itertools.permutations(DEVICES, 2):  # what went by way of a third
            hand_over(records[giver], records[taker], 100)
        one, *others = records.values()
        everything = entries_after(one)
        assert {e.id for e in everything} == {h.entry.id for h in entries(one, struck=True)} | set(aside(one))
        for other in others:
            assert entries_after(other) == everything
            assert heads(other) == heads(one)
            assert entries(other, struck=True) == entries(one, struck=True)
            assert entries(other, as_of=moment(14)) == entries(one, as_of=moment(14))
            assert kept_aside(other) == kept_aside(one)
        for record in records.values():
            assert set(outcomes(record, everything)) == {"already there"}
            assert entries_after(record) == everything
            assert verify(record, heads(one)).sound
    finally:
        for record in records.values():
            record.close()
