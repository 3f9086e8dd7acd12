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
    """A column of rows as points in the order of time, without blanks; of equal times the first."""
    kept = rows.drop_nulls(["time", column]).sort("time", maintain_order=True).unique("time", keep="first").sort("time")
    return PointSeries(column_seconds(kept["time"]), kept[column].to_numpy().astype(np.float64))


def bridged(series: PointSeries, at_s: Array, gap_s: float) -> Array:
    """The series at these times along straight lines; NaN outside it and where its points lie further apart than gap_s.

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
