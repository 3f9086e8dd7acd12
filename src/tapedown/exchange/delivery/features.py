"""Wells as map features: what stands where, with its last state. GeoJSON as RFC 7946 has it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from tapedown.exchange.delivery.columns import Rounded
from tapedown.exchange.delivery.contents import DeliveredWell
from tapedown.exchange.delivery.tables import Tables
from tapedown.exchange.delivery.words_of_standards import is_wgs84


def map_place(well: DeliveredWell) -> tuple[float, float] | None:
    """Longitude and latitude for a map in WGS 84; None where they are not recorded, in another datum or off the globe.

    Such a well keeps its numbers as written in its columns; it is not put in a wrong place.
    """
    if well.place is None or well.position is None or not is_wgs84(well.position.horizontal_datum):
        return None
    longitude, latitude = well.place
    return (longitude, latitude) if abs(longitude) <= 180 and abs(latitude) <= 90 else None


def plain_cell(value: Any) -> Any:
    """A cell as a JSON value; a rounded number keeps its number, not its digits."""
    return value.number if isinstance(value, Rounded) else value


def well_features(made: Tables) -> list[dict[str, Any]]:
    """A GeoJSON Feature for every well."""
    names = [column.name for column in made.wells.columns]
    return [
        feature(well.code, map_place(well), {n: plain_cell(v) for n, v in zip(names, row)})
        for well, row in zip(made.delivery.wells, made.wells.rows)
    ]


def feature(identity: str, place: tuple[float, float] | None, properties: dict[str, Any]) -> dict[str, Any]:
    """A GeoJSON Feature."""
    geometry = {"type": "Point", "coordinates": list(place)} if place else None
    return {"type": "Feature", "id": identity, "geometry": geometry, "properties": properties}


def geojson_files(made: Tables) -> Iterator[tuple[str, bytes]]:
    """The wells as a FeatureCollection."""
    collection = {"type": "FeatureCollection", "title": made.delivery.title, "features": well_features(made)}
    yield "wells.geojson", (json.dumps(collection, ensure_ascii=False) + "\n").encode("utf-8", "replace")
