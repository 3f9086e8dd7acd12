"""Real clients before a running office: GDAL, OWSLib, a SensorThings client. Each drives it from another process."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.quantities import by_hand
from tapedown.exchange.delivery.recorded import as_series
from tapedown.record import heads
from tapedown.work.authorship import Author
from tapedown.work.exports.export import deliver_zip
from tapedown.work.exports.gathering import gather
from tapedown.work.imports.package_import import take_back
from tapedown.work.marrow_fen import build
from tapedown.work.networks import OpenNetwork, change_settings, network_of, open_network
from tests.web.serving import served


@pytest.fixture(scope="module")
def address(fen: OpenNetwork) -> Iterator[str]:
    with served(fen.record.where) as found:
        yield f"{found}/services"


@pytest.fixture(scope="module")
def in_systems(fen: OpenNetwork, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The same network, its settings naming systems of its own."""
    place = tmp_path_factory.mktemp("systems") / "fen"
    with build(str(place)).record as record:
        change_settings(
            network_of(record), {"map_systems": "32618, 2193"}, Author("R. Alder", "desk"), "the county's maps"
        )
    with served(place) as found:
        yield f"{found}/services"


def elsewhere(code: str, *arguments: str) -> Any:
    """What a piece of Python prints as JSON, run in a process of its own."""
    ran = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, timeout=180,
                         check=False)  # fmt: skip
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout.splitlines()[-1])


def test_the_demonstration_comes_back_whole_into_an_empty_place(
    fen: OpenNetwork, delivery: Delivery, tmp_path: Path
) -> None:
    deliver_zip(fen, delivery, ["entries"], tmp_path / "fen.zip")
    assert take_back(str(tmp_path / "again"), tmp_path / "fen.zip").clean
    with open_network(tmp_path / "again").record as record:
        assert heads(record) == heads(fen.record)
        assert gather(network_of(record), units=("ft", "m")).wells == delivery.wells


GDAL = """
import json, sys, pyogrio
url = "OAPIF:" + sys.argv[1]
wells = pyogrio.raw.read(url, layer="wells", columns=["well", "last_water_level_below_land_surface_m"])
readings = pyogrio.raw.read(url, layer="readings", columns=["reading_id", "depth_below_land_surface_m"])
some = pyogrio.read_info(url, layer="wells")["features"]
box = pyogrio.raw.read(url, layer="wells", columns=["well"], bbox=(-76.32, 43.10, -76.30, 43.12))
print(json.dumps({
    "layers": [str(name) for name, _ in pyogrio.list_layers(url)], "some": some,
    "wells": {str(k): (None if v != v else float(v)) for k, v in zip(*wells[3])},
    "readings": {str(k): float(v) for k, v in zip(*readings[3]) if v == v}, "box": [str(v) for v in box[3][0]],
}))
"""


def test_gdal_opens_the_features_and_reads_every_page(address: str, delivery: Delivery) -> None:
    pytest.importorskip("pyogrio", reason="pyogrio is not installed: extra formats")
    found = elsewhere(GDAL, f"{address}/now/features")
    assert found["layers"] == ["wells", "readings"]
    ours = {r.entry.id: r.result("depth below land surface") for well in delivery.wells for r in well.readings}
    assert found["readings"] == {key: result.value_m for key, result in ours.items() if result}
    assert set(found["wells"]) == {well.code for well in delivery.wells}
    west, south, east, north = -76.32, 43.10, -76.30, 43.12
    inside = [w.code for w in delivery.wells if w.place and west <= w.place[0] <= east and south <= w.place[1] <= north]
    assert sorted(found["box"]) == inside
    earlier = elsewhere(GDAL, f"{address}/2023-03-01/features")
    assert 0 < len(earlier["readings"]) < len(found["readings"])


GDAL_IN_A_SYSTEM = """
import json, sys, pyogrio
url, code, box = "OAPIF:" + sys.argv[1], sys.argv[2], json.loads(sys.argv[3])
about, _, shapes, columns = pyogrio.raw.read(url, layer="wells", columns=["well"], CRS=code)
import struct
places = {str(w): (struct.unpack_from("<dd", s, 5) if s else None) for w, s in zip(columns[0], shapes)}
inside = pyogrio.raw.read(url, layer="wells", columns=["well"], bbox=tuple(box), CRS=code)
print(json.dumps({"crs": about["crs"], "places": places, "inside": sorted(str(v) for v in inside[3][0])}))
"""


@pytest.mark.parametrize("code", [3857, 32618, 2193])
def test_gdal_gets_the_places_in_another_system_and_chooses_by_a_box_in_it(
    in_systems: str, delivery: Delivery, code: int
) -> None:
    """2193 has its north before its east: what GDAL makes of that is east before north again."""
    pytest.importorskip("pyogrio", reason="pyogrio is not installed: extra formats")
    pyproj = pytest.importorskip("pyproj", reason="pyproj is not installed: extra formats")
    by_proj = pyproj.Transformer.from_crs(4326, code, always_xy=True, allow_ballpark=False)
    expected = {well.code: by_proj.transform(*well.place) for well in delivery.wells if well.place}
    x, y = expected["MF-07"]
    found = elsewhere(GDAL_IN_A_SYSTEM, f"{in_systems}/now/features", f"EPSG:{code}",
                      json.dumps([x - 0.01, y - 0.01, x + 0.01, y + 0.01]))  # fmt: skip
    assert found["crs"] == f"EPSG:{code}"
    assert {well: tuple(place) for well, place in found["places"].items() if place} == expected
    assert found["inside"] == ["MF-07"]


def test_owslib_asks_for_another_system_by_its_address(in_systems: str, delivery: Delivery) -> None:
    pytest.importorskip("owslib", reason="OWSLib is not installed: extra validators")
    code = """
import json, sys
from owslib.ogcapi.features import Features
service, uri = Features(sys.argv[1]), "http://www.opengis.net/def/crs/EPSG/0/32618"
told = service.collection("wells")
page = service.collection_items("wells", crs=uri, limit=100)
print(json.dumps({"crs": told["crs"], "storage": told["storageCrs"], "uri": uri,
                  "places": {f["id"]: f["geometry"] and f["geometry"]["coordinates"] for f in page["features"]}}))
"""
    found = elsewhere(code, f"{in_systems}/now/features")
    assert found["uri"] in found["crs"]
    assert found["storage"] == found["crs"][0]
    x, y = found["places"]["MF-07"]
    assert 100_000 < x < 900_000
    assert 0 < y < 10_000_000
    assert set(found["places"]) == {well.code for well in delivery.wells}


OWSLIB = """
import json, sys
from owslib.ogcapi.features import Features
service = Features(sys.argv[1])
first = service.collection_items("readings", limit=7)
print(json.dumps({
    "collections": service.feature_collections(), "conforms": service.conformance()["conformsTo"],
    "openapi": service.api()["openapi"], "returned": first["numberReturned"], "matched": first["numberMatched"],
    "one": service.collection_item("wells", "MF-07")["properties"]["last_water_level_said_ft"],
}))
"""


def test_owslib_reads_what_the_service_says_of_itself(address: str, delivery: Delivery) -> None:
    pytest.importorskip("owslib", reason="OWSLib is not installed: extra validators")
    found = elsewhere(OWSLIB, f"{address}/now/features")
    assert found["collections"] == ["wells", "readings"]
    assert found["openapi"].startswith("3.0")
    assert (found["returned"], found["matched"]) == (7, sum(len(well.readings) for well in delivery.wells))
    assert " ft" in found["one"]


FROST = """
import json, sys, frost_sta_client as fsc
service = fsc.SensorThingsService(sys.argv[1])
things = {t.id: [s.name for s in t.datastreams.entities] for t in service.things().query().expand("Datastreams").list()}
deep = service.observations().query().filter("result gt 60").orderby("phenomenonTime").top(10).list()
one = service.things().find("MF-07")
named = "startswith(name, 'MF-11') and endswith(name, ', logger of level')"
(stream,) = list(service.datastreams().query().filter(named).list())
rows = [(o.phenomenon_time, o.result) for o in stream.get_observations().query()
        .filter("phenomenonTime ge 2025-09-01T00:00:00Z").orderby("phenomenonTime", "ASC").top(40).list()]
by_hand = sum(1 for _ in service.observations().query().filter("Datastream/Sensor/name eq 'readings by hand'")
              .top(200).list())
every = sum(1 for _ in service.observations().query().top(2000).list())
print(json.dumps({"things": things, "deep": [o.result for o in deep], "one": one.description, "every": every,
                  "by_hand": by_hand, "rows": rows}))
"""


def test_a_sensorthings_client_reads_things_streams_and_observations_over_pages(
    address: str, delivery: Delivery
) -> None:
    pytest.importorskip("frost_sta_client", reason="the SensorThings client is not installed: extra validators")
    found = elsewhere(FROST, f"{address}/now/sensorthings/v1.1")
    assert set(found["things"]) == {well.code for well in delivery.wells}
    assert all(found["things"].values())
    assert found["one"] == "Dry Lode"
    assert len(found["deep"]) > 20
    assert all(value > 60 for value in found["deep"])
    read = sum(len(series.times) for well in delivery.wells for series in by_hand(well))
    recorded = [series for well in delivery.wells for series in well.series]
    logged = sum(series.size for series in recorded)
    assert logged > 10_000
    assert found["by_hand"] == read
    assert found["every"] == read + logged
    logger = as_series(next(series for series in recorded if series.kind == "logger"))
    september = [(t, v) for t, v in zip(logger.times, logger.values_m) if t >= "2025-09-01"]
    assert [tuple(row) for row in found["rows"]] == september
