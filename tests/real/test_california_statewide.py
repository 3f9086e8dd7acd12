"""A state's wells, screens and elevations: a false Z, exact duplicates, zero depths, screens upside down."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest

from tapedown.record import entries
from tapedown.work.imports.tables import ImportReport
from tapedown.work.networks import OpenNetwork
from tests.real.conftest import new_network, rows_of, take_in

pytestmark = [pytest.mark.real, pytest.mark.slow]

STATIONS, SCREENS = "california-statewide/stations.csv.zip", "california-statewide/perforations.csv"
LEVELS = "california-statewide/gwl_sacramento.csv"


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    yield from new_network(tmp_path_factory.mktemp("statewide"), "America/Los_Angeles")


@pytest.fixture(scope="module")
def stations(network: OpenNetwork) -> ImportReport:
    return take_in(network, STATIONS, "statewide-wells")


@pytest.fixture(scope="module")
def screens(network: OpenNetwork, stations: ImportReport) -> ImportReport:
    assert stations.lines
    return take_in(network, SCREENS, "statewide-screens")


@pytest.fixture(scope="module")
def levels(network: OpenNetwork, stations: ImportReport) -> ImportReport:
    assert stations.lines
    return take_in(network, LEVELS, "statewide-levels")


def test_every_station_is_accounted_for_and_a_code_used_twice_is_told(stations: ImportReport) -> None:
    rows = rows_of(STATIONS)
    codes = Counter(row["SITE_CODE"] for row in rows)
    totals = stations.totals
    assert len(stations.lines) == sum(totals.values()) == len(rows)
    assert totals["entered"] == len(codes)
    assert totals["already there"] + totals["set aside"] == len(rows) - len(codes)
    assert stations.written["well"] == len(codes)


def test_a_depth_of_zero_is_no_depth(stations: ImportReport) -> None:
    first = {row["SITE_CODE"]: row["WELL_DEPTH"] for row in reversed(rows_of(STATIONS))}
    assert any(depth and float(depth) == 0 for depth in first.values())
    assert stations.written["construction"] == sum(bool(depth) and float(depth) > 0 for depth in first.values())


def test_every_screen_is_accounted_for_and_joins_its_well(screens: ImportReport, network: OpenNetwork) -> None:
    rows = rows_of(SCREENS)
    distinct = {(row["SITE_CODE"], float(row["TOP_PRF"]), float(row["BOT_PRF"])) for row in rows}
    assert len(screens.lines) == sum(screens.totals.values()) == len(rows)
    assert screens.totals["entered"] == len(distinct)
    assert screens.written == {"construction": len({row["SITE_CODE"] for row in rows})}
    held = entries(network.record, kinds=["construction"])
    assert sum(len(one.entry.data.get("screens", ())) for one in held) == len(distinct)


def test_upside_down_screens_and_screens_below_the_well_are_found(screens: ImportReport) -> None:
    rows = rows_of(SCREENS)
    depth = {row["SITE_CODE"]: float(row["WELL_DEPTH"] or 0) for row in reversed(rows_of(STATIONS))}
    found = Counter(one.check for line in screens.lines for one in line.findings)
    assert found["screen-upside-down"] == sum(float(row["TOP_PRF"]) > float(row["BOT_PRF"]) for row in rows) > 0
    below = [
        row
        for row in rows
        if depth[row["SITE_CODE"]] > 0
        and max(float(row["TOP_PRF"]), float(row["BOT_PRF"])) > depth[row["SITE_CODE"]] + 1
    ]
    assert 0 < len(below) <= found["screen-below-well"] <= len(below) + 5


def test_every_elevation_is_accounted_for(levels: ImportReport) -> None:
    rows = rows_of(LEVELS)
    blank = sum(row["WSE"] == "NA" for row in rows)
    numbers = [tuple(row.values()) for row in rows if row["WSE"] != "NA"]
    repeated = len(numbers) - len(set(numbers))
    assert repeated > 1000
    assert levels.totals == {
        "entered": len(rows) - blank - repeated,
        "already there": repeated,
        "set aside": blank,
    }
    assert all(line.same_as < line.number for line in levels.lines if line.outcome == "already there")


def test_the_false_zone_is_not_believed(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    told = {row["MSMT_DATE"] for row in rows_of(LEVELS) if row["WSE"] != "NA"}
    kept = {held.entry.measured_at for held in entries(network.record, kinds=["readings"])}
    midnight = "T00:00:00Z"
    assert kept == {
        text.removesuffix(midnight) if text.endswith(midnight) else text.replace("Z", "-08:00") for text in told
    }


def test_elevations_carry_their_vertical_datum(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    reads = [held.entry.data["read"] for held in entries(network.record, kinds=["readings"])]
    assert {(read["reference"], read["how"]) for read in reads} == {("elevation", "elevation in NAVD88")}


def test_a_second_import_enters_nothing(
    screens: ImportReport, levels: ImportReport, stations: ImportReport, network: OpenNetwork
) -> None:
    for first, path, mapping in (
        (stations, STATIONS, "statewide-wells"),
        (screens, SCREENS, "statewide-screens"),
        (levels, LEVELS, "statewide-levels"),
    ):
        again = take_in(network, path, mapping)
        assert again.totals["entered"] == 0
        assert again.totals["set aside"] == first.totals["set aside"]
        assert len(again.lines) == len(first.lines)
