"""The tables of a delivery read back: wells, measuring points, lengths of casing and screen, readings.

They are known by their columns, whichever format carries them (see delivery_tables). Lengths come in m; a reading
comes as it was reported, with what the table says of how it was read in words.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from zoneinfo import ZoneInfo

from tapedown.engine.checks.at_the_well import DEEPER_THAN
from tapedown.exchange.delivery.contents import BOTTOM
from tapedown.exchange.delivery.seen_columns import seen_from
from tapedown.exchange.packages.incoming import (
    NOT_REACHED,
    NOT_READ,
    Found,
    Incoming,
    NotTaken,
    ReadingRow,
    incoming_lengths,
    incoming_points,
    incoming_readings,
    incoming_wells,
)
from tapedown.exchange.tables.reading import TableRow
from tapedown.values.seen import NOT_REACHED as WATER_NOT_REACHED
from tapedown.values.seen import NOTHING_SEEN, SEEN
from tapedown.values.units import to_si

Cells = Mapping[str, str]
Numbered = Sequence[tuple[TableRow, Cells]]
"""Rows with their cells by column name; cells are {} where the row could not be read."""
NOISE_M = 9
"""Decimals of a length in m that may say something; what follows them is left by computing in ft."""
_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(\.[0-9]{1,30})?([eE][+-]?[0-9]{1,2})?")
NOT_CARRIED = NotTaken(
    "what these tables do not carry",
    0,
    "remarks and visiting intervals of wells, sources of their facts, the lean and survey of a hole, shifts of datum, "
    "notes on access, gear with its calibrations, and the readings behind each value",
    "ask for a delivery with the record's entries where they are wanted",
)
LEFT = {
    "findings": "findings are worked out anew",
    "logger-rows": "what a logger recorded comes in with its own file, or with the record's entries",
    "daily-means": "they are worked out anew from what the logger recorded",
}


class _Kind(NamedTuple):
    """A table of a delivery: the columns it is known by, and what makes tables to be taken in of it."""

    columns: frozenset[str]
    read: Callable[[str, Numbered], Iterator[Incoming]]


def delivered_tables(tables: Mapping[str, tuple[Sequence[str], Numbered]]) -> Found:
    """Tables by name, each as its header and rows -> what is to be taken in, wells first, and what is not."""
    incoming: list[Incoming] = []
    aside: list[NotTaken] = []
    for name in sorted(tables, key=lambda name: _ORDER.get(name, len(_ORDER))):
        header, rows = tables[name]
        if is_delivered(name, header):
            incoming += _KINDS[name].read(name, rows)
        else:
            why = LEFT.get(name, "what its columns mean is not known")
            aside.append(NotTaken(name, len(rows), why, "nothing to do"))
    return Found(tuple(incoming), (*aside, NOT_CARRIED))


def is_delivered(name: str, header: Sequence[str]) -> bool:
    """Whether a table is one of a delivery's, by its name and columns."""
    return name in _KINDS and _KINDS[name].columns <= set(header)


def _number(text: str) -> Decimal | None:
    """A number of a table; None for what is none, and for one that nobody computed."""
    return Decimal(text) if _NUMBER.fullmatch(text) else None


def _length(metres: str) -> str:
    """A length in m as text, without the noise of computing: "14.630400000000002" is 14.6304 m."""
    number = _number(metres)
    return metres if number is None else f"{f'{number:.{NOISE_M}f}'.rstrip('0').rstrip('.')} m"


_WELL = {
    "well": "well", "name": "name", "place": "place", "use": "use", "aquifer": "aquifer", "other names": "other_names",
    "latitude": "latitude_deg", "longitude": "longitude_deg", "horizontal datum": "horizontal_datum",
    "position method": "position_method", "vertical datum": "vertical_datum", "elevation method": "elevation_method",
}  # fmt: skip
_WELL_LENGTHS = {
    "land surface": "land_surface_elevation_m", "u land surface": "u_land_surface_elevation_m",
    "completed depth": "completed_depth_m", "hole depth": "hole_depth_m",
}  # fmt: skip


def _wells(name: str, rows: Numbered) -> Iterator[Incoming]:
    yield incoming_wells(
        name,
        [
            (
                row,
                {ours: cells.get(theirs, "") for ours, theirs in _WELL.items()}
                | {ours: _length(cells[theirs]) for ours, theirs in _WELL_LENGTHS.items() if cells.get(theirs)},
            )
            for row, cells in rows
        ],
    )


def _points(name: str, rows: Numbered) -> Iterator[Incoming]:
    yield incoming_points(
        name,
        [
            (
                row,
                {
                    "well": cells.get("well", ""),
                    "name": cells.get("name", ""),
                    "since": cells.get("since", ""),
                    "height": _length(cells.get("height_m", "")),
                    "u height": _length(cells["u_height_m"]) if cells.get("u_height_m") else "",
                    "description": cells.get("description", ""),
                    "why": cells.get("why", ""),
                },
            )
            for row, cells in rows
        ],
    )


def _intervals(name: str, rows: Numbered) -> Iterator[Incoming]:
    for what in ("casing", "screen"):
        lengths = [
            (
                row,
                {
                    "well": cells.get("well", ""),
                    "top": _length(cells.get("top_m", "")),
                    "bottom": _length(cells.get("bottom_m", "")),
                    "inside diameter": _length(cells["inside_diameter_m"]) if cells.get("inside_diameter_m") else "",
                    "material": cells.get("material", ""),
                    "remarks": cells.get("remarks", ""),
                },
            )
            for row, cells in rows
            if cells.get("what", "screen") == what
        ]
        if lengths:
            yield incoming_lengths(f"{name}, {what}", what, lengths)


def _readings(name: str, rows: Numbered) -> Iterator[Incoming]:
    tables: dict[str, list[ReadingRow]] = {}
    ids: dict[int, str] = {}
    for row, cells in rows:
        bottom = cells.get("quantity") == BOTTOM
        key = "total_depth_below_land_surface" if bottom else "depth_to_water_below_land_surface"
        if not cells.get("depth_below_land_surface_m") and cells.get("depth_below_measuring_point_m") and not bottom:
            key = "depth_to_water_below_measuring_point"
        ids[row.number] = cells.get("reading_id", "")
        tables.setdefault(key, []).append(_reading(row, cells, key))
    for key, listed in tables.items():
        yield incoming_readings(f"{name}, {key.replace('_', ' ')}", key, listed)._replace(ids=ids)


def _reading(row: TableRow, cells: Cells, key: str) -> ReadingRow:
    if row.problem:
        return ReadingRow(row.number, "", "", "", problem=row.problem, mend=row.mend)
    at_point = key.endswith("measuring_point")
    value, unit = _reported(cells, "below_measuring_point" if at_point else "below_land_surface")
    stated = cells.get(f"u_depth_{'below_measuring_point' if at_point else 'below_land_surface'}_m", "")
    seen, problems = seen_from(cells)
    if problems:
        return ReadingRow(row.number, "", "", "", problem=f"{problems[0].place}: {problems[0].message}",
                          mend=problems[0].mend)  # fmt: skip
    why_none = json.dumps(SEEN.body(seen)) if seen != NOTHING_SEEN else ""
    if not value and not (seen.explains_no_reading or cells.get("use") == DEEPER_THAN):
        why_none = NOT_READ
    elif not value and cells.get("use") == DEEPER_THAN and WATER_NOT_REACHED not in seen.water:
        why_none = NOT_REACHED
    u = _u_without_last_digit(stated, value, unit) if stated and value else ""
    how = "; ".join(filter(None, _how(cells, at_point=at_point)))
    remarks = "; ".join(filter(None, _remarks(cells)))
    number = f"{value} {unit}" if value else ""
    return ReadingRow(row.number, cells.get("well", ""), _time(cells), number, u, how, remarks, why_none, seen=seen)


def _reported(cells: Cells, stage: str) -> tuple[str, str]:
    """The depth as it was reported, with the digits of its step, and its unit; in ft where both are given."""
    for unit in ("ft", "m"):
        value = cells.get(f"depth_{stage}_rounded_{unit}", "")
        step = cells.get(f"reporting_step_depth_{stage}_{unit}", "")
        number, size = _number(value), _number(step)
        if number is not None and size:
            return f"{number:.{max(0, -int(size.normalize().as_tuple().exponent))}f}", unit
        if value:
            return value, unit
    return "", ""


def _u_without_last_digit(stated: str, value: str, unit: str) -> str:
    """A standard uncertainty without the part of the last digit, which every reading gets as it is worked out."""
    u = _number(stated)
    if u is None:
        return f"{stated} m"
    digit_m = to_si(10.0 ** -len(value.partition(".")[2]), unit, "length")
    rest = float(u) ** 2 - digit_m**2 / 12
    return f"{math.sqrt(rest):.{NOISE_M}f} m" if rest > 0 else ""


def _time(cells: Cells) -> str:
    """Time by the clocks at the well; the day alone where the time of day is not known."""
    time = cells.get("time", "")
    try:
        local = datetime.fromisoformat(time).astimezone(ZoneInfo(cells.get("zone") or "UTC"))
    except (ValueError, KeyError, OSError):
        return time
    known = cells.get("time_of_day_known", "").lower() != "false"
    return local.isoformat() if known else local.date().isoformat()


def _how(cells: Cells, *, at_point: bool) -> Iterator[str]:
    yield cells.get("method", "")
    yield cells.get("use", "")
    below, unit = _reported(cells, "below_measuring_point")
    if below and not at_point:
        yield f"{below} {unit} below {cells.get('measuring_point') or 'the measuring point'}"
    if gear := cells.get("gear"):
        yield f"with {gear.replace('; ', ', ')}"
    if by := cells.get("read_by"):
        yield f"by {by}"


def _remarks(cells: Cells) -> Iterator[str]:
    yield cells.get("remarks", "")
    quality, bound = cells.get("quality", ""), cells.get("tape_reached_below_land_surface_m", "")
    yield f"quality {quality}" if quality not in {"", "good", "missing"} else ""
    yield f"tape reached {_length(bound)} below land surface" if bound else ""
    yield cells.get("agreement", "")
    yield f"reviewed: {cells['reviewed']}" if cells.get("reviewed") else ""


_KINDS = {
    "wells": _Kind(frozenset({"well"}), _wells),
    "measuring-points": _Kind(frozenset({"well", "name", "since", "height_m"}), _points),
    "intervals": _Kind(frozenset({"well", "what", "top_m", "bottom_m"}), _intervals),
    "readings": _Kind(frozenset({"well", "time", "zone", "quantity", "depth_below_land_surface_m"}), _readings),
}
_ORDER = {name: place for place, name in enumerate(_KINDS)}
