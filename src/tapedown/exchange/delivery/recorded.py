"""What a logger recorded, as it is handed on: told in a few words, its rows left where they are until asked for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tapedown.exchange.delivery.contents import DeliveredSeries, Delivery, Recorded

if TYPE_CHECKING:  # half a second to load; a delivery without loggers needs none of it
    import polars as pl

ROWS, DAILY = "logger", "daily mean"
"""Kinds of a recorded series."""
A_BATCH = 50_000
"""Rows held at once where a series is walked through; ours."""
WITH_OFFSET = "%Y-%m-%dT%H:%M:%S%.f%:z"


def recorded_of(delivery: Delivery, kind: str) -> list[Recorded]:
    """Every recorded series of a kind in a delivery."""
    return [one for well in delivery.wells for one in well.series if one.kind == kind]


def batches(series: Recorded, rows: int = A_BATCH) -> Iterator[pl.DataFrame]:
    """The rows of a series in order, some at a time."""
    kept = series.source.opened()
    for start in range(0, series.size, rows):
        yield kept.slice(start, rows).collect()


def texts_of(times: pl.Series, zone: str) -> list[str]:
    """Times of a source with the offset they have in a zone.

    Example
    -------
    >>> import polars as pl
    >>> from datetime import datetime
    >>> texts_of(pl.Series([datetime(2026, 5, 14, 9)]), "Europe/London")
    ['2026-05-14T10:00:00+01:00']
    """
    texts: list[str] = times.dt.replace_time_zone("UTC").dt.convert_time_zone(zone).dt.strftime(WITH_OFFSET).to_list()
    return texts


def as_series(one: Recorded) -> DeliveredSeries:
    """All of a recorded series in memory, for formats that write values one after another."""
    rows = one.source.opened().collect()
    if one.kind == ROWS:
        notes = [f"{ROWS}; QARTOD flag {flag}" for flag in rows["flag"].to_list()]
    else:
        notes = [f"{DAILY}; of {count} rows" for count in rows["rows"].to_list()]
    return DeliveredSeries(
        one.well,
        one.quantity,
        one.kind,
        tuple(texts_of(rows["time"], one.zone)),
        tuple(rows["value_m"].to_list()),
        tuple(rows["expanded_m"].to_list()),
        tuple(rows["quality"].to_list()),
        notes=tuple(notes),
        name=one.name,
    )
