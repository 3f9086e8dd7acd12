"""A national network's readings of a hundred years: placeholder times, pumping wells, holes deeper than wells."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator

import pytest

from tapedown.engine.methods.reported import reduce_reported
from tapedown.record import entries
from tapedown.values.results import ELEVATION
from tapedown.values.units import FOOT_M
from tapedown.work.imports.tables import ImportReport
from tapedown.work.networks import OpenNetwork, gear_shelf
from tapedown.work.wells.files import context_of, well_file
from tests.real.conftest import new_network, rows_of, take_in

pytestmark = pytest.mark.real

LEVELS, SITES = "idaho-network/levels.csv", "idaho-network/sites.csv"


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNetwork]:
    yield from new_network(tmp_path_factory.mktemp("idaho"), "America/Denver")


@pytest.fixture(scope="module")
def sites(network: OpenNetwork) -> ImportReport:
    return take_in(network, SITES, "idaho-sites")


@pytest.fixture(scope="module")
def levels(network: OpenNetwork, sites: ImportReport) -> ImportReport:
    assert sites.lines
    return take_in(network, LEVELS, "idaho-levels")


def test_every_well_is_accounted_for(sites: ImportReport) -> None:
    rows = rows_of(SITES)
    assert sites.totals == {"entered": len(rows), "already there": 0, "set aside": 0}
    built = sum(bool(row["well_depth_ft"] or row["hole_depth_ft"] or row["depth_source"]) for row in rows)
    raised = sum(bool(row["land_surface_altitude_ft"]) for row in rows)
    assert sites.written["construction"] == built
    assert raised <= sites.written["position"] <= len(rows)


def test_every_reading_is_accounted_for(levels: ImportReport) -> None:
    rows = rows_of(LEVELS)
    assert [line.number for line in levels.lines] == list(range(2, len(rows) + 2))
    assert levels.totals == {"entered": len(rows), "already there": 0, "set aside": 0}
    assert levels.written == {"readings": len(rows)}


def test_noon_by_the_placeholder_is_no_time(levels: ImportReport, network: OpenNetwork) -> None:
    rows = rows_of(LEVELS)
    noon = sum(row["measured_utc"].endswith("T12:00:00Z") for row in rows)
    found = Counter(one.check for line in levels.lines for one in line.findings)
    assert found["time-not-known"] == noon
    dates = [held.entry.measured_at for held in entries(network.record, kinds=["readings"])]
    assert sum(len(date) == 10 for date in dates) == noon
    assert sum(date.endswith("+00:00") for date in dates) == len(rows) - noon


def test_pumping_and_blank_statuses_are_kept_apart(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    told = Counter(row["status"] for row in rows_of(LEVELS))
    kept = Counter(json.dumps(held.entry.data.get("seen")) for held in entries(network.record, kinds=["readings"]))
    assert kept == {
        '{"water": ["stands still"]}': told["static"],
        '{"pump": "running"}': told["being pumped"],
        '{"near_by": [{"what": "tide or stream"}]}': told["affected by surface water"],
        "null": told[""],
    }


def test_depths_keep_the_decimals_they_were_written_with(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    told = Counter(f"{row['depth_to_water_ft']} ft" for row in rows_of(LEVELS))
    kept = Counter(held.entry.data["read"]["readings"][0] for held in entries(network.record, kinds=["readings"]))
    assert kept == told


def test_readings_deeper_than_the_well_are_found(levels: ImportReport) -> None:
    depth = {row["site_no"]: float(row["well_depth_ft"]) for row in rows_of(SITES) if row["well_depth_ft"]}
    rows = rows_of(LEVELS)
    found = {line.number for line in levels.lines if any(f.check == "deeper-than-well" for f in line.findings)}
    surely = {
        number
        for number, row in enumerate(rows, 2)
        if float(row["depth_to_water_ft"]) > depth.get(row["site_no"], 1e9) * 1.001 + 0.2
    }
    deeper = {
        number for number, row in enumerate(rows, 2) if float(row["depth_to_water_ft"]) > depth.get(row["site_no"], 1e9)
    }
    assert surely
    assert surely <= found <= deeper


def test_depth_and_water_altitude_add_up_to_land_altitude(levels: ImportReport, network: OpenNetwork) -> None:
    assert levels.lines
    told = {(row["site_no"], row["depth_to_water_ft"], row["measured_utc"][:10]): row for row in rows_of(LEVELS)}
    shelf = gear_shelf(network)
    compared = 0
    for code in sorted({site for site, _, _ in told})[::8]:
        file = well_file(network, code)
        for fact in file.of_kind("readings")[:200]:
            read = fact.value.read
            row = told[code, read.readings[0].text, fact.entry.measured_at[:10]]
            context = context_of(file, fact.entry.measured_at, shelf, network, fact.value)
            water = reduce_reported(read, context).result(ELEVATION)
            assert water is not None
            assert water.value_m / FOOT_M == pytest.approx(float(row["water_altitude_ft"]), abs=0.0051)
            compared += 1
    assert compared > 500


def test_a_second_import_enters_nothing(levels: ImportReport, network: OpenNetwork) -> None:
    for path, mapping in ((SITES, "idaho-sites"), (LEVELS, "idaho-levels")):
        again = take_in(network, path, mapping)
        assert again.totals == {"entered": 0, "already there": len(again.lines), "set aside": 0}
