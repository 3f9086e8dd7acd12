"""The static level a well is expected to show, fitted to its irregular history.

depth = mean + season + level that wanders + noise. Season, noise and the level's memory are held by priors learnt from
many wells, so one reading and three thousand go through the same sum; readings far from all others count less.

References
----------
docs/methods/expected-value.md. Conjugate normal-inverse-gamma regression: Bishop (2006), Pattern Recognition and
Machine Learning, 3.3 and exercise 3.12, from memory; recursive residuals: Brown, Durbin & Evans (1975), J. R. Stat.
Soc. B 37, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize
from scipy.special import gammaln, stdtrit

from tapedown.analysis.co_moving import Surprises
from tapedown.analysis.tridiagonal import Array, chain, filtered, from_the_others
from tapedown.engine.well.fill import YEAR_D
from tapedown.values.days import date_text
from tapedown.values.expectations import ExpectedLevel
from tapedown.values.sums import added


class Prior(NamedTuple):
    """A quantity that is positive, before the well is looked at: natural logarithm's middle and spread."""

    middle: float
    spread: float


class Priors(NamedTuple):
    """What is held of a well before it is looked at. Variances are over that of one year's drift.

    noise     variance of single readings about the level
    forget    years in which the level forgets where it was
    season    variance of the cosine and sine of the year
    drift_m   typical drift of a year, m
    worth     readings that this drift is worth
    tails     degrees of freedom of one-step-ahead errors
    widen     their scale over what the fit foretells
    """

    noise: Prior = Prior(-4.0, 2.0)
    forget: Prior = Prior(4.0, 1.2)
    season: Prior = Prior(-3.0, 1.5)
    drift_m: float = 0.35
    worth: float = 1.0
    tails: Prior = Prior(1.4, 0.4)
    widen: Prior = Prior(-0.12, 0.2)


PRIORS = Priors()
"""Chosen on one half of the wells of an open network, scored on the other: docs/methods/expected-value.md."""
MEAN_VARIANCE = 1e6
"""Of the mean, over a year's drift: nothing is known of it."""
HALF_YEAR_SHARE = 0.25
"""Variance of the half year's terms over that of the year's."""
FAR = 3.0
"""Standard deviations from all others beyond which a reading counts less."""
FEWEST = 3
"""Readings below which the priors alone say how the level moves."""
SEARCHES = ((60, 1.0), (24, 0.3), (24, 0.3))
"""Evaluations and first step of each search; after each, readings that lie far from all others are looked for."""
UNREAD_DOF = 4.0
"""Degrees of freedom of a level that was never read; ours."""
TAILS = np.array([2.5, 3.0, 4.0, 6.0, 10.0, 30.0])
WIDENINGS = np.exp(np.linspace(-0.8, 0.8, 33))
"""What degrees of freedom and widening of the errors are chosen from."""


class DailyReadings(NamedTuple):
    """Readings as the fit takes them: one a day; columns of mean, season and depth, shape (n, 6)."""

    days: Array
    years: Array
    columns: Array
    centre_m: float


class Ratios(NamedTuple):
    """Variance of noise and season over that of a year's drift, and the level's memory, years."""

    noise: float
    forget_yr: float
    season: float


class Fit(NamedTuple):
    """What follows from one choice of ratios.

    rows      one-step-ahead rows over their foretold scale, shape (n, 6)
    held      prior precision of mean and season, shape (5,)
    inverse   of the precision of mean and season, shape (5, 5)
    swing     mean and season, m, shape (5,)
    shape     half the degrees of freedom of the year's drift
    rate      shape times its variance, m2
    last      level at the last reading out of each column, shape (6,)
    last_var  its variance over that of a year's drift
    cost      minus the logarithm of the posterior, but for a constant
    """

    rows: Array
    held: Array
    inverse: Array
    swing: Array
    shape: float
    rate: float
    last: Array
    last_var: float
    cost: float


class LevelFit(NamedTuple):
    """The expectation, and how each reading surprised when it came, for wells that move together."""

    expected: ExpectedLevel
    surprises: Surprises


def expected_level(
    days: Sequence[int], depths_m: Sequence[float], *, u_m: float = 0.0, dry: int = 0, priors: Priors = PRIORS
) -> LevelFit:
    """The static level to be expected, from readings.

    Parameters
    ----------
    days
        Day numbers, shape (n,), in any order.
    depths_m
        Depths below land surface, m, shape (n,), without NaN; of several on a day the median counts.
    u_m
        Standard uncertainty of a usual reading, m: however steady the well, the next scatters at least so much.
    dry
        How many of them are depths the tape reached without finding water; they stand in for the level, which was no
        shallower.
    priors
        What is held of a well before it is looked at.

    Returns
    -------
    LevelFit
        The expectation, and the surprise of each day's reading over its scale, shape (days read,).

    Raises
    ------
    ValueError
        No reading: see `unread_level`.

    Notes
    -----
    depth = mean + a1 cos wt + b1 sin wt + a2 cos 2wt + b2 sin 2wt + level(t) + noise, w one turn a year; level(t) an
    Ornstein-Uhlenbeck process of variance s^2 for each year of drift that forgets in F years. Mean, season, level and
    s^2 follow in closed form, the ratios of noise, season and F as the likeliest with their priors. A reading more than
    `FAR` standard deviations from what all others foretell gets so much noise that it is no further out. Knows nothing
    of rain, of pumping nearby or of a river.

    References
    ----------
    docs/methods/expected-value.md. Bishop (2006), Pattern Recognition and Machine Learning, 3.3 and exercise 3.12;
    Brown, Durbin & Evans (1975), J. R. Stat. Soc. B 37 (both from memory).

    Example
    -------
    >>> days = [737000 + 30 * n for n in range(24)]
    >>> depths = [10.00, 10.02, 10.01] * 8
    >>> depths[10] += 3.0
    >>> level = expected_level(days, depths).expected
    >>> level.readings, level.set_aside, round(level.centre_m + level.middles_m[0], 1)
    (24, 1, 10.0)
    """
    if not len(days):
        raise ValueError("a level needs at least one reading to be expected; 0 were given")
    record = record_of(days, depths_m)
    ratios, extra = settled(record, priors)
    fit = fitted(record, ratios, extra, priors)
    errors = surprises(fit, priors)
    tails, widen = _tails(errors[1:], priors)
    level = _expectation(record, ratios, fit, extra, tails=tails, widen=widen)
    steady = level._replace(noise_m2=max(level.noise_m2, u_m**2), dry=dry)
    return LevelFit(steady, Surprises(record.days, errors / widen))


def unread_level(bottom_m: float) -> ExpectedLevel:
    """The expectation of a well never read: water stands somewhere between land surface and the bottom.

    Parameters
    ----------
    bottom_m
        Depth of the bottom, m below land surface; less than 1 m counts as 1 m.

    Returns
    -------
    ExpectedLevel
        Student's t with `UNREAD_DOF` degrees of freedom whose 95 % range reaches from land surface to the bottom.

    Example
    -------
    >>> from tapedown.engine.expected.next_reading import level_on
    >>> told = level_on(unread_level(40.0), "2026-05-14")
    >>> told.middle_m, round(told.half_width_m(0.95), 3)
    (20.0, 20.0)
    """
    half_m = max(bottom_m, 1.0) / 2
    scale_m = half_m / float(stdtrit(UNREAD_DOF, 0.975))
    return ExpectedLevel("", 0, 0, 0, half_m, (0.0,) * 6, (0.0,) * 21, 0.0, YEAR_D, scale_m**2, UNREAD_DOF)


def record_of(days: Sequence[int], depths_m: Sequence[float]) -> DailyReadings:
    """Readings in order of time; of several on a day, the median.

    Parameters
    ----------
    days
        Day numbers, shape (n,), in any order.
    depths_m
        Depths below land surface, m, shape (n,), without NaN.

    Returns
    -------
    DailyReadings
        Each day once, shape (days read,); depths about their median, `centre_m`.

    Example
    -------
    >>> record = record_of([737030, 737000, 737030], [10.4, 10.0, 10.2])
    >>> record.days.tolist(), (record.centre_m + record.columns[:, 5]).round(3).tolist()
    ([737000.0, 737030.0], [10.0, 10.3])
    """
    when, depth = np.asarray(days, dtype=float), np.asarray(depths_m, dtype=float)
    order = np.lexsort((depth, when))
    once, starts, counts = np.unique(when[order], return_index=True, return_counts=True)
    low, high = starts + (counts - 1) // 2, starts + counts // 2
    middle = (depth[order][low] + depth[order][high]) / 2
    centre_m = float(np.median(middle))
    angle = 2 * math.pi * once / YEAR_D
    terms = [np.ones(len(once)), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle), middle - centre_m]
    return DailyReadings(once, once / YEAR_D, np.column_stack(terms), centre_m)


def settled(record: DailyReadings, priors: Priors) -> tuple[Ratios, Array]:
    """The likeliest ratios, and the noise of readings that lie far from all others.

    Parameters
    ----------
    record
        Readings, one a day.
    priors
        What is held of a well before it is looked at; they alone speak below `FEWEST` readings.

    Returns
    -------
    tuple
        Ratios, and the variance added to the noise of each reading over that of a year's drift, shape (n,), mostly 0.
    """
    place = np.array([priors.noise.middle, priors.forget.middle, priors.season.middle])
    extra = np.zeros(len(record.days))
    if len(record.days) < FEWEST:
        return _ratios(place), extra
    for most, step in SEARCHES:
        place = _searched(record, place, extra, priors, most, step)
        before, extra = extra, _far(record, _ratios(place), extra, priors)
        if np.allclose(before, extra, rtol=0.2, atol=0.1 * math.exp(place[0])):
            break
    return _ratios(place), extra


def _searched(record: DailyReadings, start: Array, extra: Array, priors: Priors, most: int, step: float) -> Array:
    def cost(place: Array) -> float:
        return fitted(record, _ratios(place), extra, priors).cost

    corners = start + np.vstack([np.zeros(3), step * np.eye(3)])
    options = {"maxfev": most, "xatol": 0.1, "fatol": 0.02, "initial_simplex": corners}
    minimum = minimize(cost, start, method="Nelder-Mead", options=options)  # type: ignore[call-overload]
    return np.asarray(minimum.x, dtype=np.float64)


def _ratios(place: Array) -> Ratios:
    return Ratios(*(math.exp(max(-14.0, min(8.0, at))) for at in place))


def fitted(record: DailyReadings, ratios: Ratios, extra: Array, priors: Priors) -> Fit:
    """Mean, season, level and drift for one choice of ratios, and what that choice costs.

    Parameters
    ----------
    record
        Readings, one a day.
    ratios
        Variances over that of a year's drift, and the level's memory.
    extra
        Variance added to the noise of each reading, over that of a year's drift, shape (n,).
    priors
        What is held of a well before it is looked at.

    Returns
    -------
    Fit
        The posterior in closed form. Its cost compares choices of ratios on one record and one `extra` only.

    Notes
    -----
    Normal-inverse-gamma regression of the rows seen through the filter, whitened by their foretold scale: cost = (sum
    ln v + ln det P - sum ln p) / 2 + shape ln rate + strain / 2, v the variances of the innovations, P and p the
    posterior and prior precision of mean and season, strain the squared distance of the ratios from their priors.

    References
    ----------
    Bishop (2006), Pattern Recognition and Machine Learning, 3.3 and exercise 3.12 (from memory).
    """
    seen = filtered(chain(record.years, ratios.forget_yr), ratios.noise + extra, record.columns)
    rows = seen.innovations / np.sqrt(seen.variance)[:, None]
    x, y, held = rows[:, :5], rows[:, 5], _held(ratios.season)
    precision = x.T @ x + np.diag(held)
    inverse = np.asarray(np.linalg.inv(precision), dtype=np.float64)
    swing = inverse @ (x.T @ y)
    shape = (priors.worth + len(y) - 1) / 2
    rate = (priors.worth * priors.drift_m**2 + max(float(y @ y - swing @ precision @ swing), 0.0)) / 2
    spread = np.sum(np.log(seen.variance)) + np.linalg.slogdet(precision)[1] - np.sum(np.log(held))
    held_to = (priors.noise, priors.forget, priors.season)
    strain = added(((math.log(ratio) - prior.middle) / prior.spread) ** 2 for ratio, prior in zip(ratios, held_to))
    cost = float(0.5 * spread + shape * math.log(rate) + 0.5 * strain)
    return Fit(rows, held, inverse, swing, shape, rate, seen.last, seen.last_var, cost)


def _held(season: float) -> Array:
    """Prior precision of mean and season, over a year's drift."""
    half = season * HALF_YEAR_SHARE
    return np.array([1 / MEAN_VARIANCE, 1 / season, 1 / season, 1 / half, 1 / half])


def _far(record: DailyReadings, ratios: Ratios, extra: Array, priors: Priors) -> Array:
    """Noise to add so that no reading stands out by more than FAR standard deviations from what the others foretell."""
    fit = fitted(record, ratios, extra, priors)
    process = chain(record.years, ratios.forget_yr)
    solved, diagonal = from_the_others(process, ratios.noise + extra, record.columns)
    x, given = solved[:, :5], record.columns[:, :5]
    pulled = x @ np.linalg.inv(given.T @ x + np.diag(_held(ratios.season)))
    precision = diagonal - np.einsum("ij,ij->i", pulled, x)
    away = (solved[:, 5] - pulled @ (given.T @ solved[:, 5])) / precision
    stands_out = away**2 / FAR**2 / (fit.rate / fit.shape)
    return np.asarray(np.maximum(0.0, stands_out - (1 / precision - extra)), dtype=np.float64)


def surprises(fit: Fit, priors: Priors) -> Array:
    """One-step-ahead errors over the scale foretold from the readings before each.

    Parameters
    ----------
    fit
        Of the whole record: its rows are what the filter alone foretells, mean and season not yet taken out.
    priors
        What is held of a year's drift before the first reading.

    Returns
    -------
    ndarray
        Shape (n,), in the order of time; the first is 0, for nothing is known before it.

    References
    ----------
    Recursive residuals: Brown, Durbin & Evans (1975), J. R. Stat. Soc. B 37 (from memory).
    """
    x, y = fit.rows[:, :5], fit.rows[:, 5]
    squares = x[:, :, None] * x[:, None, :]
    before, xy_before = np.empty_like(squares), np.empty_like(x)
    before[0], xy_before[0] = np.diag(fit.held), 0.0
    before[1:] = np.diag(fit.held) + np.cumsum(squares[:-1], axis=0)
    xy_before[1:] = np.cumsum(x[:-1] * y[:-1, None], axis=0)
    solved = np.linalg.solve(before, np.stack([xy_before, x], axis=2))
    error = (y - np.einsum("ij,ij->i", x, solved[:, :, 0])) / np.sqrt(1 + np.einsum("ij,ij->i", x, solved[:, :, 1]))
    error[0] = 0.0
    count = np.maximum(np.arange(len(y)) - 1, 0)
    square = np.cumsum(error**2) - error**2
    return np.asarray(error / np.sqrt((priors.worth * priors.drift_m**2 + square) / (priors.worth + count)))


def _tails(errors: Array, priors: Priors) -> tuple[float, float]:
    """Degrees of freedom and widening that one-step-ahead errors ask for, held to the priors."""
    nu, wide = TAILS[:, None], WIDENINGS[None, :]
    likely = -0.5 * ((np.log(nu) - priors.tails.middle) / priors.tails.spread) ** 2
    likely = likely - 0.5 * ((np.log(wide) - priors.widen.middle) / priors.widen.spread) ** 2
    each = gammaln((nu + 1) / 2) - gammaln(nu / 2) - 0.5 * np.log(nu) - np.log(wide)
    bent = np.log1p((errors / wide[:, :, None]) ** 2 / nu[:, :, None]).sum(axis=2)
    likely = likely + len(errors) * each - (nu + 1) / 2 * bent
    row, column = np.unravel_index(np.argmax(likely), likely.shape)
    return float(TAILS[row]), float(WIDENINGS[column])


def _expectation(
    record: DailyReadings, ratios: Ratios, fit: Fit, extra: Array, *, tails: float, widen: float
) -> ExpectedLevel:
    variance = widen**2 * fit.rate / fit.shape
    pull = -fit.last[:5]
    joint = np.empty((6, 6))
    joint[:5, :5] = fit.inverse
    joint[5, :5] = joint[:5, 5] = fit.inverse @ pull
    joint[5, 5] = fit.last_var + pull @ fit.inverse @ pull
    level = fit.last[5] + pull @ fit.swing
    return ExpectedLevel(
        on=date_text(int(record.days[-1])),
        readings=len(record.days),
        set_aside=int(np.sum(extra > ratios.noise)),
        dry=0,
        centre_m=record.centre_m,
        middles_m=tuple(float(m) for m in (*fit.swing, level)),
        spreads_m2=tuple(float(s) for s in joint[np.tril_indices(6)] * variance),
        still_m2=variance * ratios.forget_yr / 2,
        forget_d=ratios.forget_yr * YEAR_D,
        noise_m2=variance * ratios.noise,
        dof=1 / math.hypot(1 / tails, 1 / (2 * fit.shape)),
    )
