"""A delivery as the entities of SensorThings 1.1: wells as Things, series as Datastreams, readings as Observations.

Nothing here knows of HTTP: `Store` gives entities by set and id, and each entity leads to its neighbours.

References
----------
OGC 18-088 (SensorThings 1.1) clause 8. A dry well's result is null; how deep the tape went stands in the parameters.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cached_property
from typing import Any

from tapedown.engine.checks.at_the_well import hours_since_pump
from tapedown.exchange.delivery.contents import (
    Delivered,
    DeliveredSeries,
    DeliveredWell,
    Delivery,
    Recorded,
    reported,
    reported_expanded,
    said,
    said_result,
)
from tapedown.exchange.delivery.features import map_place
from tapedown.exchange.delivery.quantities import BY_KEY, QUANTITIES, by_hand
from tapedown.exchange.delivery.words_of_standards import QARTOD, quality_uri
from tapedown.exchange.services.entities import Entity, Related
from tapedown.exchange.services.observed import LoggedRun, Observations
from tapedown.values.seen import seen_words

SETS = {
    "Things": "Thing",
    "Locations": "Location",
    "HistoricalLocations": "HistoricalLocation",
    "Datastreams": "Datastream",
    "Sensors": "Sensor",
    "ObservedProperties": "ObservedProperty",
    "Observations": "Observation",
    "FeaturesOfInterest": "FeatureOfInterest",
}
"""Entity sets and what one of them is called."""
_SENSORS = {
    "reading": ("readings by hand", "tapes, gauges and air lines read by people; the method stands with each reading"),
    "logger": ("logger", "an instrument left in the well"),
    "daily mean": ("daily means", "means of a logger's values over a day"),
}
_MEASUREMENT = "http://www.opengis.net/def/observationType/OGC-OM/2.0/OM_Measurement"
_GEOJSON = "application/geo+json"


class Store:
    """All entities of a delivery."""

    def __init__(self, delivery: Delivery) -> None:
        self.delivery = delivery
        self.wells = {well.code: well for well in delivery.wells}
        self.streams: dict[str, tuple[DeliveredWell, DeliveredSeries | Recorded]] = {}
        for well in delivery.wells:
            listed: list[DeliveredSeries | Recorded] = [*by_hand(well), *well.series]
            self.streams |= {_stream_id(series): (well, series) for series in listed if _size(series)}
        self.by_well: dict[str, list[str]] = {}
        for identity, (well, _) in self.streams.items():
            self.by_well.setdefault(well.code, []).append(identity)
        self.sensors = sorted({series.kind for _, series in self.streams.values()})

    @cached_property
    def rows(self) -> dict[str, Delivered]:
        """Every reading by the id of its entry."""
        return {row.entry.id: row for well in self.delivery.wells for row in well.readings}

    @cached_property
    def _read(self) -> dict[str, tuple[str, DeliveredSeries, int]]:
        """Observations by hand: which stream, and their place in it."""
        return {
            _observation_id(identity, series, place): (identity, series, place)
            for identity, (_, series) in self.streams.items()
            if isinstance(series, DeliveredSeries)
            for place in range(len(series.times))
        }

    def all_of(self, set_name: str) -> Related:
        """Every entity of a set. Raises KeyError for a set that is none."""
        if set_name == "Observations":
            return self.observations(list(self.streams))
        return self._listed(set_name, self._ids(set_name))

    def _ids(self, set_name: str) -> list[str]:
        placed = [code for code, well in self.wells.items() if map_place(well)]
        return {
            "Things": list(self.wells),
            "Locations": placed,
            "HistoricalLocations": placed,
            "Datastreams": list(self.streams),
            "Sensors": self.sensors,
            "ObservedProperties": [quantity.key for quantity in QUANTITIES],
            "FeaturesOfInterest": list(self.wells),
        }[set_name]

    def observations(self, streams: list[str]) -> Observations:
        """The observations of some streams, one stream after another."""
        return Observations([self._run(identity) for identity in streams])

    def _run(self, stream: str) -> Related:
        well, series = self.streams[stream]
        if isinstance(series, DeliveredSeries):
            return Related(len(series.times), lambda place: self._observation(stream, series, place))

        def make(row: dict[str, Any]) -> Entity:
            return Entity(self, "Observations", f"{stream} {row['time']}", (stream, well, row))

        return LoggedRun(series, make)

    def _observation(self, stream: str, series: DeliveredSeries, place: int) -> Entity:
        well = self.streams[stream][0]
        return Entity(self, "Observations", _observation_id(stream, series, place), (stream, well, place))

    def _recorded(self, identity: str) -> Entity | None:
        """The observation of a logger whose id this is: its stream and its time."""
        stream = identity.rpartition(" ")[0]
        recorded = stream in self.streams and isinstance(self.streams[stream][1], Recorded)
        return self._run(stream).named(identity) if recorded else None

    def _listed(self, set_name: str, ids: list[str]) -> Related:
        return Related(len(ids), lambda place: self._entity(set_name, ids[place]))

    def _entity(self, set_name: str, identity: str) -> Entity:
        about: Any = self.wells.get(identity) if set_name != "Datastreams" else self.streams.get(identity)
        if set_name == "ObservedProperties":
            about = BY_KEY.get(identity)
        elif set_name == "Sensors":
            about = identity if identity in self.sensors else None
        return Entity(self, set_name, identity, about)

    def told(self, set_name: str, about: Any) -> dict[str, Any]:
        """The properties of an entity, without links."""
        return _DATA[set_name](self, about)

    def one(self, set_name: str, identity: str) -> Entity | None:
        """The entity of an id, None where there is none. Raises KeyError for a set that is none."""
        if set_name == "Observations":
            place = self._read.get(identity)
            return self._observation(*place) if place else self._recorded(identity)
        entity = self._entity(set_name, identity)
        if entity._about is None or (
            set_name in {"Locations", "HistoricalLocations"} and map_place(entity._about) is None
        ):
            return None
        return entity

    def related(self, entity: Entity, link: str, about: Any) -> Entity | Related | None:
        """Where a link of an entity leads."""
        name = entity.set_name
        if name == "Observations":
            stream, well, _ = about
            return self._entity("Datastreams", stream) if link == "Datastream" else self._entity(
                "FeaturesOfInterest", well.code)  # fmt: skip
        if name == "Datastreams":
            return self._of_stream(entity.id, about, link)
        if name in {"Sensors", "ObservedProperties"}:
            return self._listed("Datastreams", [i for i, (_, s) in self.streams.items()
                                                if entity.id in (s.kind, s.quantity)])  # fmt: skip
        if link == "Datastreams":
            return self._listed("Datastreams", self.by_well.get(entity.id, []))
        if link == "Observations":
            return self.observations(self.by_well.get(entity.id, []))
        if link == "Thing":
            return self._entity("Things", entity.id)
        here = [entity.id] if link == "Things" or map_place(about) else []
        return self._listed(link, here)

    def _of_stream(
        self, identity: str, about: tuple[DeliveredWell, DeliveredSeries | Recorded], link: str
    ) -> Entity | Related:
        well, series = about
        if link == "Observations":
            return self.observations([identity])
        return {
            "Thing": self._entity("Things", well.code),
            "Sensor": self._entity("Sensors", series.kind),
            "ObservedProperty": self._entity("ObservedProperties", series.quantity),
        }[link]


def _size(series: DeliveredSeries | Recorded) -> int:
    return len(series.times) if isinstance(series, DeliveredSeries) else series.size


def _stream_id(series: DeliveredSeries | Recorded) -> str:
    kind = "" if series.kind == "reading" else f" {series.kind} {series.name}"
    return f"{series.well} {series.quantity}{kind}"


def _observation_id(stream: str, series: DeliveredSeries, place: int) -> str:
    identity = series.ids[place] if series.ids else series.times[place]
    return f"{identity} {stream.partition(' ')[2]}" if series.ids else f"{stream} {identity}"


def _thing(store: Store, well: DeliveredWell) -> dict[str, Any]:
    identity = well.identity
    point = well.points[-1].point if well.points else None
    at = well.position
    properties = {
        "network": store.delivery.network.name,
        "use": identity.use if identity else "",
        "aquifer": identity.aquifer if identity else "",
        "land_surface_elevation_m": at.land_surface.si if at and at.land_surface else None,
        "vertical_datum": (at.vertical_datum if at else "") or store.delivery.network.vertical_datum,
        "measuring_point": point.name if point else None,
        "measuring_point_height_m": point.height_m if point else None,
        "zone": store.delivery.network.zone,
    }
    name = identity.name if identity else ""
    return {"name": well.code, "description": name or f"well {well.code}", "properties": properties}


def _location(_store: Store, well: DeliveredWell) -> dict[str, Any]:
    place = map_place(well)
    return {
        "name": well.code,
        "description": f"place of well {well.code}",
        "encodingType": _GEOJSON,
        "location": {"type": "Point", "coordinates": list(place or ())},
    }


def _historical(_store: Store, well: DeliveredWell) -> dict[str, Any]:
    return {"time": well.known_since}


def _stream(store: Store, about: tuple[DeliveredWell, DeliveredSeries | Recorded]) -> dict[str, Any]:
    well, series = about
    of, read = BY_KEY[series.quantity], isinstance(series, DeliveredSeries)
    span = (
        f"{series.times[0]}/{series.times[-1]}"
        if isinstance(series, DeliveredSeries)
        else f"{series.first}/{series.last}"
    )
    datum = series.datum if isinstance(series, DeliveredSeries) else ""
    properties = {"kind": series.kind, "positive": of.positive, "vertical_datum": datum or None,
                  "as_known_at": store.delivery.as_of or None}  # fmt: skip
    return {
        "name": f"{well.code}: {of.title}" + ("" if read else f", {series.kind} of {series.name}"),
        "description": of.definition,
        "observationType": _MEASUREMENT,
        "unitOfMeasurement": {"name": "metre", "symbol": "m", "definition": "ucum:m"},
        "phenomenonTime": span,
        "resultTime": span,
        "properties": properties,
    }


def _sensor(_store: Store, kind: str) -> dict[str, Any]:
    name, description = _SENSORS[kind]
    return {"name": name, "description": description, "encodingType": "text/plain", "metadata": description}


def _property(_store: Store, of: Any) -> dict[str, Any]:
    about = {"positive": of.positive, "cf_standard_name": of.cf_name or None}
    return {"name": of.title, "definition": of.uri, "description": of.definition, "properties": about}


def _observation(store: Store, about: tuple[str, DeliveredWell, int | dict[str, Any]]) -> dict[str, Any]:
    stream, _, place = about
    series = store.streams[stream][1]
    if isinstance(place, dict):
        return _logged(place)
    if not isinstance(series, DeliveredSeries):
        raise TypeError(f"{stream} is a logger's: its observations are rows, not places")
    value, quality = series.values_m[place], series.quality[place]
    parameters: dict[str, Any] = {"expanded_uncertainty_m": series.expanded_m[place]}
    if series.bounds_m and series.bounds_m[place] is not None:
        parameters["deeper_than_m"] = series.bounds_m[place]
    if series.ids:
        parameters |= _reading(store, store.rows[series.ids[place]], series)
    return {
        "phenomenonTime": series.times[place],
        "resultTime": series.times[place],
        "result": value if value is None or math.isfinite(value) else None,
        "resultQuality": {"word": quality, "uri": quality_uri(quality), "qartod_flag": QARTOD[quality]},
        "parameters": parameters,
    }


def _logged(row: dict[str, Any]) -> dict[str, Any]:
    """A row of a logger, or a daily mean."""
    more = ("rows", "share", "shallowest_m", "deepest_m")
    return {
        "phenomenonTime": row["time"],
        "resultTime": row["time"],
        "result": row["value_m"],
        "resultQuality": {"word": row["quality"], "uri": quality_uri(row["quality"]), "qartod_flag": row["flag"]},
        "parameters": {"u_m": row["u_m"], "expanded_uncertainty_m": row["expanded_m"]}
        | {name: row[name] for name in more if name in row},
    }


def _reading(store: Store, row: Delivered, series: DeliveredSeries) -> dict[str, Any]:
    result = row.result(BY_KEY[series.quantity].stage)
    shown: dict[str, Any] = {
        "method": row.method,
        "use": row.use,
        "goes_on": seen_words(row.seen),
        "hours_since_pump": hours_since_pump(row.seen, row.entry.measured_at),
        "time_of_day_known": row.time_known,
        "findings": list(dict.fromkeys(one.check for one in row.findings)),
        "measuring_point": row.point.name if row.point else None,
    }
    for unit in store.delivery.units:
        shown[f"said_{unit}"] = said_result(result, row.value.digits, unit) if result and row.value else said(row, unit)
        if result and row.value:
            shown[f"rounded_{unit}"] = reported(result, row.value.digits, unit)
            shown[f"expanded_rounded_{unit}"] = reported_expanded(result, row.value.digits, unit)
    return shown


def _feature(_store: Store, well: DeliveredWell) -> dict[str, Any]:
    place = map_place(well)
    nowhere = {"type": "GeometryCollection", "geometries": list[Any]()}
    return {
        "name": well.code,
        "description": f"ground water at well {well.code}",
        "encodingType": _GEOJSON,
        "feature": {"type": "Point", "coordinates": list(place)} if place else nowhere,
    }


_DATA: dict[str, Callable[[Store, Any], dict[str, Any]]] = {
    "Things": _thing,
    "Locations": _location,
    "HistoricalLocations": _historical,
    "Datastreams": _stream,
    "Sensors": _sensor,
    "ObservedProperties": _property,
    "Observations": _observation,
    "FeaturesOfInterest": _feature,
}
