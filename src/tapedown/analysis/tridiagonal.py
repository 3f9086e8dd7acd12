"""A level that wanders and is pulled back, read with noise at odd times: its likelihood in time linear in the readings.

The level is an Ornstein-Uhlenbeck process. Its precision over the reading times is tridiagonal, so one LDL'
factorisation filters the whole record at once.

References
----------
Rue & Held (2005), Gaussian Markov Random Fields, 2.4 (banded precision) and 2.1.2 (forward elimination is filtering);
Durbin & Koopman (2012), Time Series Analysis by State Space Methods, 4.3 (innovations), from memory.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpttrf, dtbtrs

Array = NDArray[np.float64]


class Chain(NamedTuple):
    """The process at the reading times, its variance 1 per year of drift.

    diagonal, off  tridiagonal precision, shape (n,) and (n - 1,)
    keep           share of the level kept from one reading to the next, shape (n - 1,)
    fresh          variance that joins on the way, shape (n - 1,)
    still          variance of the process where nothing was read
    """

    diagonal: Array
    off: Array
    keep: Array
    fresh: Array
    still: float


class Filtered(NamedTuple):
    """Columns seen through the filter.

    innovations  each row minus what the rows before it foretell, shape (n, k)
    variance     of the innovations of a column that is the readings, shape (n,)
    last         the level at the last reading from each column, shape (k,)
    last_var     its variance
    """

    innovations: Array
    variance: Array
    last: Array
    last_var: float


def chain(years: Array, tau_yr: float) -> Chain:
    """The process at the reading times.

    Parameters
    ----------
    years
        Rising times, years, shape (n,).
    tau_yr
        Time in which the level forgets, years, > 0.

    Returns
    -------
    Chain
        Of variance 1 per year of drift; to be scaled by that of a well.

    Raises
    ------
    ValueError
        Times that do not rise.

    Notes
    -----
    Ornstein-Uhlenbeck: over a step h the share exp(-h / tau) is kept and the variance tau / 2 (1 - exp(-2h / tau))
    joins.

    References
    ----------
    Rue & Held (2005), Gaussian Markov Random Fields, 2.4.

    Example
    -------
    >>> process = chain(np.array([0.0, 1.0, 3.0]), 2.0)
    >>> process.keep.round(3).tolist(), process.still
    ([0.607, 0.368], 1.0)
    """
    steps = np.diff(years)
    if np.any(steps <= 0):
        raise ValueError(f"times must rise; the smallest step is {np.min(steps)} years")
    still = tau_yr / 2
    keep = np.exp(-steps / tau_yr)
    fresh = -still * np.expm1(-2 * steps / tau_yr)
    pull = keep / fresh
    diagonal = np.empty(len(years))
    diagonal[0] = 1 / still
    diagonal[1:] = 1 / fresh
    diagonal[:-1] += keep * pull
    return Chain(diagonal, -pull, keep, fresh, still)


def filtered(process: Chain, noise: Array, columns: Array) -> Filtered:
    """Columns seen through the filter: each row less what the rows before it foretell.

    It is linear, so that readings and the columns of mean and season go through it in one look.

    Parameters
    ----------
    process
        The level at the times of the rows.
    noise
        Variances of the rows about the level, in the scale of the process, > 0, shape (n,).
    columns
        Shape (n, k), without NaN.

    Returns
    -------
    Filtered
        Innovations, shape (n, k), their variance, shape (n,), and the level at the last row.

    References
    ----------
    Rue & Held (2005), Gaussian Markov Random Fields, 2.1.2; Durbin & Koopman (2012), Time Series Analysis by State
    Space Methods, 4.3 (from memory).

    Example
    -------
    >>> hardly_forgets = chain(np.array([0.0, 1.0, 2.0]), 1e4)
    >>> seen = filtered(hardly_forgets, np.full(3, 1e-6), np.array([[1.0], [3.0], [4.0]]))
    >>> seen.innovations.round(2).ravel().tolist()
    [1.0, 2.0, 1.0]
    """
    weight = 1 / noise
    pivots, band = _eliminated(process.diagonal + weight, process.off)
    swept, _ = dtbtrs(band, weight[:, None] * columns, uplo="L", diag="U")
    inside = pivots.copy()
    inside[:-1] -= process.keep**2 / process.fresh
    after = swept / inside[:, None]
    innovations, variance = columns.astype(float).copy(), noise + process.still
    innovations[1:] -= process.keep[:, None] * after[:-1]
    variance[1:] = noise[1:] + process.fresh + process.keep**2 / inside[:-1]
    return Filtered(innovations, variance, after[-1], float(1 / inside[-1]))


def from_the_others(process: Chain, noise: Array, columns: Array) -> tuple[Array, Array]:
    """Each row against all others.

    Parameters
    ----------
    process
        The level at the times of the rows.
    noise
        Variances of the rows about the level, in the scale of the process, > 0, shape (n,).
    columns
        Shape (n, k), without NaN.

    Returns
    -------
    tuple
        Precision of the rows times columns, shape (n, k), and the precision's diagonal, shape (n,). Their quotient is
        each row less what all others foretell of it, one over the diagonal its variance.

    References
    ----------
    Rue & Held (2005), Gaussian Markov Random Fields, 2.4: the inverse's diagonal comes from the pivots of eliminating
    forward and backward.

    Example
    -------
    >>> hardly_forgets = chain(np.array([0.0, 1.0, 2.0]), 1e4)
    >>> solved, diagonal = from_the_others(hardly_forgets, np.full(3, 1e-6), np.array([[1.0], [5.0], [3.0]]))
    >>> round(float(solved[1, 0] / diagonal[1]), 2)
    3.0
    """
    weight, diagonal = 1 / noise, process.diagonal + 1 / noise
    forward, band = _eliminated(diagonal, process.off)
    backward = _eliminated(diagonal[::-1], process.off[::-1])[0][::-1]
    swept, _ = dtbtrs(band, weight[:, None] * columns, uplo="L", diag="U")
    smooth, _ = dtbtrs(band, swept / forward[:, None], uplo="L", diag="U", trans="T")
    inverse = 1 / (forward + backward - diagonal)
    return weight[:, None] * (columns - smooth), weight * (1 - weight * inverse)


def _eliminated(diagonal: Array, off: Array) -> tuple[Array, Array]:
    """Pivots, shape (n,), and the unit lower factor as a band, shape (2, n), of a tridiagonal matrix."""
    if len(diagonal) == 1:
        return diagonal, np.array([[1.0], [0.0]])
    pivots, lower, failed = dpttrf(diagonal, off)
    if failed:
        raise ValueError("the precision is not positive: noise and steps must be > 0")
    return pivots, np.vstack([np.ones(len(diagonal)), np.append(lower, 0.0)])
