"""A valley's tape readings at the point and at the water: changing points, blanks with a reason, duplicates."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest

from tapedown.record import entries
from tapedown.values.results import BELOW_LAND
from tapedown.values.units import FOOT_M
from tapedown.work.imports.tables import ImportReport, report_lines, report_to_json
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells.history import history
from tests.real.conftest import new_network, rows_of, take_in

pytestmark = pytest.mark.real

STAMP = "20190613134316"
WELLS, LEVELS = f"california-valley/GST_{STAMP}.csv", f"california-valley/GWL_{STAMP}.csv"
SCREENS = f"california-valley/PERF_{STAMP}.csv"


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    yield from new_network(tmp_path_factory.mktemp("valley"), "America/Los_Angeles")


@pytest.fixture(scope="module")
def levels(network: OpenNetwork) -> ImportReport:
    wells = take_in(network, WELLS, "valley-wells")
    assert wells.totals["entered"] == len(rows_of(WELLS))
    return take_in(network, LEVELS, "valley-levels")


def test_every_line_is_accounted_for_as_reading_visit_or_duplicate(levels: ImportReport) -> None:
    rows = rows_of(LEVELS)
    assert [line.number for line in levels.lines] == list(range(2, len(rows) + 2))
    kept = [tuple(value for name, value in row.items() if name != "comments") for row in rows]
    repeated = sum(number - 1 for number in Counter(kept).values())
    blank = sum(not row["rp_reading"] for row in rows)
    assert levels.totals == {"entered": len(rows) - repeated, "already there": repeated, "set aside": 0}
    assert levels.written["readings"] + levels.written["visit"] == len(rows) - repeated
    assert blank - repeated <= levels.written["visit"] <= blank


def test_a_blank_with_a_reason_is_a_visit_and_never_a_number(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    visits = [held.entry.data for held in entries(network.record, kinds=["visit"])]
    assert visits
    assert all(visit["seen"]["no_reading"].startswith("no reading") for visit in visits)


def test_points_follow_every_change_of_the_two_elevations(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    heights: dict[str, list[float]] = {}
    for row in sorted(rows_of(LEVELS), key=lambda row: row["measurement_date"]):
        height = round(float(row["rp_elevation"]) - float(row["gs_elevation"]), 3)
        known = heights.setdefault(row["site_code"], [])
        if known[-1:] != [height]:
            known.append(height)
    for code, expected in heights.items():
        points = entries(network.record, kinds=["measuring point"], about=f"well/{code}")
        signed = [
            float(held.entry.data["height"].split()[0]) * (-1 if held.entry.data["side"] == "below" else 1)
            for held in sorted(points, key=lambda held: held.entry.measured_at)
        ]
        assert signed == pytest.approx(expected)


def test_depths_are_the_difference_of_the_two_tape_values_less_the_height_then(
    levels: ImportReport, network: OpenNetwork
) -> None:
    assert levels.lines
    told: dict[tuple[str, str], list[float]] = {}
    for row in rows_of(LEVELS):
        if row["rp_reading"]:
            tape = float(row["rp_reading"]) - float(row["ws_reading"])
            height = float(row["rp_elevation"]) - float(row["gs_elevation"])
            told.setdefault((row["site_code"], row["measurement_date"][:10]), []).append(tape - height)
    compared = 0
    for code in sorted({code for code, _ in told}):
        for worked in history(network, code).rows:
            if worked.value is None:
                continue
            below = worked.value.result(BELOW_LAND)
            assert below is not None
            expected = told[code, worked.entry.measured_at[:10]]
            if len(expected) == 1:
                assert below.value_m / FOOT_M == pytest.approx(expected[0], abs=0.0005)
                compared += 1
    assert compared > 2900


def test_comments_that_were_not_asked_for_stay_out(levels: ImportReport, network: OpenNetwork) -> None:
    comments = {row["comments"].strip() for row in rows_of(LEVELS)} - {""}
    assert comments
    bodies = "\n".join(held.entry.body for held in entries(network.record))
    reports = "\n".join(report_lines(levels)) + str(report_to_json(levels))
    leaked = sum(len(comment) > 8 and (comment in bodies or comment in reports) for comment in comments)
    assert leaked == 0


def test_screens_join_the_depths_that_are_known(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    report = take_in(network, SCREENS, "valley-screens")
    rows = rows_of(SCREENS)
    assert report.totals["entered"] == len(rows)
    depth = {row["site_code"]: row["total_depth_ft"] for row in rows_of(WELLS)}
    for code in {row["site_code"] for row in rows}:
        (held,) = entries(network.record, kinds=["construction"], about=f"well/{code}")
        screens = Counter((s["top"], s["bottom"]) for s in held.entry.data["screens"])
        assert screens == Counter(
            (f"{row['perf_top_ft']} ft", f"{row['perf_bottom_ft']} ft") for row in rows if row["site_code"] == code
        )
        assert held.entry.data.get("completed_depth", "").split(" ")[0] == depth[code]


def test_a_second_import_of_all_three_enters_nothing(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    take_in(network, SCREENS, "valley-screens")
    for path, mapping in ((WELLS, "valley-wells"), (LEVELS, "valley-levels"), (SCREENS, "valley-screens")):
        again = take_in(network, path, mapping)
        assert again.totals == {"entered": 0, "already there": len(again.lines), "set aside": 0}
