"""A hundred thousand readings to each format and back, beside a straight writing of the same content.

The peer has the finished columns in memory and writes them with pandas or lxml, with no uncertainty, reasons, units or
descriptions beside them, and reads them back as they are. It shows what the format alone costs. A service page of ten
thousand wells stands beside the bare writing of the same page as JSON.

GeoParquet stays above its aim at full scale: a delivery is rows of cells, its rounded numbers are texts that keep their
digits, and making columns of them takes several times as long as compressing columns that are there already.
"""

from __future__ import annotations

import io
import json
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pandas as pd
import pyogrio
from lxml import etree

from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.features import plain_cell
from tapedown.exchange.delivery.tables import Tables, readings
from tapedown.exchange.formats.csv_package import csv_bytes
from tapedown.exchange.formats.registry import written_as
from tapedown.exchange.packages.data_package_in import read_data_package, read_descriptor
from tapedown.exchange.packages.geopackage_in import read_geopackage
from tapedown.exchange.packages.waterml_in import read_waterml
from tapedown.exchange.services.ogc_features import FeatureStore, items
from tapedown.record import append
from tapedown.values.kinds import KINDS, about_well
from tapedown.values.reading_forms import readings_body, readings_from_body
from tapedown.work.authorship import Author
from tapedown.work.exports.gathering import Gatherer, gather
from tapedown.work.networks import OpenNetwork, start_network
from tapedown.work.sync.sending import receive, sending

READINGS, WELLS, A_WELL = 100_000, 10_000, 400
NETWORK = {"name": "bench", "length_unit": "ft", "vertical_datum": "NAVD88", "zone": "America/New_York"}
POINT = {"name": "MP-1", "height": "3.40", "side": "above", "description": "notch"}
POSITION = {"latitude": "43.1", "longitude": "-76.3", "land_surface": "39.84", "vertical_datum": "NAVD88"}
PEN = Author("R. Alder", "bench")


def run(scale: float = 1.0) -> list[dict[str, Any]]:
    """Each format there and back, and a page of a service."""
    n = max(A_WELL, round(READINGS * scale))
    with TemporaryDirectory() as folder:
        network = start_network(Path(folder, "readings.db"), NETWORK, PEN)
        with network.record:
            _fill(network, n // A_WELL, A_WELL)
            gathered_s, delivery = _timed(lambda: gather(network))
            rows = [_row("readings worked out for a delivery", gathered_s, "", None, n, "")]
            rows += _there(delivery, n)
            rows += _back(network, delivery, Path(folder), n)
        return [*rows, *_page(Path(folder), max(10, round(WELLS * scale)))]


def _fill(network: OpenNetwork, wells: int, each: int) -> None:
    values = {
        kind: KINDS[kind].read(given, "ft")[0] for kind, given in (("measuring point", POINT), ("position", POSITION))
    }
    bodies = {kind: KINDS[kind].body(value) for kind, value in values.items()}
    for well in range(wells):
        about = about_well(f"W-{well:05d}")
        drafts = [PEN.draft("well", about, {"code": about[5:], "name": f"well {well}"})]
        drafts += [PEN.draft(kind, about, body, measured_at="2015-05-01") for kind, body in bodies.items()]
        for number in range(each):
            depth = 15 + (number * 37 + well) % 400 / 100
            given = {"method": "electric tape", "read": {"readings": [f"{depth:.2f}", f"{depth + 0.01:.2f}"]}}
            read, _ = readings_from_body(given, "ft")
            if read is None:
                raise ValueError(f"{given} cannot be read")
            day = f"{2016 + number // 336}-{number // 28 % 12 + 1:02d}-{number % 28 + 1:02d}T10:20-05:00"
            drafts.append(PEN.draft("readings", about, readings_body(read), measured_at=day))
        append(network.record, PEN.device, drafts)


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Seconds of processor time: what else the machine does in these minutes does not count."""
    started = time.process_time()
    found = work()
    return time.process_time() - started, found


def _there(delivery: Delivery, n: int) -> Iterator[dict[str, Any]]:
    tables_s, made = _timed(lambda: _tabled(delivery))
    yield _row("tables of a delivery, every number rounded and said", tables_s, "", None, n, "")
    table = readings(delivery)
    names = [column.name for column in table.columns]
    frame = pd.DataFrame([[plain_cell(cell) for cell in row] for row in table.rows], columns=names)
    peers: dict[str, tuple[str, Callable[[], Any]]] = {
        "csv": ("pandas to_csv of the same columns", lambda: frame.to_csv(index=False)),
        "xlsx": ("pandas to_excel of the same columns", lambda: _excel(frame)),
        "geoparquet": ("pandas to_parquet of the same columns", lambda: frame.to_parquet(io.BytesIO())),
        "waterml": ("lxml: the same points, nothing looked up", lambda: _plain_waterml(delivery)),
    }
    for name in ("csv", "xlsx", "geopackage", "geoparquet", "waterml", "netcdf", "geojson", "groundwaterml"):
        ours_s, _ = _timed(lambda name=name: sum(len(data) for _, data in written_as(made, name)))  # type: ignore[misc]
        peer, work = peers.get(name, ("", None))
        peer_s = _timed(work)[0] if work else None
        yield _row(f"delivery as {name}", ours_s, peer, peer_s, n, 5.0 if work else "")


def _excel(frame: pd.DataFrame) -> bytes:
    out = io.BytesIO()
    frame.to_excel(out, index=False)
    return out.getvalue()


def _tabled(delivery: Delivery) -> Tables:
    made = Tables(delivery)
    if len(made.all) != 5:
        raise ValueError(f"{len(made.all)} tables were made; five are written")
    return made


def _plain_waterml(delivery: Delivery) -> list[bytes]:
    """The same elements with finished texts in them."""
    found = []
    for well in delivery.wells:
        root = etree.Element("series")
        for stage in ("depth below land surface", "elevation"):
            for row in well.readings:
                result = row.result(stage)
                if result is not None:
                    _plain_point(etree.SubElement(root, "point"), row.time, result.value_m, result.expanded_m)
        found.append(etree.tostring(root, pretty_print=True))
    return found


def _plain_point(parent: etree._Element, time: str, value_m: float, expanded_m: float) -> None:
    point = etree.SubElement(parent, "MeasurementTVP")
    etree.SubElement(point, "time").text = time
    etree.SubElement(point, "value").text = repr(value_m)
    about = etree.SubElement(etree.SubElement(point, "metadata"), "TVPMeasurementMetadata")
    etree.SubElement(about, "comment").text = "electric tape"
    size = etree.SubElement(etree.SubElement(about, "accuracy"), "Quantity")
    etree.SubElement(size, "label").text = "expanded uncertainty"
    etree.SubElement(size, "uom").set("code", "m")
    etree.SubElement(size, "value").text = repr(expanded_m)


def _back(network: OpenNetwork, delivery: Delivery, folder: Path, n: int) -> Iterator[dict[str, Any]]:
    made = Tables(delivery)
    lines = b"".join(sending(network).lines())
    there = str(folder / "again")
    ours_s, _ = _timed(lambda: receive(there, io.BytesIO(lines), "entries"))
    peer_s, _ = _timed(lambda: [json.loads(json.loads(line)["entry"]["body"]) for line in lines.splitlines()[1:]])
    yield _row("entries of a delivery taken back", ours_s, "json alone, nothing checked or kept", peer_s, n, "")
    files = dict(written_as(made, "csv"))
    descriptor = read_descriptor(files["datapackage.json"])
    ours_s, _ = _timed(lambda: read_data_package(descriptor, files.__getitem__, {}))
    table = csv_bytes(readings(delivery))
    peer_s, _ = _timed(lambda: pd.read_csv(io.BytesIO(table)))
    yield _row("csv package read back, line by line", ours_s, "pandas read_csv", peer_s, n, 5.0)
    (_, layers), *_ = written_as(made, "geopackage")
    ours_s, _ = _timed(lambda: read_geopackage(layers, "wells.gpkg"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # in memory the file has no name, and the library minds
        names = [str(name) for name, _ in pyogrio.list_layers(layers)]
        peer_s, _ = _timed(lambda: [pyogrio.read_arrow(layers, layer=name) for name in names])
    yield _row("geopackage read back, line by line", ours_s, "pyogrio: the layers as columns", peer_s, n, "")
    documents = [data for _, data in written_as(made, "waterml")]
    ours_s, _ = _timed(lambda: [read_waterml(data, "x.xml") for data in documents])
    peer_s, _ = _timed(lambda: [_plain_points(data) for data in documents])
    yield _row("waterml read back, point by point", ours_s, "lxml: time and value alone", peer_s, n, 5.0)


def _plain_points(data: bytes) -> list[tuple[Any, Any]]:
    w = "{http://www.opengis.net/waterml/2.0}"
    points = etree.fromstring(data).iter(f"{w}MeasurementTVP")
    return [(point.findtext(f"{w}time"), point.findtext(f"{w}value")) for point in points]


def _page(folder: Path, wells: int) -> Iterator[dict[str, Any]]:
    network = start_network(folder / "wells.db", NETWORK, PEN)
    with network.record:
        _fill(network, wells, 1)
        gatherer = Gatherer()
        first_s, delivery = _timed(lambda: gatherer.delivery(network))
        store = FeatureStore(delivery)

        def page() -> str:
            gatherer.delivery(network)
            return json.dumps(items(store, "wells", [("limit", str(wells))], "http://localhost"))

        page_s, text = _timed(page)
        again_s, _ = _timed(page)
        bare = json.loads(text)
        peer_s, _ = _timed(lambda: json.dumps(bare))
    peer = "json.dumps of the same page"
    yield _row("service: a page of wells, everything worked out", first_s + page_s, peer, peer_s, wells, "")
    yield _row("service: the same page asked again", again_s, peer, peer_s, wells, 5.0)


def _row(name: str, ours_s: float, peer: str, peer_s: float | None, n: int, aim: Any) -> dict[str, Any]:
    ratio = round(ours_s / peer_s, 2) if peer_s else None
    return {"name": name, "ours_s": round(ours_s, 4), "peer": peer, "peer_s": peer_s and round(peer_s, 4),
            "ratio": ratio, "aim": aim, "n": n}  # fmt: skip


if __name__ == "__main__":
    import sys

    for found in run(float(sys.argv[1]) if len(sys.argv) > 1 else 1.0):
        print(found)
