"""What was found in somebody's package: tables with what their columns mean, and what is not taken, with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from tapedown.exchange.mapping import Meaning, Status, TableMapping
from tapedown.exchange.mapping_file import read_mapping
from tapedown.exchange.quantities import BY_KEY, Quantity
from tapedown.exchange.tables import Row, Table
from tapedown.values.conditions import BY_WORD
from tapedown.values.results import BELOW_LAND, BELOW_POINT


class Incoming(NamedTuple):
    """A table to be taken in by a mapping. `name` says where it comes from."""

    name: str
    table: Table
    mapping: TableMapping


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
    """A reading that others wrote: cells as text. `found` is a word of `Meaning`s, "" for nothing said."""

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
    NOT_REACHED: Meaning(("dry",), no_reading="the water was not reached"),
    NOT_READ: Meaning(no_reading="no value was given"),
}


def incoming_readings(name: str, quantity: str, rows: Iterable[ReadingRow], *, datum: str = "") -> Incoming:
    """A table of readings of one quantity (key of exchange.quantities); `datum` is that of elevations."""
    listed = list(rows)
    words = _MEANINGS | {row.found: _conditions(row.found) for row in listed if row.found not in {"", *_MEANINGS}}
    table = Table(_READING_HEADER, [Row(r.number, () if r.problem else r[1:8], r.problem, r.mend) for r in listed])
    mapping = read_mapping(_reading_mapping(BY_KEY[quantity], datum), name)
    return Incoming(name, table, mapping._replace(status=Status("found", words)))


def _conditions(found: str) -> Meaning:
    """Conditions with semicolons between; a word that is not one of ours is said in the remarks."""
    words = [word.strip() for word in found.split(";") if word.strip()]
    known = tuple(word for word in words if word in BY_WORD)
    return Meaning(known, note="; ".join(word for word in words if word not in BY_WORD))


def _reading_mapping(of: Quantity, datum: str) -> bytes:
    reference = {BELOW_LAND: BELOW_LAND.removeprefix("depth "), BELOW_POINT: BELOW_POINT.removeprefix("depth ")}
    more = f'vertical_datum = "{datum.translate(_TOML)}"' if of.positive == "up" else 'positive = "down"'
    return _READINGS.format(reference=reference.get(of.stage, "elevation"), what=of.what, more=more).encode()


_TOML = {ord('"'): "'", ord("\\"): "/", **dict.fromkeys((*range(32), 127), " ")}

_WELL_HEADER = (
    "well", "name", "place", "use", "aquifer", "latitude", "longitude", "horizontal datum", "position method",
    "land surface", "u land surface", "vertical datum", "elevation method", "completed depth", "hole depth",
)  # fmt: skip
_WELLS = b"""\
makes = "wells"
length_unit = "m"
[well]
code = "well"
name = "name"
place = "place"
use = "use"
aquifer = "aquifer"
[position]
latitude = "latitude"
longitude = "longitude"
horizontal_datum = "horizontal datum"
position_method = "position method"
land_surface = "land surface"
u_elevation = { column = "u land surface", means = "standard uncertainty" }
vertical_datum = "vertical datum"
elevation_method = "elevation method"
[construction]
completed_depth = "completed depth"
hole_depth = "hole depth"
"""


def incoming_wells(name: str, rows: Iterable[tuple[int, Mapping[str, str]]]) -> Incoming:
    """A table of wells: number of the line, and cells by the names of `_WELL_HEADER`; lengths in m or with a unit."""
    listed = [Row(number, [cells.get(column, "") for column in _WELL_HEADER]) for number, cells in rows]
    return Incoming(name, Table(_WELL_HEADER, listed), read_mapping(_WELLS, name))


_SCREEN_HEADER = ("well", "top", "bottom", "inside diameter", "material", "remarks")
_SCREENS = b"""\
makes = "screens"
length_unit = "m"
[well]
code = "well"
[screen]
top = "top"
bottom = "bottom"
inside_diameter = "inside diameter"
material = "material"
remarks = "remarks"
"""


def incoming_screens(name: str, rows: Iterable[tuple[int, Mapping[str, str]]]) -> Incoming:
    """A table of screens: number of the line, and cells by the names of `_SCREEN_HEADER`."""
    listed = [Row(number, [cells.get(column, "") for column in _SCREEN_HEADER]) for number, cells in rows]
    return Incoming(name, Table(_SCREEN_HEADER, listed), read_mapping(_SCREENS, name))
