"""How far the zero of a logger wanders by itself, learnt from the checks, and what that makes of an uncertainty.

The zero walks at random: after a time T its offset has gathered a variance s^2 T. What is known of s before any check
is a scaled inverse chi-square of s^2 about `drift_walk` with `drift_walk_dof` degrees of freedom. Every change of the
offset from one check to the next then speaks, through its likelihood: normal, with the uncertainty of tape and logger
at both ends (which two neighbouring changes share), the common trend projected out. What is left is a posterior on a
grid of ln s^2. The interval that holds 95 % is found by integrating over it, not by putting the likeliest s in.

References
----------
Gelman et al., Bayesian data analysis, ch. 2.6 and 3.2: the scaled inverse chi-square as the prior of a variance (from
memory). Patterson & Thompson 1971, Biometrika 58: likelihood of what is left when a trend is projected out (from
memory). The grid, and saying the 95 % interval as a standard uncertainty: ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtr, ndtri

from tapedown.loggers.epoch import Array

YEAR_S = 365.25 * 86400
LEVEL = 0.95
NORMAL = float(ndtri((1 + LEVEL) / 2))
_NONE = np.empty(0)
_SPREAD = np.linspace(-12.0, 12.0, 241)
"""ln s^2 about that of the prior."""
_SHARES = np.linspace(-12.0, 40.0, 209)
"""ln of what the walk adds over what the checks and the logger leave, where the growth is tabled."""
_LEAST = 1e-30


class Walk(NamedTuple):
    """The walk of a zero.

    size_m  what it gathers in a year, standard uncertainty; the median where it is learnt
    share   ln of the variance the walk adds, over the variance without it, ascending; empty where the size is known
    growth  ln of how many times as large the uncertainty is at that share
    """

    size_m: float
    share: Array = _NONE
    growth: Array = _NONE

    def u_m(self, own2_m2: Array, years: Array) -> Array:
        """Standard uncertainty of a value after so many years of walking.

        Where the size is learnt it is the half-width that holds 95 %, over 1.96: twice it can be relied on, however few
        the checks.

        Parameters
        ----------
        own2_m2
            Variance of the value without the walk, m2, shape (n,).
        years
            How long the zero walked, years, shape (n,).

        Returns
        -------
        ndarray
            m, shape (n,); NaN where either is NaN.

        Notes
        -----
        sqrt(own2 + s^2 years) where s is known; where it is learnt, sqrt(own2) times the growth, interpolated in the
        logarithm of s^2 years / own2.

        Example
        -------
        >>> float(Walk(0.03).u_m(np.array([0.0016]), np.array([1.0]))[0])
        0.05
        """
        if not len(self.share):
            return np.sqrt(own2_m2 + self.size_m**2 * years)
        own2 = np.maximum(own2_m2, _LEAST)
        share = np.log(np.maximum(self.size_m**2 * years, _LEAST) / own2)
        return np.asarray(np.sqrt(own2) * np.exp(np.interp(share, self.share, self.growth)), np.float64)


def learnt_walk(at_s: Array, offset_m: Array, u_m: Array, still: Array, *, prior_m: float, prior_dof: float) -> Walk:
    """The walk learnt from offsets at checks.

    Parameters
    ----------
    at_s
        Times of the checks in order, s, shape (n,).
    offset_m
        Offsets found there, m, shape (n,), without NaN.
    u_m
        Their standard uncertainties, m, shape (n,).
    still
        Whether nothing but the walk moved the zero from one check to the next, shape (n - 1,).
    prior_m
        What is known of the size before any check: m in a year.
    prior_dof
        Degrees of freedom behind that, > 0.

    Returns
    -------
    Walk
        Its size is the median of the posterior; fewer than two still stretches leave the prior as it is.

    Notes
    -----
    Prior of s^2: p(ln s^2) ~ exp(-nu / 2 (ln s^2 + prior^2 / s^2)). Changes d_k of the offset over T_k years: d_k = b
    T_k + normal(s^2 T_k + u_k^2 + u_(k+1)^2), neighbours sharing -u_(k+1)^2, the trend b projected out. Worked out on a
    grid of ln s^2 from e^-12 to e^12 times the prior.

    References
    ----------
    Gelman et al., Bayesian data analysis, ch. 2.6 and 3.2 (from memory). Patterson & Thompson 1971, Biometrika 58 (from
    memory). The grid: ours.

    Example
    -------
    >>> at_s, quiet = np.arange(30) * YEAR_S, np.ones(29, bool)
    >>> steps = np.where(np.arange(30) % 2, 0.05, -0.05)
    >>> walk = learnt_walk(at_s, np.cumsum(steps), np.full(30, 0.001), quiet, prior_m=0.01, prior_dof=2)
    >>> round(walk.size_m, 3)
    0.048
    """
    log2 = _SPREAD + 2 * np.log(prior_m)
    size2 = np.exp(log2)
    log_density = -prior_dof / 2 * (log2 + prior_m**2 / size2)
    if still.sum() > 1:
        log_density = log_density + _likelihood(size2, at_s, offset_m, u_m, still)
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    median2 = float(np.exp(np.interp(0.5, np.cumsum(weight), log2)))
    return Walk(float(np.sqrt(median2)), _SHARES, np.log(_growth(np.exp(_SHARES) / median2, size2, weight)))


def _likelihood(size2: Array, at_s: Array, offset_m: Array, u_m: Array, still: Array) -> Array:
    """ln likelihood of each s^2, shape (g,), by the changes over still stretches, their trend left out."""
    years = np.diff(at_s)[still] / YEAR_S
    u2 = u_m**2
    shared = np.diag(u2[1:] + u2[:-1]) - np.diag(u2[1:-1], 1) - np.diag(u2[1:-1], -1)
    root = np.sqrt(np.maximum(years, 1e-9))
    noise = shared[np.ix_(still, still)] / np.outer(root, root)
    free = np.linalg.svd(root[:, None], full_matrices=True)[0][:, 1:]
    noise2, turned = np.linalg.eigh(free.T @ noise @ free)
    seen = turned.T @ (free.T @ (np.diff(offset_m)[still] / root))
    variance = size2[:, None] + np.maximum(noise2, 0.0)
    return np.asarray(-0.5 * (np.log(variance) + seen**2 / variance).sum(axis=1), np.float64)


def _growth(ratio: Array, size2: Array, weight: Array) -> Array:
    """Half-width that holds 95 % of a normal of variance 1 + ratio s^2, s^2 spread by its weights, over 1.96; (r,)."""
    sigma = np.sqrt(1 + ratio[:, None] * size2)
    low, high = np.full(ratio.shape, -1.0), np.log(sigma[:, -1]) + 2.0
    for _ in range(40):
        middle = (low + high) / 2
        held = ((2 * ndtr(np.exp(middle)[:, None] / sigma) - 1) * weight).sum(axis=1)
        low, high = np.where(held < LEVEL, middle, low), np.where(held < LEVEL, high, middle)
    return np.asarray(np.exp((low + high) / 2) / NORMAL, np.float64)
