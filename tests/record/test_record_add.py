from __future__ import annotations

import random
import re
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tapedown.record import Record, add, append, create_record, entries, heads, verify
from tapedown.record.errors import MayNotStrike
from tapedown.values.ledger.entries import Draft, Entry, canonical, entry_digest
from tests.record.marrow_fen import chain, moment, strike, visit


def outcomes(record: Record, batch: list[Entry]) -> list[str]:
    return [receipt.outcome for receipt in add(record, batch)]


def test_entries_of_another_device_enter_and_keep_their_place(record: Record) -> None:
    taken = chain("tablet", [visit(1), visit(2)])
    assert outcomes(record, taken) == ["entered", "entered"]
    assert [held.entry for held in entries(record)] == taken
    assert verify(record).sound


def test_what_is_there_already_is_not_entered_twice(record: Record) -> None:
    taken = chain("tablet", [visit(1), visit(2)])
    add(record, taken[:1])
    assert outcomes(record, [*taken, taken[1]]) == ["already there", "entered", "already there"]


def test_receipts_come_in_the_order_of_the_entries(record: Record) -> None:
    first, second, third = chain("tablet", [visit(1), visit(2), visit(3)])
    receipts = add(record, [third, first, second])
    assert [receipt.id for receipt in receipts] == [third.id, first.id, second.id]
    assert {receipt.outcome for receipt in receipts} == {"entered"}


def test_an_entry_changed_on_the_way_is_refused_and_the_others_enter(record: Record) -> None:
    changed = chain("tablet", [visit(1)])[0]._replace(by="J. Sedge")
    (good,) = chain("phone", [visit(2)])
    refused, entered = add(record, [changed, good])
    assert (refused.outcome, entered.outcome) == ("refused", "entered")
    assert "digest" in refused.why


def test_an_entry_with_a_taken_id_is_refused(record: Record) -> None:
    append(record, "office", [visit(1)])
    (receipt,) = add(record, chain("tablet", [visit(1, by="J. Sedge")]))
    assert receipt.outcome == "refused"
    assert "R. Alder" in receipt.why


def test_a_gap_in_a_chain_is_refused_with_the_mend(record: Record) -> None:
    first, _, third = chain("tablet", [visit(1), visit(2), visit(3)])
    _, receipt = add(record, [first, third])
    assert receipt.outcome == "refused"
    assert "take in the device's entries from 2 on" in receipt.why
    assert heads(record)[0].sequence == 1


def test_two_machines_under_one_name_are_found_out(record: Record) -> None:
    add(record, chain("tablet", [visit(1), visit(2)]))
    beside, after = chain("tablet", [visit(8), visit(9), visit(10)])[1:]
    receipts = add(record, [beside, after])
    assert [receipt.outcome for receipt in receipts] == ["refused", "refused"]
    assert "give each a name of its own" in receipts[0].why
    assert "does not follow number 2" in receipts[1].why


def test_a_chain_that_goes_back_in_time_is_refused(record: Record) -> None:
    (_, receipt) = add(record, chain("tablet", [visit(5), visit(6, written_at=moment(1))]))
    assert receipt.outcome == "refused"
    assert "clock of tablet" in receipt.why


def test_a_second_correction_made_elsewhere_is_kept_aside_and_told_who_was_first(record: Record) -> None:
    (wrong,) = append(record, "office", [visit(1)])
    append(record, "office", [strike(2, wrong.id, by="J. Sedge")])
    (receipt,) = add(record, chain("tablet", [strike(3, wrong.id, by="M. Teasel")]))
    assert receipt.outcome == "kept aside"
    assert "J. Sedge" in receipt.why


def test_a_malformed_entry_is_refused_not_raised(record: Record) -> None:
    receipts = add(record, chain("tablet", [visit(1, body="no JSON"), visit(2)]))
    assert [receipt.outcome for receipt in receipts] == ["refused", "refused"]
    assert "body" in receipts[0].why


def test_a_correction_waits_for_the_entry_it_strikes_within_the_batch(record: Record) -> None:
    (wrong,) = chain("tablet", [visit(5)])
    (correction,) = chain("phone", [strike(1, wrong.id)])  # the phone's clock is behind
    assert outcomes(record, [correction, wrong]) == ["entered", "entered"]


def test_entries_that_wait_for_each_other_are_refused_not_waited_for(record: Record) -> None:
    one = chain("tablet", [strike(1, visit(4).id), visit(2)])
    two = chain("phone", [strike(3, visit(2).id), visit(4)])
    assert set(outcomes(record, one + two)) == {"refused"}


def test_an_empty_batch_gives_no_receipts(record: Record) -> None:
    assert add(record, []) == []


@st.composite
def worlds(draw: st.DrawFn) -> list[Entry]:
    """Chains of up to three devices that correct each other's entries, in some order of arrival."""
    drafts: dict[str, list[Draft]] = {"laptop": [], "office": [], "tablet": []}
    open_ids: list[str] = []
    for number in range(draw(st.integers(1, 12))):
        device = draw(st.sampled_from(sorted(drafts)))
        if len(open_ids) > 0 and draw(st.booleans()):
            target = open_ids.pop(draw(st.integers(0, len(open_ids) - 1)))
            drafts[device].append(strike(number, target, about="well/MF-01"))
        else:
            drafts[device].append(visit(number, about="well/MF-01"))
        open_ids.append(drafts[device][-1].id)
    whole = [entry for device, written in drafts.items() for entry in chain(device, written)]
    return draw(st.permutations(whole))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(world=worlds(), cut=st.integers(0, 12), seed=st.integers(0, 1000))
def test_order_of_arrival_makes_no_difference(
    new_place: Callable[[], str], world: list[Entry], cut: int, seed: int
) -> None:
    with create_record(new_place()) as at_once, create_record(new_place()) as in_parts:
        assert set(outcomes(at_once, world)) == {"entered"}
        add(in_parts, world[:cut])
        rest = list(world)
        for _ in world:  # as when devices come by the office one after another, again and again
            random.Random(seed).shuffle(rest)
            for entry in rest:
                add(in_parts, [entry])
        held = entries(at_once, struck=True)
        assert entries(in_parts, struck=True) == held
        assert heads(in_parts) == heads(at_once)
        assert set(outcomes(at_once, world)) == {"already there"}
        assert entries(at_once, struck=True) == held
        assert verify(at_once).sound


def test_an_entry_that_follows_nothing_is_refused(record: Record) -> None:
    (entry,) = chain("tablet", [visit(1)])
    loose = entry._replace(previous="f" * 64)
    (receipt,) = add(record, [loose._replace(digest=entry_digest(loose))])
    assert receipt.outcome == "refused"
    assert "does not follow" in receipt.why


@pytest.mark.parametrize("size", [0, 1, 1200])
def test_batches_longer_than_one_query_are_taken_whole(record: Record, size: int) -> None:
    batch = chain("tablet", [visit(number) for number in range(size)])
    random.Random(4).shuffle(batch)
    assert outcomes(record, batch) == ["entered"] * size
    assert outcomes(record, batch) == ["already there"] * size


@pytest.mark.parametrize(("changes", "why"), [
    ({"kind": "remark"}, "kind 'remark' is not known"),
    ({"measured_at": "2026-02-30"}, "measured_at is '2026-02-30'"),
    ({"measured_at": "2026"}, "measured_at is '2026'"),
    ({"measured_at": "x"}, "measured_at is 'x'"),
    ({"measured_at": "1066-10-14"}, "measured_at is '1066-10-14'"),
    ({"measured_at": "2026-05-14T25:20"}, "measured_at is"),
    ({"kind": "network", "about": "network", "body": canonical(
        {"name": "Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "Europe/Nowhere"})}, "zone: "),
])  # fmt: skip
def test_what_cannot_be_so_is_refused_by_whoever_writes_and_by_whoever_sends(
    record: Record, changes: dict[str, str], why: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(why)):
        append(record, "laptop", [visit(1, **changes)])
    (receipt,) = add(record, chain("tablet", [visit(1, **changes)]))
    assert receipt.outcome == "refused"
    assert why in receipt.why
    assert entries(record) == []


@pytest.mark.parametrize(("changes", "why"), [
    ({"body": '{"no such field":"1"}'}, "no such field: no field"),
    ({"kind": "measuring point", "body": "{}"}, "name: name is missing"),
])  # fmt: skip
def test_what_cannot_be_read_is_not_written_here_and_enters_as_the_ink_of_another(
    record: Record, changes: dict[str, str], why: str
) -> None:
    with pytest.raises(ValueError, match=why):
        append(record, "laptop", [visit(1, **changes)])
    assert outcomes(record, chain("tablet", [visit(1, **changes), visit(2)])) == ["entered", "entered"]


@pytest.mark.parametrize(("changes", "why"), [
    ({"about": "well/MF-19"}, "each strikes what it is about"),
    ({"kind": "access"}, "kind 'access' cannot take the place"),
])  # fmt: skip
def test_an_entry_strikes_what_it_is_about_and_of_its_own_kind(
    record: Record, changes: dict[str, str], why: str
) -> None:
    append(record, "laptop", [visit(1)])
    with pytest.raises(MayNotStrike, match=why):
        append(record, "laptop", [strike(2, visit(1).id, **changes)])
    (receipt,) = add(record, chain("tablet", [strike(2, visit(1).id, **changes)]))
    assert receipt.outcome == "refused"
    assert why in receipt.why


def test_the_facts_of_a_network_are_replaced_and_never_withdrawn(record: Record) -> None:
    facts = {"name": "Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "Europe/London"}
    founding = visit(1, kind="network", about="network", measured_at="", body=canonical(facts))
    append(record, "laptop", [founding])
    withdrawn = strike(2, founding.id, about="network", measured_at="")
    with pytest.raises(MayNotStrike, match="without its unit, zone and datum"):
        append(record, "laptop", [withdrawn])
    assert outcomes(record, chain("tablet", [withdrawn])) == ["refused"]
    changed = founding._replace(
        id=visit(3).id, strikes=founding.id, reason="a name at last", written_at=visit(3).written_at
    )
    assert append(record, "laptop", [changed])[0].id == changed.id
