"""A Data Package from others -> its tables. Our own are known by their columns; another's needs a mapping file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from tapedown.exchange.csv_package import ESCAPING, plain_text
from tapedown.exchange.delivery import BOTTOM
from tapedown.exchange.incoming import (
    NOT_REACHED,
    NOT_READ,
    Found,
    Incoming,
    NotTaken,
    ReadingRow,
    incoming_readings,
    incoming_screens,
    incoming_wells,
)
from tapedown.exchange.manifest import is_inside
from tapedown.exchange.mapping import TableMapping
from tapedown.exchange.strict_json import NotJson, strict_json
from tapedown.exchange.table_errors import NotATable
from tapedown.exchange.tables import Row, Table, read_table
from tapedown.values.conditions import DEEPER_THAN

DESCRIPTOR = "datapackage.json"
LARGEST_DESCRIPTOR = 20_000_000
Read = Callable[[str], bytes]
"""The bytes of a file of the package, by its path."""


class Resource(NamedTuple):
    """A table of a package: its name, its file, how it is written."""

    name: str
    path: str
    delimiter: str
    blanks: tuple[str, ...]


class Descriptor(NamedTuple):
    """What a descriptor says: tables, things that are not tables, and whether it is one of ours."""

    tables: tuple[Resource, ...]
    not_taken: tuple[NotTaken, ...]
    ours: bool


def read_descriptor(data: bytes) -> Descriptor:
    """Read a descriptor, v1 or v2.

    Raises
    ------
    NotATable
    """
    try:
        told = strict_json(data, largest=LARGEST_DESCRIPTOR)
    except NotJson as error:
        raise NotATable(f"{DESCRIPTOR}: {error}", hint="ask for the package again") from None
    resources = told.get("resources") if isinstance(told, dict) else None
    if not isinstance(resources, list) or not resources or not all(isinstance(r, dict) for r in resources):
        raise NotATable(f"{DESCRIPTOR} lists no resources", hint="is this a Data Package?")
    read = [_resource(resource, number) for number, resource in enumerate(resources, 1)]
    tables = tuple(one for one in read if isinstance(one, Resource))
    return Descriptor(tables, tuple(o for o in read if isinstance(o, NotTaken)), told.get("escaping") == ESCAPING)


def _resource(told: Mapping[str, Any], number: int) -> Resource | NotTaken:
    name = str(told.get("name") or f"resource {number}")
    path = told.get("path")
    if isinstance(path, list) and len(path) == 1:
        path = path[0]
    if not isinstance(path, str):
        return NotTaken(name, 0, "it is not one file of the package", "ask for each table as one CSV file")
    if not is_inside(path):
        return NotTaken(name, 0, f"its file {path[:80]!r} does not lie in the package", "fetch it and put it there")
    if not path.lower().endswith((".csv", ".txt", ".tsv", ".xlsx")):
        return NotTaken(name, 0, f"{path[:80]} is not a table we read", "ask for it as CSV")
    dialect, schema = told.get("dialect"), told.get("schema")
    delimiter = dialect.get("delimiter", "") if isinstance(dialect, dict) else ""
    missing = schema.get("missingValues", ()) if isinstance(schema, dict) else ()
    blanks = [m.get("value") if isinstance(m, dict) else m for m in missing] if isinstance(missing, list) else []
    said = tuple(b for b in blanks if isinstance(b, str))
    return Resource(name, path, delimiter if isinstance(delimiter, str) and len(delimiter) == 1 else "", said)


def read_data_package(descriptor: Descriptor, read: Read, mappings: Mapping[str, TableMapping]) -> Found:
    """The tables of a package, each with what its columns mean.

    Parameters
    ----------
    read : gives the bytes of a file of the package
    mappings : name of a table -> its mapping, for tables that are not ours

    Raises
    ------
    NotATable, TableTooLarge
    """
    tables: list[Incoming] = []
    aside = list(descriptor.not_taken)
    for resource in sorted(descriptor.tables, key=lambda r: _ORDER.get(r.name, len(_ORDER))):
        if resource.name in mappings:
            mapping = mappings[resource.name]
            blanks = mapping.blanks | set(resource.blanks)
            table = read_table(read(resource.path), header_row=mapping.header_row, sheet=mapping.sheet,
                               delimiter=mapping.delimiter or resource.delimiter)  # fmt: skip
            tables.append(Incoming(resource.name, table, mapping._replace(blanks=blanks)))
            continue
        table = read_table(read(resource.path), delimiter=resource.delimiter)
        maker = _OURS.get(resource.name) if descriptor.ours else None
        if maker is None:
            aside.append(_unknown(resource.name, table, ours=descriptor.ours))
        else:
            found = list(maker(resource.name, _Cells(table)))
            tables += [one for one in found if isinstance(one, Incoming)]
            aside += [one for one in found if isinstance(one, NotTaken)]
    return Found(tuple(tables), tuple(aside))


def _unknown(name: str, table: Table, *, ours: bool) -> NotTaken:
    if ours:
        return NotTaken(name, len(table.rows), _LEFT.get(name, "it is not known here"), "nothing to do")
    columns = ", ".join(table.header[:12])
    mend = f"write a mapping file for it and name both: --table {name} --mapping FILE (columns: {columns})"
    return NotTaken(name, len(table.rows), "what its columns mean is not known", mend)


_LEFT = {
    "findings": "findings are worked out anew",
    "measuring-points": "values are taken below land surface, so the points are not needed",
}


class _Cells:
    """Rows of one of our own tables by column name, escapes taken away."""

    def __init__(self, table: Table) -> None:
        self.table = table

    def rows(self) -> Iterator[tuple[Row, dict[str, str]]]:
        """Each row with its cells; cells are {} where the row cannot be read."""
        for row in self.table.rows:
            yield row, {name: plain_text(cell) for name, cell in zip(self.table.header, row.cells)}


_ORDER = {"wells": 0, "intervals": 1, "readings": 2}


def _wells(name: str, cells: _Cells) -> Iterator[Incoming | NotTaken]:
    told = {
        "well": "well", "name": "name", "place": "place", "use": "use", "aquifer": "aquifer",
        "latitude": "latitude_deg", "longitude": "longitude_deg", "horizontal datum": "horizontal_datum",
        "position method": "position_method", "land surface": "land_surface_elevation_m",
        "u land surface": "u_land_surface_elevation_m", "vertical datum": "vertical_datum",
        "elevation method": "elevation_method", "completed depth": "completed_depth_m", "hole depth": "hole_depth_m",
    }  # fmt: skip
    rows = [(row.number, {ours: found.get(theirs, "") for ours, theirs in told.items()}) for row, found in cells.rows()]
    yield incoming_wells(name, rows)


def _intervals(name: str, cells: _Cells) -> Iterator[Incoming | NotTaken]:
    rows = [(row.number, found) for row, found in cells.rows()]
    screens = [
        (number, {"well": f.get("well", ""), "top": f.get("top_m", ""), "bottom": f.get("bottom_m", ""),
                  "inside diameter": f"{f['inside_diameter_m']} m" if f.get("inside_diameter_m") else "",
                  "material": f.get("material", ""), "remarks": f.get("remarks", "")})
        for number, f in rows
        if f.get("what") == "screen"
    ]  # fmt: skip
    if screens:
        yield incoming_screens(name, screens)
    if len(screens) < len(rows):
        yield NotTaken(f"{name}, casing", len(rows) - len(screens), "a table brings screens only", "enter the casing")


def _readings(name: str, cells: _Cells) -> Iterator[Incoming | NotTaken]:
    unit = next((u for u in ("ft", "m") if f"depth_below_land_surface_rounded_{u}" in cells.table.header), "m")
    rows: dict[str, list[ReadingRow]] = {}
    for row, found in cells.rows():
        bottom = found.get("quantity") == BOTTOM
        key = "total_depth_below_land_surface" if bottom else "depth_to_water_below_land_surface"
        if not found.get("depth_below_land_surface_m") and found.get("depth_below_measuring_point_m") and not bottom:
            key = "depth_to_water_below_measuring_point"
        rows.setdefault(key, []).append(_reading(row, found, key, unit))
    for key, listed in rows.items():
        yield incoming_readings(f"{name}, {key.replace('_', ' ')}", key, listed)


def _reading(row: Row, found: Mapping[str, str], key: str, unit: str) -> ReadingRow:
    if row.problem:
        return ReadingRow(row.number, "", "", "", problem=row.problem, mend=row.mend)
    stage = "below_measuring_point" if key.endswith("measuring_point") else "below_land_surface"
    value, u = found.get(f"depth_{stage}_rounded_{unit}", ""), found.get(f"u_depth_{stage}_m", "")
    time = found.get("time", "")
    time = time if found.get("time_of_day_known") != "false" else time[:10]
    bound, quality = found.get("tape_reached_below_land_surface_m", ""), found.get("quality", "")
    said = found.get("conditions", "")
    if not value and found.get("use") == DEEPER_THAN:
        said = NOT_REACHED
    elif not value and not said:
        said = NOT_READ
    remarks = [
        found.get("remarks", ""),
        f"quality {quality}" if quality not in {"", "good", "missing"} else "",
        f"tape reached {bound} m below land surface" if bound else "",
    ]
    how = "; ".join(filter(None, (found.get("method", ""), found.get("use", ""))))
    return ReadingRow(
        row.number, found.get("well", ""), time, f"{value} {unit}" if value else "", f"{u} m" if u and value else "",
        how, "; ".join(filter(None, remarks)), said,
    )  # fmt: skip


_OURS: dict[str, Callable[[str, _Cells], Iterator[Incoming | NotTaken]]] = {
    "wells": _wells,
    "intervals": _intervals,
    "readings": _readings,
}
