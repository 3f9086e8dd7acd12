"""What was found in somebody's package: tables with what their columns mean, and what is not taken, with the reason."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from tapedown.exchange.delivery.quantities import BY_KEY
from tapedown.exchange.tables.mapping import Meaning, Status, TableMapping
from tapedown.exchange.tables.mapping_file import mapping_said
from tapedown.exchange.tables.reading import Table, TableRow
from tapedown.values.ledger.entries import canonical
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
    of = BY_KEY[quantity]
    reading = {
        "value": "value",
        "reference": of.stage.removeprefix("depth ") if of.stage in (BELOW_LAND, BELOW_POINT) else "elevation",
        "what": of.what,
        "how": "how",
        "u": _u("u"),
        "remarks": "remarks",
        **({"vertical_datum": _printable(datum)} if of.positive == "up" else {"positive": "down"}),
    }
    mapping = _mapping(name, "readings", well={"new_wells": True}, time=_time("time"), reading=reading)
    return Incoming(name, table, mapping._replace(status=Status("found", words)))


def _mapping(name: str, makes: str, *, well: Mapping[str, Any] = {}, **sections: Mapping[str, Any]) -> TableMapping:
    """What a mapping file would say of our own columns; lengths without a unit are metres."""
    mapping = {"makes": makes, "length_unit": "m", "well": {"code": "well", **well}, **sections}
    return mapping_said(mapping, name, hashlib.sha256(canonical(mapping).encode()).hexdigest())


def _printable(text: str) -> str:
    return "".join(one if one.isprintable() else " " for one in text)


def _time(column: str) -> dict[str, str]:
    return {"date": column, "zone": "written"}


def _u(column: str) -> dict[str, str]:
    return {"column": column, "means": "standard uncertainty"}


_POSITION_HEADER = (
    "latitude", "longitude", "horizontal datum", "position method", "land surface", "vertical datum",
    "elevation method",
)  # fmt: skip
_CONSTRUCTION_HEADER = ("completed depth", "hole depth")
_WELL_HEADER = (
    "well", "name", "place", "use", "aquifer", *_POSITION_HEADER, "u land surface", *_CONSTRUCTION_HEADER,
)  # fmt: skip

Told = Iterable[tuple[TableRow, Mapping[str, str]]]
"""Rows, and their cells by the names of a header; a row with a problem is set aside with it."""


def incoming_wells(name: str, rows: Told) -> Incoming:
    """A table of wells: cells by the names of `_WELL_HEADER`; lengths in m or with a unit.

    A cell "other names" holds names with semicolons between them.
    """
    listed = [(row, cells, _names(cells.get("other names", ""))) for row, cells in rows]
    columns = tuple(f"other name {number}" for number in range(1, max((len(n) for _, _, n in listed), default=0) + 1))
    with_names = [(row, {**cells, **dict(zip(columns, names))}) for row, cells, names in listed]
    well = {**_same(_WELL_HEADER[1:5]), **({"other_names": list(columns)} if columns else {})}
    position = {**_same(_POSITION_HEADER), "u_elevation": _u("u land surface")}
    mapping = _mapping(name, "wells", well=well, position=position, construction=_same(_CONSTRUCTION_HEADER))
    return _incoming(name, (*_WELL_HEADER, *columns), with_names, mapping)


def _same(columns: Iterable[str]) -> dict[str, str]:
    """Fields that are named as their columns are."""
    return {column.replace(" ", "_"): column for column in columns}


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(";") if name.strip()]


def _incoming(name: str, header: tuple[str, ...], rows: Told, mapping: TableMapping) -> Incoming:
    listed = [row if row.problem else TableRow(row.number, [cells.get(c, "") for c in header]) for row, cells in rows]
    return Incoming(name, Table(header, listed), mapping)


_POINT_HEADER = ("well", "name", "since", "height", "u height", "description", "why")


def incoming_points(name: str, rows: Told) -> Incoming:
    """A table of measuring points: cells by the names of `_POINT_HEADER`; heights positive above land surface."""
    point = {
        "name": "name",
        "height": "height",
        "positive": "above land surface",
        "u_height": _u("u height"),
        "description": "description",
        "why": "why",
    }
    return _incoming(name, _POINT_HEADER, rows, _mapping(name, "points", time=_time("since"), point=point))


_LENGTH_HEADER = ("well", "top", "bottom", "inside diameter", "material", "remarks")


def incoming_lengths(name: str, what: str, rows: Told) -> Incoming:
    """A table of lengths of "casing" or "screen": cells by the names of `_LENGTH_HEADER`."""
    return _incoming(name, _LENGTH_HEADER, rows, _mapping(name, f"{what}s", **{what: _same(_LENGTH_HEADER[1:])}))
