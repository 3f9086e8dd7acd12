"""Barometric efficiency: how much of a change of the air pressure shows, opposed, in the level of a well.

W is the level, positive up, and B the air pressure as height of water, both m; BE = -dW/dB. Three ways to find it,
which differ by half on one and the same well, so that the way is kept beside the figure.

References
----------
Clark 1967, J. Hydraul. Div. ASCE 93 (HY4) (from memory); Rasmussen & Crawford 1997, Ground Water 35(3) 502-511 (from
memory); the methods are compared by Gonthier 2007, USGS SIR 2007-5111 (abstract read).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl

from tapedown.engine.physics.water import head_m
from tapedown.loggers.barometer import barometer_points
from tapedown.loggers.context import SeriesContext, bridged
from tapedown.loggers.epoch import Array, by_time
from tapedown.loggers.water import NO_WATER, density_kg_m3, gravity_m_s2
from tapedown.values.series.treatments import Barometer, BarometricEfficiency

REGRESSION_LAGS = 12


class Efficiency(NamedTuple):
    """A barometric efficiency and the way it was found.

    u         standard uncertainty, NaN where the way gives none
    response  of the deconvolution: the efficiency after 0, 1, ... steps; else empty
    """

    efficiency: float
    u: float
    method: str
    response: tuple[float, ...] = ()


def clark(level_m: Array, air_m: Array) -> Efficiency:
    """Clark's sums: every change of pressure counts; a change of level counts for it when opposed, else against it.

    Parameters
    ----------
    level_m
        Level at even steps of time, m, positive up, shape (n,).
    air_m
        Air pressure at the same times as height of water, m, shape (n,). A step with NaN at either end, of level or
        air, is left out.

    Returns
    -------
    Efficiency
        Without an uncertainty: u is NaN.

    Raises
    ------
    ValueError
        The air pressure never changes; fewer than 3 whole steps are turned down as well.

    Notes
    -----
    BE = sum(-sign(dB) dW) / sum |dB| over steps with dB not 0. Insensitive to a slow trend, not free of it.

    References
    ----------
    Clark 1967, J. Hydraul. Div. ASCE 93 (HY4) (from memory).

    Example
    -------
    >>> air = np.array([0.0, 0.1, 0.05, 0.2])
    >>> round(clark(5 - 0.6 * air, air).efficiency, 9)
    0.6
    """
    level, air = _changes(level_m, air_m)
    moved = air != 0
    if not moved.any():
        raise ValueError("the air pressure does not change: there is nothing to compare the level with")
    sums = -np.sign(air[moved]) * level[moved]
    return Efficiency(float(sums.sum() / np.abs(air[moved]).sum()), float("nan"), "Clark")


def regression(level_m: Array, air_m: Array) -> Efficiency:
    """Straight line through the first differences, its constant taking up a linear trend.

    Parameters
    ----------
    level_m
        Level at even steps of time, m, positive up, shape (n,).
    air_m
        Air pressure at the same times as height of water, m, shape (n,). A step with NaN is left out; fewer than 3
        whole steps are a ValueError.

    Returns
    -------
    Efficiency
        With the standard uncertainty of the slope, which takes the steps for independent.

    Notes
    -----
    dW = -BE dB + c by least squares. Exact for a level that answers at once; for a late answer use `deconvolution`.

    Example
    -------
    >>> air = np.array([0.0, 0.1, 0.05, 0.2, 0.1])
    >>> round(regression(5 - 0.6 * air + 0.03 * np.arange(5), air).efficiency, 9)
    0.6
    """
    level, air = _changes(level_m, air_m)
    coefficients, u = _fit(np.column_stack([air, np.ones(len(air))]), level)
    return Efficiency(-float(coefficients[0]), float(u[0]), "regression of first differences")


def deconvolution(level_m: Array, air_m: Array, lags: int = REGRESSION_LAGS) -> Efficiency:
    """Regression of a change of level on the changes of pressure now and up to `lags` steps before.

    Parameters
    ----------
    level_m
        Level at even steps of time, m, positive up, shape (n,).
    air_m
        Air pressure at the same times as height of water, m, shape (n,). A row of the regression with NaN in it is left
        out.
    lags
        How many steps back, >= 0.

    Returns
    -------
    Efficiency
        The last value of the response, u NaN; the response has `lags` + 1 values.

    Raises
    ------
    ValueError
        No more than `lags` + 2 whole rows.

    Notes
    -----
    dW(t) = sum over i of a_i dB(t - i) + c; the response after i steps is -(a_0 + ... + a_i).

    References
    ----------
    Rasmussen & Crawford 1997, Ground Water 35(3) 502-511 (from memory).

    Example
    -------
    >>> air = np.cumsum(np.random.default_rng(1).normal(0, 0.01, 240))
    >>> late = 3 - 0.3 * air - 0.2 * np.concatenate([air[:1], air[:-1]])
    >>> [round(share, 6) for share in deconvolution(late, air, 2).response]
    [0.3, 0.5, 0.5]
    """
    level, air = np.diff(level_m), np.diff(air_m)
    columns = [air[lags - lag : len(air) - lag] for lag in range(lags + 1)]
    design = np.column_stack([*columns, np.ones(len(columns[0]))])
    whole = np.isfinite(design).all(axis=1) & np.isfinite(level[lags:])
    if whole.sum() <= lags + 2:
        raise ValueError(f"{int(whole.sum())} whole rows do not suffice for {lags} lags; give fewer")
    coefficients, _ = _fit(design[whole], level[lags:][whole])
    response = -np.cumsum(coefficients[:-1])
    return Efficiency(
        float(response[-1]), float("nan"), f"regression deconvolution, {lags} lags", tuple(map(float, response))
    )


def _changes(level_m: Array, air_m: Array) -> tuple[Array, Array]:
    level, air = np.diff(level_m), np.diff(air_m)
    whole = np.isfinite(level) & np.isfinite(air)
    if whole.sum() < 3:
        raise ValueError(f"{int(whole.sum())} changes are too few for a barometric efficiency")
    return level[whole], air[whole]


def _fit(design: Array, values: Array) -> tuple[Array, Array]:
    """Coefficients of least squares and their standard uncertainties."""
    coefficients = np.linalg.lstsq(design, values, rcond=None)[0]
    rest = values - design @ coefficients
    free = max(len(values) - design.shape[1], 1)
    spread = np.linalg.pinv(design.T @ design) * (rest @ rest) / free
    return np.asarray(coefficients, np.float64), np.asarray(np.sqrt(np.diag(spread)), np.float64)


def efficiency_removed(rows: pl.LazyFrame, removed: BarometricEfficiency, context: SeriesContext) -> pl.LazyFrame:
    """The rows with the effect of the air pressure taken out of the height of water.

    Parameters
    ----------
    rows
        With `time` and `water_m`.
    removed
        The efficiency and the barometer's series.
    context
        The barometers by name and the network's settings.

    Returns
    -------
    LazyFrame
        `water_m` as it would stand at the mean pressure of the barometer's series; null where the barometer has a gap.

    Notes
    -----
    W + BE (B - mean B), B as height of water at the network's guessed water temperature and standard gravity.
    """
    series = barometer_points(Barometer(removed.series, None, None, None, None), context)
    mean, gap_s = float(np.mean(series.value)), context.settings.si("barometer_gap") * 3600

    def off_mean(times_s: Array) -> Array:
        return bridged(series, times_s, gap_s) - mean

    air_m = head_m(
        by_time(off_mean, "air_off_mean"), density_kg_m3(NO_WATER, context, has_temp=False), gravity_m_s2(NO_WATER)
    )
    return rows.with_columns((pl.col("water_m") + removed.efficiency.si * air_m).alias("water_m"))
