"""Entering visits and looking at what they come to, through the use cases on a real record."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from tapedown.record import entries, verify
from tapedown.values.units import FOOT_M
from tapedown.work.authorship import Author
from tapedown.work.entry.documents import NotKept, attach
from tapedown.work.entry.entering import correct, enter_fact, read_visit, strike, write_visit
from tapedown.work.networks import OpenNetwork, change_settings, open_network, place_of_record
from tapedown.work.refusals import (
    NoNetwork,
    NoSuchReading,
    NoSuchWell,
    ReasonMissing,
    SeveralReadings,
    WrittenWrong,
)
from tapedown.work.wells.history import find_row, history
from tapedown.work.wells.standing import wells_now
from tests.work.conftest import SteppingClock

SOUNDING: Mapping[str, Any] = {"method": "weighted tape", "weight_interval": "1.20", "readings": ["84.30", "84.30"]}


def visit(when: str = "2026-05-14 10:20", *sets: Mapping[str, Any], **fields: Any) -> dict[str, Any]:
    return {"well": "MF-07", "when": when, "seen": {"quiet": True}, "readings": list(sets), **fields}


def depth_ft(network: OpenNetwork, which: str = "last") -> float:
    value = find_row(history(network, "MF-07"), which).value
    assert value is not None
    assert value.main is not None
    return float(value.main.value_m / FOOT_M)


def test_a_visit_is_worked_out_as_the_handbook_does(network: OpenNetwork, author: Author) -> None:
    # USGS TM 1-A1 GWPD 11 p. 96 (read): 84.30 + 1.20 - 3.40 = 82.10 ft
    write_visit(network, read_visit(network, visit("2026-05-14 10:20", SOUNDING)), author)
    assert depth_ft(network) == pytest.approx(82.10, abs=1e-9)


def test_the_body_keeps_the_digits_as_written_with_the_unit(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14 10:20", SOUNDING)), author)
    assert written[1].data["read"]["readings"] == ["84.30 ft", "84.30 ft"]


def test_a_local_time_is_kept_with_the_offset_its_zone_had(network: OpenNetwork) -> None:
    assert read_visit(network, visit("2026-05-14 10:20")).measured_at == "2026-05-14T10:20-04:00"
    assert read_visit(network, visit("2026-01-14 10:20")).measured_at == "2026-01-14T10:20-05:00"
    assert read_visit(network, visit("2026-01-14")).measured_at == "2026-01-14"


@pytest.mark.parametrize("when", ["2026-11-01 01:30", "2026-03-08 02:30"])
def test_a_time_that_happened_twice_or_never_is_asked_about(network: OpenNetwork, when: str) -> None:
    with pytest.raises(WrittenWrong, match=r"happened twice|was skipped"):
        read_visit(network, visit(when))


def test_every_mistake_in_a_visit_is_named_with_its_place_and_nothing_is_written(network: OpenNetwork) -> None:
    before = len(entries(network.record))
    wrong = visit("yesterday", {**SOUNDING, "readings": ["84.x"]}, {"method": "guess"}, colour="blue")
    wrong["seen"] = {"water": ["damp"]}
    with pytest.raises(WrittenWrong) as caught:
        read_visit(network, wrong)
    places = {problem.place for problem in caught.value.problems}
    assert {"when", "colour", "readings[1].readings[1]", "readings[2].method", "seen.water[1]"} <= places
    assert all(problem.mend for problem in caught.value.problems)
    assert len(entries(network.record)) == before


def test_words_of_an_earlier_version_are_not_taken_now_and_the_facts_are_offered(
    network: OpenNetwork,
) -> None:
    with pytest.raises(WrittenWrong) as caught:
        read_visit(network, {**visit("2026-05-14"), "conditions": ["pumping"], "depth_reached": "61.2"})
    problems = {problem.place: problem.mend for problem in caught.value.problems}
    assert problems["conditions"] == 'write seen = { pump = "running", depth_reached = "61.2" }'
    assert "depth_reached" in problems


def test_a_well_spelt_nearly_right_is_offered(network: OpenNetwork) -> None:
    with pytest.raises(NoSuchWell) as caught:
        history(network, "MF-70")
    assert "MF-07" in caught.value.hint


def test_a_changed_measuring_point_counts_from_its_day_on(network: OpenNetwork, author: Author) -> None:
    for when in ("2026-05-13", "2026-05-15"):
        write_visit(network, read_visit(network, visit(when, SOUNDING)), author)
    cut = {"name": "MP-2", "height": "2.78", "side": "above", "description": "new cut", "why": "cut down"}
    enter_fact(network, "measuring point", "MF-07", cut, author, measured_at="2026-05-14")
    assert depth_ft(network, "2026-05-13") == pytest.approx(82.10)
    assert depth_ft(network, "2026-05-15") == pytest.approx(82.72)


def test_a_late_note_of_a_cut_down_casing_changes_the_past_only_from_when_it_was_known(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    write_visit(network, read_visit(network, visit("2026-05-15", SOUNDING)), author)
    known = author.draft("remark", "x", {}).written_at
    cut = {"name": "MP-2", "height": "2.78", "side": "above", "description": "new cut"}
    enter_fact(network, "measuring point", "MF-07", cut, author, measured_at="2026-05-14")
    assert depth_ft(network) == pytest.approx(82.72)
    assert depth_ft(network._replace(as_of=known)) == pytest.approx(82.10)


def test_a_conflicting_number_and_word_for_the_point_is_refused(network: OpenNetwork, author: Author) -> None:
    point = {"name": "MP-1", "height": "-1.2", "side": "above", "description": "rim"}
    with pytest.raises(WrittenWrong, match="says one thing"):
        enter_fact(network, "measuring point", "MF-07", point, author, measured_at="2026-01-01")


@pytest.mark.parametrize(
    ("day", "message"),
    [
        ("2026-02-30", "2026-02-30"),
        ("06/13/2026", "06/13/2026"),
        ("1066-10-14", "lies before 1800"),
        ("", "needs the day"),
    ],
)
def test_a_fact_of_a_day_that_cannot_be_is_told_by_that_day(
    network: OpenNetwork, author: Author, day: str, message: str
) -> None:
    point = {"name": "MP-2", "height": "3.40", "side": "above", "description": "rim"}
    with pytest.raises(WrittenWrong) as refused:
        enter_fact(network, "measuring point", "MF-07", point, author, measured_at=day)
    (problem,) = refused.value.problems
    assert problem.place == "when"
    assert message in problem.message


def test_a_measuring_point_without_a_day_is_refused(network: OpenNetwork, author: Author) -> None:
    point = {"name": "MP-1", "height": "1.2", "side": "above", "description": "rim"}
    with pytest.raises(WrittenWrong, match="the day it holds from"):
        enter_fact(network, "measuring point", "MF-07", point, author)


def test_a_strike_takes_the_reading_out_and_keeps_it_readable(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    known = author.draft("remark", "x", {}).written_at
    strike(network, written[1].id, "wrong well", author)
    rows = history(network, "MF-07").rows
    assert [row.struck_by is not None for row in rows if row.what == "weighted tape"] == [True]
    assert depth_ft(network._replace(as_of=known)) == pytest.approx(82.10)
    assert verify(network.record).sound


def test_striking_a_visit_strikes_its_readings(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING, SOUNDING)), author)
    assert len(strike(network, written[0].id, "typed twice", author)) == 3


def test_a_strike_without_a_reason_is_refused(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    with pytest.raises(ReasonMissing):
        strike(network, written[1].id, "  ", author)


def test_a_correction_changes_what_is_named_and_keeps_the_rest(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    entered = correct(network, written[1].id, {"readings": ["81.30", "81.30"]}, "read 84 for 81", author)
    assert entered.entry.strikes == written[1].id
    assert entered.entry.data["read"]["weight_interval"] == "1.20 ft"
    assert entered.entry.data["visit"] == written[0].id
    assert depth_ft(network) == pytest.approx(79.10)


def test_a_correction_that_cannot_be_read_writes_nothing(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    with pytest.raises(WrittenWrong):
        correct(network, written[1].id, {"readings": ["deep"]}, "typo", author)
    assert depth_ft(network) == pytest.approx(82.10)


def test_a_wrong_measuring_point_can_be_corrected_too(network: OpenNetwork, author: Author) -> None:
    write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    point = entries(network.record, kinds=["measuring point"])[0].entry
    correct(network, point.id, {"height": "3.50"}, "read the rule wrongly", author)
    assert depth_ft(network) == pytest.approx(82.00)


def test_a_dry_well_shows_how_deep_the_tape_went_and_no_level(network: OpenNetwork, author: Author) -> None:
    given = visit("2026-05-14", seen={"water": ["not reached"], "depth_reached": "85.40"})
    write_visit(network, read_visit(network, given), author)
    row = find_row(history(network, "MF-07"), "last")
    assert row.value is not None
    assert row.value.use == "deeper than"
    assert row.quality == "missing"


def test_a_visit_without_a_reading_keeps_its_reason(network: OpenNetwork, author: Author) -> None:
    write_visit(
        network,
        read_visit(network, visit("2026-05-14", seen={"no_reading": "asked to stay away"}, remarks="bull")),
        author,
    )
    row = history(network, "MF-07").rows[-1]
    assert (row.value, row.noted, row.remarks) == (None, ["no reading: asked to stay away"], "bull")


def test_a_review_gives_the_quality(network: OpenNetwork, author: Author) -> None:
    written = write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING)), author)
    given = {"entry": written[1].id, "quality": "suspect", "why": "neighbour disagrees"}
    enter_fact(network, "review", "MF-07", given, author)
    assert find_row(history(network, "MF-07"), "last").quality == "suspect"


def test_two_sets_on_one_day_must_be_told_apart(network: OpenNetwork, author: Author) -> None:
    level = {"method": "electric tape", "readings": ["13.71", "13.71"]}
    write_visit(network, read_visit(network, visit("2026-05-14", SOUNDING, level)), author)
    told = history(network, "MF-07")
    with pytest.raises(SeveralReadings):
        find_row(told, "2026-05-14")
    assert find_row(told, "2026-05-14 electric tape").what == "electric tape"
    with pytest.raises(NoSuchReading):
        find_row(told, "2026-05-15")


def test_the_state_of_the_bottom_follows_from_the_soundings(network: OpenNetwork, author: Author) -> None:
    for year, tape in ((2018, "83.30"), (2021, "82.60"), (2024, "81.90")):
        given = visit(f"{year}-05-14", {**SOUNDING, "readings": [tape, tape]})
        write_visit(network, read_visit(network, given), author)
    bottom = history(network, "MF-07").bottom
    assert bottom is not None
    assert bottom.fill is not None
    assert bottom.rate is not None
    assert bottom.real
    assert bottom.fill.value_m / FOOT_M == pytest.approx(82.1 - 79.7)
    assert bottom.rate.value_m / FOOT_M == pytest.approx(1.4 / 6, abs=0.001)


def test_settings_change_by_a_new_entry_and_hold_from_then_on(
    network: OpenNetwork, author: Author, clock: SteppingClock
) -> None:
    write_visit(network, read_visit(network, visit("2026-05-14", {**SOUNDING, "readings": ["84.30", "84.36"]})), author)
    before = author.draft("remark", "x", {}).written_at
    change_settings(network, {"agree_within": "0.10 ft"}, author, "rough bottom")
    place = place_of_record(network.record.where)
    with open_network(place).record as record:
        again = open_network(place)
        assert find_row(history(again, "MF-07"), "last").quality == "good"
        assert record is not again.record
    earlier = open_network(place, as_of=before)
    assert find_row(history(earlier, "MF-07"), "last").quality == "suspect"


def test_an_unknown_setting_is_refused(network: OpenNetwork, author: Author) -> None:
    with pytest.raises(WrittenWrong, match="no setting 'agree_withn'"):
        change_settings(network, {"agree_withn": "0.1 ft"}, author, "typo")


def test_wells_now_counts_what_wants_a_look(network: OpenNetwork, author: Author) -> None:
    given = visit("2026-05-14", {**SOUNDING, "readings": ["84.30", "84.90"]})
    write_visit(network, read_visit(network, given), author)
    now = wells_now(network)[0]
    assert now.code == "MF-07"
    assert "repeats-disagree" in [found.check for found in now.to_look_at]


def test_photos_are_kept_by_what_they_are(network: OpenNetwork, author: Author) -> None:
    kept = attach(network, "MF-07", b"\x89PNG\r\n\x1a\n...", "mark.jpg", "the mark", author)
    assert kept.data["media_type"] == "image/png"
    with pytest.raises(NotKept, match="neither JPEG"):
        attach(network, "MF-07", b"\x7fELF\x02\x01\xff\xfe", "mark.jpg", "", author)


def test_no_network_is_told_with_the_command_that_starts_one(tmp_path: Any) -> None:
    with pytest.raises(NoNetwork) as caught:
        open_network(tmp_path / "nowhere")
    assert "tapedown start" in caught.value.hint
