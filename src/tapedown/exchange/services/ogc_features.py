"""A delivery as OGC API Features: two collections, wells and readings, and the documents that tell of them.

Nothing here knows of HTTP; a request's parameters come in as text and an answer goes out as plain data.

References
----------
OGC 17-069r4 (Part 1: Core) and 18-058r1 (Part 2: Coordinate Reference Systems by Reference).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cached_property
from typing import Any, NamedTuple
from urllib.parse import quote, urlencode

from tapedown.exchange.delivery.columns import Flat
from tapedown.exchange.delivery.contents import Delivery
from tapedown.exchange.delivery.features import feature, map_place, plain_cell
from tapedown.exchange.delivery.tables import readings, wells
from tapedown.exchange.services.map_systems import CRS84, MapSystem, Place, Systems, systems_for
from tapedown.values.settings import Settings
from tapedown.values.times import in_utc

DEFAULT_LIMIT, MOST_LIMIT = 100, 10_000
GEOJSON = "application/geo+json"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
_CORE = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf"
CONFORMANCE = (
    f"{_CORE}/core", f"{_CORE}/geojson", f"{_CORE}/oas30", "http://www.opengis.net/spec/ogcapi-features-2/1.0/conf/crs",
)  # fmt: skip
ITEM_PARAMETERS = ("limit", "offset", "bbox", "bbox-crs", "datetime", "crs")


class BadRequest(Exception):
    """A parameter that cannot be read: why, which one, and the mend."""

    def __init__(self, why: str, parameter: str = "", mend: str = "see the description of the service") -> None:
        super().__init__(why)
        self.parameter, self.mend = parameter, mend


class NoSuchItem(Exception):
    """No such collection or feature."""


class Collection(NamedTuple):
    """A collection: its table, and for each row its id, its place and its time (begin and end alike)."""

    id: str
    title: str
    description: str
    table: Flat
    ids: list[str]
    places: list[tuple[float, float] | None]
    times: list[datetime | None]


class Box(NamedTuple):
    """A box in a system, the coordinates that run east before those that run north."""

    system: MapSystem
    west: float
    south: float
    east: float
    north: float


class ItemsQuery(NamedTuple):
    """Parameters of a question for items, read."""

    limit: int
    offset: int
    box: Box | None
    begin: datetime | None
    end: datetime | None
    crs: MapSystem
    timed: bool


class FeatureStore:
    """The collections of a delivery, made as they are asked for."""

    def __init__(self, delivery: Delivery) -> None:
        self.delivery = delivery
        self._places: dict[str, dict[Place, Place | None]] = {}

    @cached_property
    def systems(self) -> Systems:
        """Systems of coordinates answered in."""
        facts = self.delivery.network
        changed = {row.name: row.value for row in facts.settings}
        return systems_for(Settings(facts.length_unit, changed).text("map_systems"))

    def places_in(self, system: MapSystem) -> dict[Place, Place | None]:
        """Where the places of wells lie in a system."""
        if system.uri not in self._places:
            self._places[system.uri] = system.places({place for place in self.wells.places if place})
        return self._places[system.uri]

    @cached_property
    def wells(self) -> Collection:
        """Wells with their last state."""
        table, listed = wells(self.delivery), self.delivery.wells
        at = next(p for p, column in enumerate(table.columns) if column.name == "last_water_level_time")
        times = [in_utc(row[at]) for row in table.rows]
        codes = [well.code for well in listed]
        return Collection("wells", "Wells", table.meaning, table, codes, [map_place(well) for well in listed], times)

    @cached_property
    def readings(self) -> Collection:
        """Readings worked out, each at the place of its well."""
        table = readings(self.delivery)
        rows = [(map_place(well), row.entry.id, row.time) for well in self.delivery.wells for row in well.readings]
        times = [in_utc(time) for _, _, time in rows]
        ids, places = [identity for _, identity, _ in rows], [place for place, _, _ in rows]
        return Collection("readings", "Readings", table.meaning, table, ids, places, times)

    def collection(self, name: str) -> Collection:
        """A collection by its id. Raises NoSuchItem."""
        if name not in {"wells", "readings"}:
            raise NoSuchItem
        features: Collection = getattr(self, name)
        return features

    @cached_property
    def _places_in(self) -> dict[str, dict[str, int]]:
        return {}

    def place_of(self, found: Collection, identity: str) -> int:
        """The row of a feature. Raises NoSuchItem."""
        at = self._places_in.setdefault(found.id, {})
        if not at:
            at.update({one: place for place, one in enumerate(found.ids)})
        if identity not in at:
            raise NoSuchItem
        return at[identity]


def read_asked(given: Sequence[tuple[str, str]], systems: Systems) -> ItemsQuery:
    """Read the parameters of a question for items.

    Raises
    ------
    BadRequest
        One is not known (7.15 of Part 1: an unknown one is refused), stands twice, or cannot be read.
    """
    parameters: dict[str, str] = {}
    for name, value in given:
        if name not in ITEM_PARAMETERS:
            raise BadRequest(f"{name[:40]!r} is no parameter; known: {', '.join(ITEM_PARAMETERS)}", name[:40])
        if name in parameters:
            raise BadRequest(f"{name} stands twice", name)
        parameters[name] = value
    box_system = _system("bbox-crs", parameters, systems)
    begin, end = _interval(parameters["datetime"]) if "datetime" in parameters else (None, None)
    return ItemsQuery(
        min(_whole("limit", parameters.get("limit", str(DEFAULT_LIMIT)), 1), MOST_LIMIT),
        _whole("offset", parameters.get("offset", "0"), 0),
        _box(parameters["bbox"], box_system) if "bbox" in parameters else None,
        begin,
        end,
        _system("crs", parameters, systems),
        "datetime" in parameters,
    )


def _whole(name: str, text: str, least: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 10 and int(text) >= least):
        raise BadRequest(f"{name} is {text[:20]!r}, not a whole number from {least} on", name)
    return int(text)


def _system(name: str, parameters: Mapping[str, str], systems: Systems) -> MapSystem:
    uri = parameters.get(name, CRS84)
    if uri not in systems.offered:
        raise BadRequest(f"{name} is {uri[:80]!r}, which is not answered in", name,
                         f"write one of: {', '.join(systems.offered)}")  # fmt: skip
    return systems.offered[uri]


def _box(text: str, system: MapSystem) -> Box:
    try:
        numbers = [float(part) for part in text.split(",")]
    except ValueError:
        numbers = []
    if len(numbers) == 6:
        numbers = [*numbers[:2], *numbers[3:5]]
    if len(numbers) != 4 or not all(math.isfinite(n) for n in numbers):
        raise BadRequest(f"bbox is {text[:60]!r}, not four numbers: west, south, east, north", "bbox")
    (west, south), (east, north) = system.turned(*numbers[:2]), system.turned(*numbers[2:])
    if south > north or (west > east and system.project):
        raise BadRequest("bbox: it ends before it begins; its lower corner comes first", "bbox")
    return Box(system, west, south, east, north)


def _interval(text: str) -> tuple[datetime | None, datetime | None]:
    first, cut, second = text.partition("/")
    try:
        begin = _end_of(first, late=False)
        end = _end_of(second if cut else first, late=True)
    except ValueError:
        raise BadRequest(
            f"datetime is {text[:60]!r}, not a time or an interval such as 2026-01-01/..", "datetime"
        ) from None
    if (not cut and begin is None) or (begin and end and begin > end):
        raise BadRequest(f"datetime is {text[:60]!r}: it ends before it begins", "datetime")
    return begin, end


def _end_of(text: str, *, late: bool) -> datetime | None:
    if text in {"", ".."}:
        return None
    moment = datetime.fromisoformat(text)
    if len(text) == 10 and late:
        moment = moment.replace(hour=23, minute=59, second=59, microsecond=999_999)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)


def chosen(store: FeatureStore, found: Collection, asked: ItemsQuery) -> Sequence[int]:
    """Rows of a collection that a question asks for, on all pages."""
    if asked.box is None and not asked.timed:
        return range(len(found.ids))
    tests: list[Callable[[int], bool]] = []
    if asked.box is not None:
        box, lies = asked.box, store.places_in(asked.box.system)
        tests.append(lambda row: _in_box(found.places[row], lies, box))
    if asked.timed:
        tests.append(lambda row: _in_time(found.times[row], asked))
    return [row for row in range(len(found.ids)) if all(test(row) for test in tests)]


def _in_box(at: Place | None, lies: Mapping[Place, Place | None], box: Box) -> bool:
    place = lies[at] if at else None
    if place is None:
        return False
    x, y = place
    west, east = box.west, box.east
    across = west <= x <= east if west <= east else (x >= west or x <= east)  # a box over the antimeridian
    return across and box.south <= y <= box.north


def _in_time(time: datetime | None, asked: ItemsQuery) -> bool:
    """A feature without a time is not left out (7.15.4 of Part 1)."""
    return time is None or ((asked.begin is None or time >= asked.begin) and (asked.end is None or time <= asked.end))


def one_feature(store: FeatureStore, found: Collection, row: int, system: MapSystem) -> dict[str, Any]:
    """A feature as GeoJSON, its coordinates as `system` has them; without a place where that cannot show it."""
    at = found.places[row]
    place = store.places_in(system)[at] if at else None
    names = [column.name for column in found.table.columns]
    properties = {name: plain_cell(cell) for name, cell in zip(names, found.table.rows[row])}
    return feature(found.ids[row], system.turned(*place) if place else None, properties)


def items(store: FeatureStore, name: str, given: Sequence[tuple[str, str]], base: str) -> dict[str, Any]:
    """A page of features.

    Raises
    ------
    BadRequest, NoSuchItem
    """
    features, asked = store.collection(name), read_asked(given, store.systems)
    rows = chosen(store, features, asked)
    page = rows[asked.offset : asked.offset + asked.limit]
    here = f"{base}/collections/{name}/items"
    links = [_link("self", f"{here}?{urlencode(list(given))}" if given else here, GEOJSON, "this page"),
             _link("collection", f"{base}/collections/{name}", "application/json", features.title)]  # fmt: skip
    if asked.offset + asked.limit < len(rows):
        links.append(_link("next", _page(here, given, asked.offset + asked.limit), GEOJSON, "next page"))
    if asked.offset:
        links.append(_link("prev", _page(here, given, max(0, asked.offset - asked.limit)), GEOJSON, "page before"))
    return {
        "type": "FeatureCollection",
        "features": [one_feature(store, features, row, asked.crs) for row in page],
        "links": links,
        "timeStamp": store.delivery.made_at,
        "numberMatched": len(rows),
        "numberReturned": len(page),
    }


def _page(here: str, given: Sequence[tuple[str, str]], offset: int) -> str:
    return f"{here}?{urlencode([*((n, v) for n, v in given if n != 'offset'), ('offset', str(offset))])}"


def item(store: FeatureStore, name: str, identity: str, given: Mapping[str, str], base: str) -> dict[str, Any]:
    """One feature with its links.

    Raises
    ------
    BadRequest, NoSuchItem
    """
    features = store.collection(name)
    for key in given:
        if key != "crs":
            raise BadRequest(f"{key[:40]!r} is no parameter; known: crs", key[:40])
    system = _system("crs", given, store.systems)
    answer = one_feature(store, features, store.place_of(features, identity), system)
    here = f"{base}/collections/{name}"
    answer["links"] = [
        _link("self", f"{here}/items/{quote(identity, safe='')}", GEOJSON, "this feature"),
        _link("collection", here, "application/json", features.title),
    ]
    return answer


def _link(rel: str, href: str, kind: str, title: str) -> dict[str, str]:
    return {"rel": rel, "href": href, "type": kind, "title": title}


def landing(store: FeatureStore, base: str) -> dict[str, Any]:
    """The first page."""
    return {
        "title": store.delivery.network.name,
        "description": "; not answered in ".join((store.delivery.title, *store.systems.left_out)),
        "links": [
            _link("self", base, "application/json", "this page"),
            _link("service-desc", f"{base}/api", OPENAPI, "the service in OpenAPI 3.0"),
            _link("service-doc", f"{base}/api", OPENAPI, "the service in OpenAPI 3.0"),
            _link("conformance", f"{base}/conformance", "application/json", "what it conforms to"),
            _link("data", f"{base}/collections", "application/json", "wells and readings"),
        ],
    }


def collections(store: FeatureStore, base: str) -> dict[str, Any]:
    """The collections."""
    return {
        "links": [_link("self", f"{base}/collections", "application/json", "this page")],
        "collections": [collection(store, name, base) for name in ("wells", "readings")],
        "crs": list(store.systems.offered),
    }


def collection(store: FeatureStore, name: str, base: str) -> dict[str, Any]:
    """One collection. Raises NoSuchItem."""
    features = store.collection(name)
    here = f"{base}/collections/{name}"
    extent: dict[str, Any] = {}
    if places := [place for place in features.places if place]:
        east, north = [place[0] for place in places], [place[1] for place in places]
        extent["spatial"] = {"bbox": [[min(east), min(north), max(east), max(north)]], "crs": CRS84}
    if times := [time for time in features.times if time]:
        interval = [f"{time:%Y-%m-%dT%H:%M:%SZ}" for time in (min(times), max(times))]
        extent["temporal"] = {"interval": [interval], "trs": "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian"}
    return {
        "id": features.id,
        "title": features.title,
        "description": features.description,
        "itemType": "feature",
        "extent": extent,
        "crs": list(store.systems.offered),
        "storageCrs": CRS84,
        "links": [
            _link("self", here, "application/json", features.title),
            _link("items", f"{here}/items", GEOJSON, f"{features.title} as GeoJSON"),
        ],
    }
