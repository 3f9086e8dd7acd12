"""A delivery as a GeoPackage: the wells as points, the other tables as attributes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pyarrow as pa
import pyogrio

from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.formats.arrow_tables import GEOMETRY, arrow_table, well_points


def geopackage_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """The package. The library appends layers to files only, so it is made in a folder that is gone afterwards."""
    with TemporaryDirectory() as folder:
        place = Path(folder, "wells.gpkg")
        for number, table in enumerate(made.all):
            arrow, about = arrow_table(table), {"layer": table.name, "append": number > 0}
            if table.name == "wells":
                _write(arrow.append_column(GEOMETRY, pa.array(well_points(made.delivery), pa.binary())), place, about)
            else:
                _write(arrow, place, about, spatial=False)
        yield "wells.gpkg", place.read_bytes()


def _write(table: pa.Table, place: Path, about: dict[str, Any], *, spatial: bool = True) -> None:
    where = {"geometry_name": GEOMETRY, "geometry_type": "Point", "crs": "EPSG:4326"} if spatial else {}
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="'crs' was not provided", category=UserWarning)
        pyogrio.write_arrow(table, place, driver="GPKG", **about, **where)
