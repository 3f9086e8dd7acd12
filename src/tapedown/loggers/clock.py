"""The logger's clock: put right by a constant or in proportion, and two loggers' clocks laid over one another.

A clock that was right when set and ahead by D when read, a time P later by its own showing, was ahead by D t / P at a
showing of t: true = shown - D (shown - set) / (read - set). Constructed; the error is taken to grow evenly.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl

from tapedown.loggers.context import PointSeries, bridged
from tapedown.loggers.epoch import Array, between, naive
from tapedown.values.series.treatments import ClockDrift, ClockShift
from tapedown.values.times import seconds


def shifted(rows: pl.LazyFrame, shift: ClockShift) -> pl.LazyFrame:
    """The rows with a constant added to the times of a stretch.

    Parameters
    ----------
    rows
        With `time`, as the clock showed it.
    shift
        The stretch, both ends included, and what is added.

    Returns
    -------
    LazyFrame
        Perhaps no longer in order of time.
    """
    moved = pl.col("time") + pl.duration(microseconds=round(shift.add.si * 3600e6))
    return rows.with_columns(
        pl.when(between(shift.start, shift.end)).then(moved).otherwise(pl.col("time")).alias("time")
    )


def drifted(rows: pl.LazyFrame, drift: ClockDrift) -> pl.LazyFrame:
    """The rows with a slow or fast clock put right in proportion, from its setting on.

    Parameters
    ----------
    rows
        With `time`, as the clock showed it.
    drift
        When the clock was right, when it was read, and how far it was ahead then.

    Returns
    -------
    LazyFrame
        Times up to the setting stay; those after the reading are put right by the same proportion.

    Raises
    ------
    ValueError
        The reading does not lie after the setting.

    Notes
    -----
    true = shown - D (shown - set) / (read - set), rounded to a microsecond. The error is taken to grow evenly.

    Example
    -------
    >>> from tapedown.values.written import Written
    >>> drift = ClockDrift("1970-01-01T00:00Z", "1970-04-01T00:00Z", Written("5", "min", "duration"))
    >>> rows = pl.LazyFrame({"time": [naive(30 * 86400.0)]})
    >>> drifted(rows, drift).collect().item().isoformat()
    '1970-01-30T23:58:20'
    """
    set_s, read_s = seconds(drift.set_at), seconds(drift.read_at)
    if read_s <= set_s:
        raise ValueError(f"read_at {drift.read_at} does not lie after set_at {drift.set_at}")
    since_us = (pl.col("time") - naive(set_s)).dt.total_microseconds()
    ahead_us = (since_us * (drift.fast_by.si * 3600 / (read_s - set_s))).round().cast(pl.Int64)
    true = pl.col("time") - pl.duration(microseconds=ahead_us)
    return rows.with_columns(pl.when(since_us > 0).then(true).otherwise(pl.col("time")).alias("time"))


CHANGE_STEPS = 4
"""Changes are taken over this many usual steps, so that straight lines between rows do not decide; ours."""


class Apart(NamedTuple):
    """Two clocks laid over one another.

    add_s        what is to be added to the second clock, s
    correlation  of the changes at that shift; near 1 when the two series tell the same story
    """

    add_s: float
    correlation: float


def clocks_apart(first: PointSeries, second: PointSeries, *, most_s: float, step_s: float) -> Apart:
    """By how much the second logger's clock is behind the first's, from the changes both saw.

    Both are laid on one grid; the shift with the greatest correlation of changes over a few rows wins, refined by a
    parabola through it and its neighbours.

    Parameters
    ----------
    first
        Series whose clock is trusted, without NaN.
    second
        The other one, of a well that moves alike.
    most_s
        Largest shift that is tried, to either side, s.
    step_s
        Step of the grid and of the shifts, s.

    Returns
    -------
    Apart
        Shift, s, and the correlation at it; a correlation far from 1 says that the two do not tell the same story.

    Raises
    ------
    ValueError
        Fewer than 10 steps of the grid in common once the shift is allowed for.

    Notes
    -----
    Changes are taken over the longest of the grid's step and `CHANGE_STEPS` usual steps of either series. A periodic
    level (tides) has more than one shift that fits: keep `most_s` below half its period.

    Example
    -------
    >>> t = np.arange(0, 864000, 300.0)
    >>> level = np.cumsum(np.random.default_rng(1).normal(size=t.size))
    >>> round(clocks_apart(PointSeries(t, level), PointSeries(t - 600, level), most_s=3600, step_s=300).add_s)
    600
    """
    start = max(first.at_s[0], second.at_s[0]) + most_s
    span_s = max(step_s, *(CHANGE_STEPS * float(np.median(np.diff(series.at_s))) for series in (first, second)))
    grid = np.arange(start, min(first.at_s[-1], second.at_s[-1]) - most_s - span_s, step_s)
    if len(grid) < 10:
        raise ValueError(f"only {len(grid)} steps of {step_s:g} s in common, 10 are needed")
    mine = _change(first, grid, span_s)
    lags = np.arange(-int(most_s // step_s), int(most_s // step_s) + 1)
    correlations = np.array([_correlation(mine, _change(second, grid - lag * step_s, span_s)) for lag in lags])
    best = int(np.argmax(correlations))
    fine = 0.0
    if 0 < best < len(lags) - 1:
        left, peak, right = correlations[best - 1 : best + 2]
        bend = left - 2 * peak + right
        fine = 0.5 * (left - right) / bend if bend else 0.0
    return Apart(float((lags[best] + fine) * step_s), float(correlations[best]))


def _change(series: PointSeries, at_s: Array, span_s: float) -> Array:
    return bridged(series, at_s + span_s, np.inf) - bridged(series, at_s, np.inf)


def _correlation(a: Array, b: Array) -> float:
    size = float(np.sqrt((a * a).sum() * (b * b).sum()))
    return float((a * b).sum()) / size if size else 0.0
