"""What the treatment of a series stands on besides its rows: check readings, barometers, neighbours, settings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import polars as pl

from tapedown.loggers.epoch import Array, column_seconds
from tapedown.values.settings import Settings


class TapeCheck(NamedTuple):
    """A tape reading the series is held to.

    at_s     seconds since 1970
    depth_m  depth below land surface, positive down; or the same depth the series is to come out in
    u_m      its standard uncertainty
    entry    id of the reading's entry, "" when it has none
    """

    at_s: float
    depth_m: float
    u_m: float
    entry: str = ""


class PointSeries(NamedTuple):
    """A further series as arrays of shape (n,): time in s, ascending, and value, kPa or m."""

    at_s: Array
    value: Array


class SeriesContext(NamedTuple):
    """What surrounds a series.

    barometers  name -> air pressure, kPa
    neighbours  name -> depth, m
    """

    settings: Settings = Settings()
    checks: tuple[TapeCheck, ...] = ()
    barometers: Mapping[str, PointSeries] = {}
    neighbours: Mapping[str, PointSeries] = {}


def points(rows: pl.DataFrame, column: str) -> PointSeries:
    """A column of rows as points in the order of time, without blanks; of equal times the first.

    Parameters
    ----------
    rows
        With `time` and the column.
    column
        Its name.

    Returns
    -------
    PointSeries
        Times, s since 1970, and values in the unit of the column, shape (n,), n without the nulls.

    Example
    -------
    >>> from datetime import datetime
    >>> rows = pl.DataFrame({"time": [datetime(1970, 1, 1, 1), datetime(1970, 1, 1)], "air_kpa": [99.8, 99.9]})
    >>> points(rows, "air_kpa").value.tolist()
    [99.9, 99.8]
    """
    kept = rows.drop_nulls(["time", column]).sort("time", maintain_order=True).unique("time", keep="first").sort("time")
    return PointSeries(column_seconds(kept["time"]), kept[column].to_numpy().astype(np.float64))


def bridged(series: PointSeries, at_s: Array, gap_s: float) -> Array:
    """The series at other times along straight lines.

    Parameters
    ----------
    series
        Points in the order of time.
    at_s
        Times asked for, s since 1970, shape (n,).
    gap_s
        Points further apart than this are not joined, s.

    Returns
    -------
    ndarray
        Shape (n,), in the unit of the series; NaN outside it, within a gap, and everywhere for a series without points.
        A time at which a point stands has its value, gap or not.

    Example
    -------
    >>> series = PointSeries(np.array([0.0, 10.0, 100.0]), np.array([1.0, 2.0, 3.0]))
    >>> bridged(series, np.array([5.0, 50.0, 101.0]), 20.0).tolist()
    [1.5, nan, nan]
    """
    if len(series.at_s) == 0:
        return np.full(at_s.shape, np.nan)
    value = np.interp(at_s, series.at_s, series.value, left=np.nan, right=np.nan)
    if len(series.at_s) > 1 and np.max(np.diff(series.at_s)) > gap_s:
        after = np.clip(np.searchsorted(series.at_s, at_s), 1, len(series.at_s) - 1)
        exact = series.at_s[after] == at_s
        exact |= series.at_s[after - 1] == at_s
        value[(series.at_s[after] - series.at_s[after - 1] > gap_s) & ~exact] = np.nan
    return value
