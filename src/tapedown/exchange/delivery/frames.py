"""A delivery's tables as Polars frames, with units in the names of their columns."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import polars as pl

from tapedown.engine.checks.at_the_well import hours_since_pump
from tapedown.exchange.delivery.columns import Column, Flat
from tapedown.exchange.delivery.contents import Delivered, Delivery
from tapedown.exchange.delivery.features import plain_cell
from tapedown.exchange.delivery.quantities import all_series
from tapedown.values.seen import seen_words
from tapedown.values.times import in_utc

_TIME = pl.Datetime("us", "UTC")
_TYPES: dict[str, Any] = {
    "text": pl.String,
    "number": pl.Float64,
    "whole": pl.Int64,
    "flag": pl.Boolean,
    "time": _TIME,
}


def frame(table: Flat, zone: str) -> pl.DataFrame:
    """A table as a frame; times in the zone of the wells. A rounded number is a number: the words keep its digits."""
    columns = list(zip(*table.rows)) if table.rows else [()] * len(table.columns)
    data = [_column(column, cells) for column, cells in zip(table.columns, columns)]
    return _local(pl.DataFrame(data), zone)


def _column(column: Column, cells: tuple[Any, ...]) -> pl.Series:
    values = [in_utc(cell) if column.kind == "time" else plain_cell(cell) for cell in cells]
    return pl.Series(column.name, values, dtype=_TYPES[column.kind], strict=False)


def _local(rows: pl.DataFrame, zone: str) -> pl.DataFrame:
    times = [name for name, kind in rows.schema.items() if kind == _TIME]
    return rows.with_columns(pl.col(times).dt.convert_time_zone(zone)) if times else rows


def readings_frame(delivery: Delivery) -> pl.DataFrame:
    """What was read, as written: a row for every repeat and part of it. `written` keeps every digit."""
    schema: dict[str, Any] = {
        "reading_id": pl.String, "well": pl.String, "time": _TIME, "time_of_day_known": pl.Boolean,
        "method": pl.String, "repeat": pl.Int64, "part": pl.String, "written": pl.String, "number": pl.Float64,
        "unit": pl.String, "gear": pl.String, "goes_on": pl.String, "since_pump_h": pl.Float64,
        "read_by": pl.String,
    }  # fmt: skip
    rows = [
        (row.entry.id, well.code, in_utc(row.time), row.time_known, row.method, repeat, part, written, *_apart(written),
         "; ".join(row.gear), "; ".join(seen_words(row.seen)),
         hours_since_pump(row.seen, row.entry.measured_at), row.entry.by)
        for well in delivery.wells
        for row in well.readings
        for repeat, part, written in _repeats(row)
    ]  # fmt: skip
    return _local(pl.DataFrame(rows, schema=schema, orient="row"), delivery.network.zone)


def _repeats(row: Delivered) -> Iterator[tuple[int, str, str]]:
    read = row.entry.data.get("read", {}) if row.entry.kind == "readings" else {}
    for name in ("readings", "readings_as_water"):
        for repeat, one in enumerate(read.get(name, ()), 1):
            parts = one.items() if isinstance(one, dict) else [("reading", one)]
            yield from ((repeat, part, str(written)) for part, written in parts)


def _apart(written: str) -> tuple[float | None, str]:
    number, _, unit = written.partition(" ")
    try:
        return float(number), unit
    except ValueError:
        return None, unit


def series_frame(delivery: Delivery) -> pl.DataFrame:
    """Every series, one value a row: readings by hand, loggers, daily means."""
    schema: dict[str, Any] = {
        "well": pl.String, "quantity": pl.String, "kind": pl.String, "time": _TIME, "value_m": pl.Float64,
        "expanded_m": pl.Float64, "deeper_than_m": pl.Float64, "quality": pl.String, "vertical_datum": pl.String,
    }  # fmt: skip
    rows = [
        (s.well, s.quantity, s.kind, in_utc(s.times[i]), s.values_m[i], s.expanded_m[i],
         s.bounds_m[i] if s.bounds_m else None, s.quality[i], s.datum or None)
        for well in delivery.wells
        for s in all_series(well)
        for i in range(len(s.times))
    ]  # fmt: skip
    return _local(pl.DataFrame(rows, schema=schema, orient="row"), delivery.network.zone)
