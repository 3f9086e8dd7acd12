"""Wells of a GeoPackage from others -> a table: its columns as text, with the place in WGS 84 beside them."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from tapedown.exchange.packages.delivered_in import delivered_tables, is_delivered
from tapedown.exchange.packages.incoming import Found, Incoming, NotTaken
from tapedown.exchange.tables.errors import NotATable, TableTooLarge
from tapedown.exchange.tables.mapping import TableMapping
from tapedown.exchange.tables.reading import Table, TableRow

LARGEST = 500_000_000
MOST_ROWS = 2_000_000
PLACE = ("latitude", "longitude")
"""Columns that are put beside those of the layer."""
_MAGIC = b"SQLite format 3\0"


def read_geopackage(data: bytes, name: str, *, layer: str = "", mapping: TableMapping | None = None) -> Found:
    """The wells of a GeoPackage.

    Parameters
    ----------
    layer : its name; the first one with points when ""
    mapping : what the columns mean, with `latitude` and `longitude` in WGS 84; not needed for a package of ours

    Raises
    ------
    NotATable, TableTooLarge
    """
    if len(data) > LARGEST:
        raise TableTooLarge(f"{name} has {len(data):,} bytes", hint=f"the limit is {LARGEST:,}")
    if not data.startswith(_MAGIC):
        raise NotATable(f"{name} is not a GeoPackage", hint="export it again")
    try:
        return _read(data, name, layer, mapping)
    except (DataSourceError, DataLayerError, CRSError, ProjError, ValueError) as error:
        raise NotATable(f"{name} cannot be read: {str(error)[:300]}", hint="open it in a GIS and export it") from None


def _read(data: bytes, name: str, layer: str, mapping: TableMapping | None) -> Found:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # in memory the file has no name, and the library minds
        layers = {str(layer_name): str(kind) for layer_name, kind in pyogrio.list_layers(data)}
        chosen = layer or next((layer_name for layer_name, kind in layers.items() if "Point" in kind), "")
        if chosen not in layers:
            raise NotATable(f"{name} has no layer {chosen or 'of points'!r}", hint=f"its layers: {', '.join(layers)}")
        table = _table(data, chosen)
        others = {other: _named(other) for other in layers if other != chosen}
        if mapping is None and is_delivered("wells", table.header):
            return _delivered(table, {name: _table(data, other, places=False) for other, name in others.items()})
    aside = tuple(
        NotTaken(f"{name}, layer {other}", 0, "only the wells of one layer are taken", "name the layer to take it")
        for other in others
    )
    return Found((_incoming(f"{name}, layer {chosen}", table, mapping),), aside)


def _named(layer: str) -> str:
    """The name a delivery's table has in a Data Package, where a hyphen stands for an underscore."""
    return layer.replace("_", "-")


def _delivered(wells: Table, others: Mapping[str, Table]) -> Found:
    """A delivery's layers. The place as written stands beside the one on the map, and is the one that is taken."""
    rows = _rows(wells)
    if "latitude_deg" not in wells.header:
        rows = [(row, {**cells, **_on_the_map(cells)}) for row, cells in rows]
    tables = {"wells": (wells.header, rows)}
    tables |= {name: (table.header, _rows(table)) for name, table in others.items()}
    return delivered_tables(tables)


def _on_the_map(cells: Mapping[str, str]) -> dict[str, str]:
    latitude, longitude = (cells[column] for column in PLACE)
    datum = "WGS 84" if latitude else ""
    return {"latitude_deg": latitude, "longitude_deg": longitude, "horizontal_datum": datum}


def _rows(table: Table) -> list[tuple[TableRow, dict[str, str]]]:
    return [(row, dict(zip(table.header, row.cells))) for row in table.rows]


def _incoming(name: str, table: Table, mapping: TableMapping | None) -> Incoming:
    if mapping is None:
        columns = ", ".join(table.header[:30])
        hint = f"write a mapping that names the column with the well's code; its columns: {columns}"
        raise NotATable(f"{name}: what its columns mean is not known", hint=hint)
    return Incoming(name, table, mapping)


def _table(data: bytes, layer: str, *, places: bool = True) -> Table:
    """A layer as text, with the place beside its columns where that is asked for."""
    about, _, geometry, columns = pyogrio.raw.read(
        data, layer=layer, max_features=MOST_ROWS + 1, datetime_as_string=True, read_geometry=places
    )
    count = len(geometry) if geometry is not None else len(columns[0]) if columns else 0
    if count > MOST_ROWS:
        raise TableTooLarge(f"layer {layer} has more than {MOST_ROWS:,} rows", hint="split it")
    texts = {str(name): _texts(column) for name, column in zip(about["fields"], columns)}
    if places:
        there = _places(geometry, str(about.get("crs") or "")) if geometry is not None else [("", "")] * count
        for column, name in enumerate(PLACE):
            texts.pop(name, None)
            texts[name] = [place[column] for place in there]
    return Table(tuple(texts), [TableRow(number, list(cells)) for number, cells in enumerate(zip(*texts.values()), 1)])


def _texts(column: Sequence[Any]) -> list[str]:
    return [_text(value) for value in column]


def _text(value: Any) -> str:
    if value is None or value != value:  # NaN and no time are not themselves
        return ""
    if isinstance(value, (float, np.floating)):
        return f"{float(value):.9f}".rstrip("0").rstrip(".")
    return str(value)


def _places(geometry: Sequence[bytes | None], crs: str) -> list[tuple[str, str]]:
    to_map = _to_wgs84(crs)
    return [_place(shape, to_map) for shape in geometry]


def _to_wgs84(crs: str) -> Callable[[float, float], tuple[float, float]]:
    """From a layer's coordinates to longitude and latitude. A layer that does not say its system has no place."""
    if not crs:
        return lambda _x, _y: (float("nan"), float("nan"))
    transformer = Transformer.from_crs(CRS.from_user_input(crs), CRS.from_epsg(4326), always_xy=True)
    return lambda x, y: transformer.transform(x, y)


def _place(shape: bytes | None, to_map: Callable[[float, float], tuple[float, float]]) -> tuple[str, str]:
    """Latitude and longitude of a point, blank for what is none."""
    if not shape or len(shape) < 21:
        return "", ""
    order = "<" if shape[0] == 1 else ">"
    kind = struct.unpack_from(f"{order}I", shape, 1)[0]
    if (kind & 0xFFFF) % 1000 != 1:
        return "", ""
    longitude, latitude = to_map(*struct.unpack_from(f"{order}dd", shape, 5))
    if not (abs(longitude) <= 180 and abs(latitude) <= 90):
        return "", ""
    return f"{latitude:.7f}", f"{longitude:.7f}"
