"""Real clients before a running office: GDAL, OWSLib, a SensorThings client. Each drives it from another process."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tapedown.exchange.delivery import Delivery
from tapedown.exchange.quantities import by_hand
from tapedown.record import heads
from tapedown.work.delivering import deliver_zip
from tapedown.work.gathering import gather
from tapedown.work.networks import OpenNetwork, network_of, open_network
from tapedown.work.taking_in import take_back
from tests.web.serving import served


@pytest.fixture(scope="module")
def address(fen: OpenNetwork) -> Iterator[str]:
    with served(fen.record.where) as found:
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
every = sum(1 for _ in service.observations().query().top(200).list())
print(json.dumps({"things": things, "deep": [o.result for o in deep], "one": one.description, "every": every}))
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
    by_hand_rows = sum(len(series.times) for well in delivery.wells for series in by_hand(well))
    logged_rows = sum(series.size for well in delivery.wells for series in well.series)
    assert logged_rows > 10_000
    assert found["every"] == by_hand_rows + logged_rows
