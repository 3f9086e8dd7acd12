"""Reviews by people who count, requests to measure again, and the order of the queue."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tapedown.record import entries
from tapedown.values.ledger.entries import Entry
from tapedown.work.authorship import Author
from tapedown.work.entry.comparing import NoComparison, UsedAlready, calibrate_by, comparisons, find_comparison
from tapedown.work.entry.entering import correct, enter_fact, read_visit, strike, write_visit
from tapedown.work.field.packs import pack
from tapedown.work.networks import OpenNetwork, change_settings, gear_shelf, network_of, start_network
from tapedown.work.refusals import WrittenWrong
from tapedown.work.review.queue import Queue, ReviewQueue
from tapedown.work.review.remeasures import (
    AskedAlready,
    DrawnAlready,
    NoWellRead,
    ask_again,
    blind_repeats,
    draw,
    drawn,
    open_remeasures,
    remeasures,
)
from tapedown.work.review.reviewing import OwnReading, Reviewed, accept, looks_of, reviewed, set_quality
from tapedown.work.review.signing import Scope, sign_off
from tapedown.work.rounds.planning import make_round
from tapedown.work.wells.files import well_file
from tapedown.work.wells.history import Row, history
from tests.work.conftest import SteppingClock


def measure(network: OpenNetwork, author: Author, code: str, when: str, *depths: str, by: str = "") -> Entry:
    """A visit with one electric tape reading set; gives the reading's entry."""
    sets = [{"method": "electric tape", "tape": "ET-006", "readings": list(depths)}]
    given = {"well": code, "when": when, "people": [by or author.by], "seen": {"quiet": True}, "readings": sets}
    return write_visit(network, read_visit(network, given), author._replace(by=by or author.by))[1]


def row_of(network: OpenNetwork, code: str, entry: Entry) -> Row:
    return next(row for row in history(network, code).rows if row.entry.id == entry.id)


def state(network: OpenNetwork, code: str, entry: Entry) -> Reviewed:
    file = well_file(network, code)
    return reviewed(row_of(network, code, entry), file, looks_of(file), network)


def queue(network: OpenNetwork, clock: SteppingClock) -> Queue:
    return ReviewQueue().at(network_of(network.record), clock())


def take_two(network: OpenNetwork, author: Author) -> OpenNetwork:
    """The network from now on asks for two people."""
    change_settings(network, {"review_people": "2"}, author, "two people look")
    return network_of(network.record)


def test_one_person_is_enough_unless_the_network_asks_for_two(network: OpenNetwork, author: Author) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T09:00", "15.02", "15.02")
    accept(network, well_file(network, "MF-07"), row_of(network, "MF-07", read), "", author._replace(by="M. Teasel"))
    assert state(network, "MF-07", read).missing == 0
    two = take_two(network, author)
    assert state(two, "MF-07", read).missing == 1
    assert "not R. Alder nor M. Teasel" in state(two, "MF-07", read).words


def test_the_reader_and_a_second_look_by_the_same_name_do_not_count(network: OpenNetwork, author: Author) -> None:
    read, two = measure(network, author, "MF-07", "2026-01-01T09:00", "15.02", by="J. Sedge"), take_two(network, author)
    with pytest.raises(OwnReading):
        accept(two, well_file(two, "MF-07"), row_of(two, "MF-07", read), "", author._replace(by="j. sedge"))
    set_quality(two, "MF-07", read, "poor", "kinked cable", author._replace(by="J. Sedge"))
    set_quality(two, "MF-07", read, "good", "cable was straight", author._replace(by="M. Teasel"))
    set_quality(two, "MF-07", read, "good", "looked again", author._replace(by="M.  TEASEL"))
    found = state(two, "MF-07", read)
    assert (found.people, found.missing) == (("M.  TEASEL",), 1)
    accept(two, well_file(two, "MF-07"), row_of(two, "MF-07", read), "", author)
    assert state(two, "MF-07", read).missing == 0


def test_a_corrected_reading_needs_a_look_of_its_own(network: OpenNetwork, author: Author) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T09:00", "15.02")
    set_quality(network, "MF-07", read, "good", "sheet seen", author._replace(by="M. Teasel"))
    mended = correct(network, read.id, {"readings": ["15.12"]}, "typed wrong", author)
    assert state(network, "MF-07", mended.entry).missing == 1


def test_a_struck_review_no_longer_counts(network: OpenNetwork, author: Author) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T09:00", "15.02")
    said = set_quality(network, "MF-07", read, "good", "sheet seen", author._replace(by="M. Teasel"))
    strike(network, said.id, "that was another sheet", author)
    assert state(network, "MF-07", read).missing == 1


def test_a_quality_without_a_reason_is_not_entered(network: OpenNetwork, author: Author) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T09:00", "15.02")
    with pytest.raises(WrittenWrong):
        set_quality(network, "MF-07", read, "good", "", author)


def test_the_queue_begins_with_what_is_likely_wrong_and_moves_much(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    for month in (1, 2, 3, 5, 6):
        measure(network, author, "MF-07", f"2025-{month:02d}-11T09:00", "15.02", "15.02")
    odd = measure(network, author, "MF-07", "2025-04-11T09:00", "13.02", "13.42")
    found = queue(network, clock)
    assert found.items[0].row.entry.id == odd.id
    assert found.items[0].worth.moves_m == pytest.approx(1.8 * 0.3048, abs=1e-3)
    assert len(found.items) == 6


def test_surprise_enters_as_a_number(network: OpenNetwork, author: Author, clock: SteppingClock) -> None:
    first, second = (measure(network, author, "MF-07", f"2025-0{m}-11T09:00", "15.02", "15.02") for m in (1, 2))
    blunder = {first.id: 0.9}
    found = ReviewQueue(lambda _network, _told, _shelf: blunder).at(network, clock())
    assert found.items[0].row.entry.id == first.id
    assert found.items[0].worth.chance > 0.9
    assert ReviewQueue().at(network, clock()).items[0].row.entry.id == second.id


def test_what_is_reviewed_signed_or_struck_leaves_the_queue(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    one, two, three = (measure(network, author, "MF-07", f"2025-0{m}-11T09:00", "15.02", "15.02") for m in (1, 2, 3))
    kept = ReviewQueue()
    assert len(kept.at(network, clock()).items) == 3
    set_quality(network, "MF-07", one, "good", "sheet seen", author._replace(by="M. Teasel"))
    strike(network, two.id, "another well", author)
    assert [item.row.entry.id for item in kept.at(network, clock()).items] == [three.id]
    sign_off(network, "spring", "checked", Scope(), author, unreviewed="small network")
    assert kept.at(network, clock()).items == ()


def test_of_a_long_record_the_newest_are_listed_and_the_older_counted(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    for number in range(30):
        measure(network, author, "MF-07", f"20{number // 12 + 20}-{number % 12 + 1:02d}-11T09:00", "15.02", "15.02")
    found = queue(network, clock)
    assert (len(found.items), found.older) == (24, 6)


def test_a_request_stays_open_until_the_well_is_measured_after_it(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T05:00", "15.02")
    ask_again(network, "MF-07", read.id, "one reading only", author)
    with pytest.raises(AskedAlready):
        ask_again(network, "MF-07", read.id, "again", author)
    measure(network, author, "MF-07", "2026-01-01T06:00", "15.02")
    assert list(open_remeasures(network)) == ["MF-07"]
    assert queue(network, clock).items[0].again is not None or queue(network, clock).items[1].again is not None
    after = measure(network, author, "MF-07", "2026-01-03T06:00", "15.03")
    assert open_remeasures(network) == {}
    assert [again.answer for again in remeasures(network)] == [after]


def test_a_request_follows_a_correction_and_ends_with_a_withdrawal(network: OpenNetwork, author: Author) -> None:
    read = measure(network, author, "MF-07", "2026-01-01T05:00", "15.02")
    ask_again(network, "MF-07", read.id, "one reading only", author)
    mended = correct(network, read.id, {"readings": ["15.12"]}, "typed wrong", author).entry
    assert open_remeasures(network)["MF-07"][0].original == mended
    strike(network, mended.id, "another well", author)
    assert open_remeasures(network) == {}


def test_the_pack_says_to_measure_again_and_hides_what_was_read(network: OpenNetwork, author: Author) -> None:
    enter_fact(network, "well", "MF-08", {"name": "Depot"}, author)
    for code in ("MF-07", "MF-08"):
        for month in (1, 2, 3):
            read = measure(network, author, code, f"2025-0{month}-11T09:00", "15.02", "15.02")
    ask_again(network, "MF-08", read.id, "looks odd beside the others", author)
    planned = make_round(network, {"name": "May", "day": "2026-05-01", "wells": ["MF-07", "MF-08"]}, author)
    plain, blind = pack(network, planned.id)["wells"]
    assert plain["again"] is None
    assert plain["last"]
    assert plain["expected"]["level"]
    assert blind["again"] == {"why": "looks odd beside the others"}
    assert blind["last"] == []
    assert blind["expected"] == {"level": None, "bottom": None}
    assert "15.02" not in str(blind)


@pytest.fixture
def rounds_made(tmp_path: Path, author: Author) -> Iterator[tuple[OpenNetwork, str]]:
    """Twenty wells, each read on a round."""
    facts = {"name": "Marrow Fen", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
    found = start_network(tmp_path / "many", facts, author)
    codes = [f"MF-{number:02d}" for number in range(1, 21)]
    for code in codes:
        enter_fact(found, "well", code, {"name": code}, author)
        height = {"name": "MP-1", "height": "1.00", "side": "above", "description": "notch"}
        enter_fact(found, "measuring point", code, height, author, measured_at="2015-05-01")
    planned = make_round(found, {"name": "January", "day": "2026-01-01", "wells": codes}, author)
    yield found, planned.id
    found.record.close()


def read_all(network: OpenNetwork, author: Author, day: str = "2026-01-01") -> None:
    for number in range(1, 21):
        measure(network, author, f"MF-{number:02d}", f"{day}T06:{number:02d}", "15.02", "15.02", by="J. Sedge")


def test_the_draw_is_the_stated_share_and_anybody_can_repeat_it(
    rounds_made: tuple[OpenNetwork, str], author: Author
) -> None:
    network, planned = rounds_made
    with pytest.raises(NoWellRead):
        draw(network, planned, author)
    read_all(network, author)
    drawing, *requests = draw(network, planned, author)
    said: dict[str, Any] = drawing.data
    assert len(said["wells"]) == 2  # 6 % of 20, rounded up
    assert drawn(said["key"], said["candidates"], 0.06) == said["wells"]
    assert [r.about for r in requests] == [f"well/{code}" for code in said["wells"]]
    assert {r.data["drawing"] for r in requests} == {drawing.id}
    with pytest.raises(DrawnAlready):
        draw(network, planned, author)


def test_the_draw_favours_no_well() -> None:
    codes = [f"MF-{number:02d}" for number in range(1, 21)]
    times = dict.fromkeys(codes, 0)
    for number in range(2000):
        for code in drawn(f"round-{number}", codes, 0.05):
            times[code] += 1
    assert all(60 < count < 140 for count in times.values())  # 100 expected, four standard deviations


def test_repeat_error_comes_from_drawn_wells_only_and_late_ones_are_left_out(
    rounds_made: tuple[OpenNetwork, str], author: Author
) -> None:
    network, planned = rounds_made
    read_all(network, author)
    change_settings(network, {"blind_share": "0.1"}, author, "more of them")
    network = network_of(network.record)
    wells = draw(network, planned, author)[0].data["wells"]
    asked = next(code for code in (f"MF-{n:02d}" for n in range(1, 21)) if code not in wells)
    odd = entries(network.record, kinds=["readings"], about=f"well/{asked}")[0].entry
    ask_again(network, asked, odd.id, "odd", author)
    measure(network, author, asked, "2026-01-03T09:00", "19.99", "19.99")
    measure(network, author, wells[0], "2026-01-03T09:00", "15.05", "15.05")
    measure(network, author, wells[1], "2026-03-05T09:00", "16.05", "16.05")
    found = blind_repeats(network)
    assert found.error.n == 1
    assert found.error.mean_m == pytest.approx(0.03 * 0.3048, abs=1e-9)
    assert [one.late for one in sorted(found.repeats, key=lambda r: r.second.entry.measured_at)] == [False, True]
    assert found.waiting == ()


def test_the_claim_for_a_repeat_leaves_out_what_both_readings_share(
    rounds_made: tuple[OpenNetwork, str], author: Author
) -> None:
    network, planned = rounds_made
    read_all(network, author)
    wells = draw(network, planned, author)[0].data["wells"]
    measure(network, author, wells[0], "2026-01-03T09:00", "15.05", "15.05")
    (one,) = blind_repeats(network).repeats
    assert one.first.value is not None
    assert one.first.value.main is not None
    independent = (one.first.value.main.u_m**2 * 2) ** 0.5
    assert 0 < one.u_m < 0.95 * independent


def test_a_comparison_becomes_a_calibration_once(network: OpenNetwork, author: Author) -> None:
    for serial, kind in (("ST-014", "steel tape"), ("ET-006", "electric tape")):
        enter_fact(network, "gear", serial, {"type": kind}, author)
    pairs = [{"reference": r, "shown": s} for r, s in (("20.00", "20.02"), ("60.00", "60.05"), ("120.00", "120.10"))]
    given = {"reference": "ST-014", "pairs": pairs}
    enter_fact(network, "side by side", "ET-006", given, author, measured_at="2026-01-10")
    (found,) = comparisons(network, "ET-006")
    assert gear_shelf(network).calibrations == {}
    made = calibrate_by(network, found, author)
    shelf = gear_shelf(network)
    assert made.measured_at == "2026-01-10"
    assert shelf.calibrations["ET-006"][0].calibration.apply == "straight line"
    assert shelf.calibrations["ET-006"][0].calibration.marks[2].true.si == pytest.approx(120 * 0.3048)
    with pytest.raises(UsedAlready):
        calibrate_by(network, find_comparison(network, "ET-006", "last"), author)
    with pytest.raises(NoComparison):
        find_comparison(network, "ST-014", "last")
