"""What the office is shown by: pictures, sources, what would change a value, points, the remembered overview."""

from __future__ import annotations

from typing import Any

import pytest

from tapedown.reports.well_picture import BOTTOM, DEEPER, PUMPING, STATIC
from tapedown.work.authorship import Author
from tapedown.work.entry.entering import correct, enter_fact, read_visit, strike, write_visit
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.printing.pictures import day_at, well_picture
from tapedown.work.wells.history import find_row, history
from tapedown.work.wells.overview import Overview
from tapedown.work.wells.points import level_rows, point_rows
from tapedown.work.wells.sources import levers, sources
from tapedown.work.wells.standing import WellNow, well_now, wells_now

LEVEL = {"method": "electric tape", "tape": "ET-006", "readings": ["15.02", "15.03"]}
SOUNDING = {"method": "weighted tape", "weight_interval": "1.20", "readings": ["84.30", "84.30"]}


def visit(network: OpenNetwork, author: Author, when: str, *readings: object, **more: object) -> list[str]:
    given = {"well": "MF-07", "when": when, "seen": {"quiet": True}, "readings": list(readings), **more}
    return [entry.id for entry in write_visit(network, read_visit(network, given), author)]


def test_a_picture_tells_levels_bottoms_pumping_and_dry_apart(network: OpenNetwork, author: Author) -> None:
    visit(network, author, "2024-05-14 10:20", LEVEL, SOUNDING)
    visit(network, author, "2024-06-14 10:20", LEVEL, seen={"pump": "running"})
    visit(network, author, "2024-07-14", seen={"water": ["not reached"], "depth_reached": "85.0"})
    picture = well_picture(history(network, "MF-07"), "ft", links="/x/")
    assert [mark.kind for mark in picture.marks] == [STATIC, BOTTOM, PUMPING, DEEPER]
    assert picture.marks[1].depth_m == pytest.approx(82.10 * 0.3048)
    assert picture.marks[0].on_d == pytest.approx(day_at("2024-05-14T10:20"))
    assert picture.completed_m == pytest.approx(82.1 * 0.3048)
    assert picture.points[0].height_m == pytest.approx(3.4 * 0.3048)


def test_struck_readings_are_drawn_only_when_asked_for(network: OpenNetwork, author: Author) -> None:
    struck = visit(network, author, "2024-05-14 10:20", LEVEL)[1]
    strike(network, struck, "wrong well", author)
    told = history(network, "MF-07")
    assert well_picture(told, "ft").marks == ()
    assert [mark.struck for mark in well_picture(told, "ft", struck=True).marks] == [True]


def test_a_value_names_every_entry_it_rests_on(network: OpenNetwork, author: Author) -> None:
    tape = enter_fact(network, "gear", "ET-006", {"type": "electric tape"}, author).entry
    marks = [
        {"shown": "20.01", "true": "20.00"},
        {"shown": "60.04", "true": "60.00"},
        {"shown": "99.0", "true": "98.9"},
    ]
    given = {"against": "ST-014", "apply": "straight line", "marks": marks}
    early = enter_fact(network, "calibration", "ET-006", given, author, measured_at="2024-02-04").entry
    enter_fact(network, "calibration", "ET-006", given, author, measured_at="2025-02-04")
    first, read = visit(network, author, "2024-05-14 10:20", LEVEL)
    told = history(network, "MF-07")
    found = {s.part: s.entry.id for s in sources(network, told.file, find_row(told, "last"))}
    assert found["reading set"] == read
    assert found["visit"] == first
    assert found["gear ET-006"] == tape.id
    assert found["calibration of ET-006"] == early.id
    assert {"measuring point", "position", "construction"} <= set(found)


def test_every_change_offered_makes_the_uncertainty_what_it_says(network: OpenNetwork, author: Author) -> None:
    visit(network, author, "2024-05-14 10:20", SOUNDING)
    told = history(network, "MF-07")
    row = find_row(told, "last")
    assert row.value is not None
    assert row.value.main is not None
    offered = levers(network, told.file, row, gear_shelf(network))
    assert offered
    assert [lever.share for lever in offered] == sorted((lever.share for lever in offered), reverse=True)
    for lever in offered:
        assert lever.expanded_m == pytest.approx(row.value.main.expanded_m * (1 - lever.share))


def test_levels_carried_to_the_point_are_set_beside_its_height(network: OpenNetwork, author: Author) -> None:
    mark = {"name": "RM-1", "description": "nail", "elevation": "40.00", "vertical_datum": "NAVD88"}
    enter_fact(network, "reference mark", "MF-07", mark, author)
    check = {"mark": "RM-1", "point": "MP-1", "above_mark": "3.20"}
    enter_fact(network, "level check", "MF-07", check, author, measured_at="2025-01-01")
    enter_fact(network, "level check", "MF-07", {**check, "mark": "RM-9"}, author, measured_at="2025-02-01")
    file = history(network, "MF-07").file
    unknown, known = level_rows(file)
    assert known.difference_m == pytest.approx((43.20 - 43.24) * 0.3048)
    assert unknown.difference_m is None
    assert [row.until for row in point_rows(file)] == [""]


def test_the_overview_is_what_a_fresh_look_gives_after_every_kind_of_writing(
    network: OpenNetwork, author: Author
) -> None:
    overview = Overview()
    enter_fact(network, "well", "MF-08", {"name": "Depot"}, author)
    assert overview.glance(network).wells == wells_now(network)
    read = visit(network, author, "2024-05-14 10:20", LEVEL)[1]
    assert overview.glance(network).wells == wells_now(network)
    right = correct(network, read, {"readings": ["15.12", "15.13"]}, "read 0 for 1", author).entry
    assert overview.glance(network).wells == wells_now(network)
    strike(network, right.id, "wrong well", author)
    assert overview.glance(network).wells == wells_now(network)
    marks = [{"shown": "10.00", "true": "11.00"}]
    enter_fact(network, "gear", "ET-006", {"type": "electric tape"}, author)
    given = {"against": "ST-014", "apply": "between marks", "marks": marks}
    visit(network, author, "2024-06-14 10:20", LEVEL)
    enter_fact(network, "calibration", "ET-006", given, author, measured_at="2024-01-01")
    assert overview.glance(network).wells == wells_now(network)


def test_the_overview_works_out_again_only_the_well_that_was_written_about(
    network: OpenNetwork, author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    overview = Overview()
    worked: list[str] = []

    def noted(code: str, *rest: Any) -> WellNow:
        worked.append(code)
        return well_now(code, *rest)

    enter_fact(network, "well", "MF-08", {"name": "Depot"}, author)
    overview.glance(network)
    monkeypatch.setattr("tapedown.work.wells.overview.well_now", noted)
    overview.glance(network)
    visit(network, author, "2024-05-14 10:20", LEVEL)
    overview.glance(network)
    assert worked == ["MF-07"]
