"""What was found in somebody's package: tables with what their columns mean, and what is not taken, with the reason."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from tapedown.exchange.delivery.quantities import BY_KEY, Quantity
from tapedown.exchange.tables.mapping import Meaning, Status, TableMapping
from tapedown.exchange.tables.mapping_file import read_mapping
from tapedown.exchange.tables.reading import Table, TableRow
from tapedown.values.results import BELOW_LAND, BELOW_POINT
from tapedown.values.seen import NOT_REACHED as WATER_NOT_REACHED
from tapedown.values.seen import NOTHING_SEEN, Seen


class Incoming(NamedTuple):
    """A table to be taken in by a mapping. `name` says where it comes from.

    ids  number of a line -> id of the entry it was made of, where the table tells it
    """

    name: str
    table: Table
    mapping: TableMapping
    ids: Mapping[int, str] = {}


class NotTaken(NamedTuple):
    """Something in a package that is not taken in: what, how many lines of it, why, and the mend."""

    name: str
    lines: int
    why: str
    mend: str


class Found(NamedTuple):
    """Everything a package holds, in the order it is to be taken in."""

    tables: tuple[Incoming, ...]
    not_taken: tuple[NotTaken, ...]


class ReadingRow(NamedTuple):
    """A reading that others wrote: cells as text. `found` names what `seen` says, "" for nothing said."""

    number: int
    well: str
    time: str
    value: str
    u: str = ""
    how: str = ""
    remarks: str = ""
    found: str = ""
    problem: str = ""
    mend: str = ""
    seen: Seen = NOTHING_SEEN


_READING_HEADER = ("well", "time", "value", "u", "how", "remarks", "found")
_READINGS = """\
makes = "readings"
length_unit = "m"
[well]
code = "well"
new_wells = true
[time]
date = "time"
zone = "written"
[reading]
value = "value"
reference = "{reference}"
what = "{what}"
how = "how"
u = {{ column = "u", means = "standard uncertainty" }}
remarks = "remarks"
{more}
"""
NOT_REACHED, NOT_READ = "not reached", "not read"
_MEANINGS = {
    NOT_REACHED: Meaning(Seen(water=(WATER_NOT_REACHED,))),
    NOT_READ: Meaning(no_reading="no value was given"),
}


def incoming_readings(name: str, quantity: str, rows: Iterable[ReadingRow], *, datum: str = "") -> Incoming:
    """A table of readings of one quantity (key of exchange.delivery.quantities); `datum` is that of elevations."""
    listed = list(rows)
    words = _MEANINGS | {row.found: Meaning(row.seen) for row in listed if row.found not in {"", *_MEANINGS}}
    table = Table(_READING_HEADER, [TableRow(r.number, () if r.problem else r[1:8], r.problem, r.mend) for r in listed])
    mapping = read_mapping(_reading_mapping(BY_KEY[quantity], datum), name)
    return Incoming(name, table, mapping._replace(status=Status("found", words)))


def _reading_mapping(of: Quantity, datum: str) -> bytes:
    reference = {BELOW_LAND: BELOW_LAND.removeprefix("depth "), BELOW_POINT: BELOW_POINT.removeprefix("depth ")}
    more = f'vertical_datum = "{datum.translate(_TOML)}"' if of.positive == "up" else 'positive = "down"'
    return _READINGS.format(reference=reference.get(of.stage, "elevation"), what=of.what, more=more).encode()


_TOML = {ord('"'): "'", ord("\\"): "/", **dict.fromkeys((*range(32), 127), " ")}

_WELL_HEADER = (
    "well", "name", "place", "use", "aquifer", "latitude", "longitude", "horizontal datum", "position method",
    "land surface", "u land surface", "vertical datum", "elevation method", "completed depth", "hole depth",
)  # fmt: skip
_WELLS = """\
makes = "wells"
length_unit = "m"
[well]
code = "well"
name = "name"
place = "place"
use = "use"
aquifer = "aquifer"
{more}
[position]
latitude = "latitude"
longitude = "longitude"
horizontal_datum = "horizontal datum"
position_method = "position method"
land_surface = "land surface"
u_elevation = {{ column = "u land surface", means = "standard uncertainty" }}
vertical_datum = "vertical datum"
elevation_method = "elevation method"
[construction]
completed_depth = "completed depth"
hole_depth = "hole depth"
"""


Told = Iterable[tuple[TableRow, Mapping[str, str]]]
"""Rows, and their cells by the names of a header; a row with a problem is set aside with it."""


def incoming_wells(name: str, rows: Told) -> Incoming:
    """A table of wells: cells by the names of `_WELL_HEADER`; lengths in m or with a unit.

    A cell "other names" holds names with semicolons between them.
    """
    listed = [(row, cells, _names(cells.get("other names", ""))) for row, cells in rows]
    columns = tuple(f"other name {number}" for number in range(1, max((len(n) for _, _, n in listed), default=0) + 1))
    more = f"other_names = {json.dumps(columns)}" if columns else ""
    told = [(row, {**cells, **dict(zip(columns, names))}) for row, cells, names in listed]
    return _incoming(name, (*_WELL_HEADER, *columns), told, _WELLS.format(more=more).encode())


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(";") if name.strip()]


def _incoming(name: str, header: tuple[str, ...], rows: Told, mapping: bytes) -> Incoming:
    listed = [row if row.problem else TableRow(row.number, [cells.get(c, "") for c in header]) for row, cells in rows]
    return Incoming(name, Table(header, listed), read_mapping(mapping, name))


_POINT_HEADER = ("well", "name", "since", "height", "u height", "description", "why")
_POINTS = b"""\
makes = "points"
length_unit = "m"
[well]
code = "well"
[time]
date = "since"
zone = "written"
[point]
name = "name"
height = "height"
positive = "above land surface"
u_height = { column = "u height", means = "standard uncertainty" }
description = "description"
why = "why"
"""


def incoming_points(name: str, rows: Told) -> Incoming:
    """A table of measuring points: cells by the names of `_POINT_HEADER`; heights positive above land surface."""
    return _incoming(name, _POINT_HEADER, rows, _POINTS)


_LENGTH_HEADER = ("well", "top", "bottom", "inside diameter", "material", "remarks")
_LENGTHS = """\
makes = "{what}s"
length_unit = "m"
[well]
code = "well"
[{what}]
top = "top"
bottom = "bottom"
inside_diameter = "inside diameter"
material = "material"
remarks = "remarks"
"""


def incoming_lengths(name: str, what: str, rows: Told) -> Incoming:
    """A table of lengths of "casing" or "screen": cells by the names of `_LENGTH_HEADER`."""
    return _incoming(name, _LENGTH_HEADER, rows, _LENGTHS.format(what=what).encode())
