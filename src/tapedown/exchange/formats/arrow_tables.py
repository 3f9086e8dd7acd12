"""A delivery's tables as Arrow tables, for GeoParquet and GeoPackage."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from tapedown.exchange.delivery.columns import Column, Flat, LongTable, Rounded
from tapedown.exchange.delivery.contents import DeliveredWell, Delivery
from tapedown.exchange.delivery.features import map_place
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.csv_package import network_to_json

_TYPES = {
    "text": pa.string(),
    "number": pa.float64(),
    "whole": pa.int64(),
    "flag": pa.bool_(),
    "time": pa.timestamp("ms", tz="UTC"),
}
_TO_MICROSECONDS = pa.timestamp("us", tz="UTC")
GEOMETRY = "geometry"
_BOX = pa.struct([(name, pa.float64()) for name in ("xmin", "ymin", "xmax", "ymax")])


def point_wkb(place: tuple[float, float]) -> bytes:
    """A point as well-known binary, little-endian (OGC 06-103r4)."""
    return struct.pack("<BIdd", 1, 1, *place)


def arrow_table(table: Flat) -> pa.Table:
    """A table in columns; each field tells its unit and meaning. Times are UTC."""
    columns = list(zip(*table.rows)) if table.rows else [()] * len(table.columns)
    return pa.table([_array(*pair) for pair in zip(table.columns, columns)], schema=_schema(table))


def _schema(table: Flat | LongTable) -> pa.Schema:
    return pa.schema(
        [pa.field(c.name, _TYPES[c.kind], metadata={"unit": c.unit, "description": c.meaning}) for c in table.columns]
    )


def _long_parquet(table: LongTable, facts: dict[str, str]) -> bytes:
    """What loggers recorded, a group of rows for each batch."""
    schema, out = _schema(table).with_metadata(facts), BytesIO()
    with pq.ParquetWriter(out, schema, compression="zstd") as writer:
        for rows in table.batches():
            times = rows["time"].str.to_datetime("%+", time_unit="ms", time_zone="UTC")
            writer.write_table(rows.with_columns(times).to_arrow().cast(schema))
    return out.getvalue()


def _array(column: Column, cells: tuple[Any, ...]) -> pa.Array:
    """A column; whole columns at a time, for a network may have a hundred thousand readings."""
    if column.kind == "text":
        return _texts(cells)
    if column.kind == "time":
        return _texts(tuple(cell or None for cell in cells)).cast(_TO_MICROSECONDS).cast(_TYPES["time"], safe=False)
    return _numbers(cells, _TYPES[column.kind])


def _numbers(cells: tuple[Any, ...], kind: pa.DataType) -> pa.Array:
    try:
        return pa.array(cells, kind)
    except (pa.ArrowInvalid, pa.ArrowTypeError):  # rounded ones among them, which keep their digits as text
        return pa.array([cell.number if type(cell) is Rounded else cell for cell in cells], kind)


def _texts(cells: tuple[Any, ...]) -> pa.Array:
    try:
        return pa.array(cells, pa.string())
    except UnicodeEncodeError:  # half of a pair of signs, which no file can hold
        return pa.array([cell and cell.encode("utf-8", "replace").decode() for cell in cells], pa.string())


def well_points(delivery: Delivery) -> list[bytes | None]:
    """The place of every well as well-known binary."""
    places = [map_place(well) for well in delivery.wells]
    return [point_wkb(place) if place else None for place in places]


def parquet_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """The wells as GeoParquet 1.1, the other tables as Parquet; the network's facts in the file metadata."""
    delivery = made.delivery
    network_facts = {"tapedown": json.dumps(network_to_json(delivery))}
    for table in made.all:
        arrow = arrow_table(table)
        facts = dict(network_facts)
        if table.name == "wells":
            arrow = arrow.append_column(GEOMETRY, pa.array(well_points(delivery), pa.binary()))
            boxes = [_box(well) for well in delivery.wells]
            if any(boxes):  # a covering without one box has no statistics, which is all it is for
                arrow = arrow.append_column("bbox", pa.array(boxes, _BOX))
            facts["geo"] = json.dumps(_geo(delivery))
        out = BytesIO()
        pq.write_table(arrow.replace_schema_metadata(facts), out, compression="zstd")
        yield f"{table.name}.parquet", out.getvalue()
    for long in made.recorded:
        yield f"{long.name}.parquet", _long_parquet(long, network_facts)


def _box(well: DeliveredWell) -> dict[str, float] | None:
    place = map_place(well)
    return dict(zip(_BOX.names, (*place, *place))) if place else None


def _geo(delivery: Delivery) -> dict[str, Any]:
    """File metadata of GeoParquet 1.1.0; without a crs the coordinates are OGC:CRS84."""
    places = [place for well in delivery.wells if (place := map_place(well))]
    column: dict[str, Any] = {"encoding": "WKB", "geometry_types": ["Point"] if places else []}
    if places:
        east, north = [place[0] for place in places], [place[1] for place in places]
        column["covering"] = {"bbox": {name: ["bbox", name] for name in _BOX.names}}
        column["bbox"] = [min(east), min(north), max(east), max(north)]
    return {"version": "1.1.0", "primary_column": GEOMETRY, "columns": {GEOMETRY: column}}
