"""Moments as seconds since 1970 in UTC, between text, columns and arrays."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tapedown.values.times import seconds

Array = NDArray[np.float64]
_EPOCH = datetime(1970, 1, 1)


def naive(at_s: float) -> datetime:
    """The same moment as the columns carry it: UTC without a zone."""
    return datetime.fromtimestamp(at_s, UTC).replace(tzinfo=None)


def said(at_s: float) -> str:
    """A moment for messages: "2026-05-14 09:20 UTC"."""
    return f"{naive(at_s):%Y-%m-%d %H:%M} UTC"


def column_seconds(times: pl.Series) -> Array:
    """A column of times as seconds."""
    return times.dt.timestamp("us").to_numpy().astype(np.float64) / 1e6


def by_time(compute: Callable[[Array], Any], name: str) -> pl.Expr:
    """A column worked out from the time of each row alone, so that rows can be streamed.

    Parameters
    ----------
    compute
        Takes times, s since 1970, shape (n,), and returns values of that shape.
    name
        Of the column.

    Returns
    -------
    Expr
        Floats; null where `compute` gives NaN.
    """

    def work(times: pl.Series) -> pl.Series:
        return pl.Series(compute(column_seconds(times)), dtype=pl.Float64, nan_to_null=True)

    return pl.col("time").map_batches(work, return_dtype=pl.Float64, is_elementwise=True).alias(name)


def between(start: str, end: str) -> pl.Expr:
    """Whether a row lies from start to end, both included.

    Parameters
    ----------
    start
        Moment in ISO 8601 with its offset; "" leaves this side open.
    end
        Moment in ISO 8601 with its offset; "" leaves this side open.

    Returns
    -------
    Expr
        Of `time`, true or false.

    Example
    -------
    >>> hours = pl.DataFrame({"time": [naive(0.0), naive(3600.0), naive(7200.0)]})
    >>> hours.select(between("1970-01-01T01:00Z", "")).to_series().to_list()
    [False, True, True]
    """
    inside = pl.lit(True)
    if start:
        inside = pl.col("time") >= naive(seconds(start))
    if end:
        inside = inside & (pl.col("time") <= naive(seconds(end)))
    return inside
