"""What is learnt of a zero that wanders, against scipy and the whole normal distribution of the checks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from tapedown.loggers.epoch import Array
from tapedown.loggers.zero_drift import YEAR_S, Walk, learnt_walk

PRIOR_M, PRIOR_DOF = 0.03, 3.0
AT_YR = np.array([0.0, 0.4, 1.1, 1.5, 2.6, 3.0])
OFFSET_M = np.array([0.00, 0.02, -0.01, 0.05, 0.03, 0.09])
U_M = np.array([0.003, 0.004, 0.003, 0.010, 0.003, 0.005])
ALL = np.ones(5, bool)


def learnt(still: Array = ALL, *, prior_m: float = PRIOR_M, dof: float = PRIOR_DOF) -> Walk:
    return learnt_walk(AT_YR * YEAR_S, OFFSET_M, U_M, still, prior_m=prior_m, prior_dof=dof)


def posterior(still: Array, dof: float) -> tuple[Array, Array]:
    """s^2 on a fine grid of its logarithm, and the probability of each: scaled inverse chi-square times the normal
    distribution of the still changes with their common rate integrated out, its covariance written out in full.
    """
    log2 = np.linspace(-12, 12, 961) + 2 * math.log(PRIOR_M)
    size2 = np.exp(log2)
    told = stats.invgamma.logpdf(size2, dof / 2, scale=dof / 2 * PRIOR_M**2) + log2
    if still.sum() > 1:
        take, years = np.diff(np.eye(6), axis=0)[still], np.diff(AT_YR)[still]
        whole = take @ np.diag(U_M**2) @ take.T + size2[:, None, None] * np.diag(years)
        inverse, change = np.linalg.inv(whole), take @ OFFSET_M
        precision = years @ inverse @ years
        rest = change - np.outer(years @ inverse @ change / precision, years)
        left = np.einsum("ni,nij,nj->n", rest, inverse, rest)
        told = told - 0.5 * (np.linalg.slogdet(whole)[1] + np.log(precision) + left)
    weight = np.exp(told - told.max())
    return size2, weight / weight.sum()


STILL = {
    "all": ALL,
    "one handled": np.array([True, True, False, True, True]),
    "two left": np.array([False, True, False, True, False]),
    "one left": np.array([False, True, False, False, False]),
    "none left": ~ALL,
}


@pytest.mark.parametrize("dof", [2.0, 8.0])
@pytest.mark.parametrize("still", STILL.values(), ids=STILL)
def test_the_size_learnt_is_the_median_of_the_posterior(still: Array, dof: float) -> None:
    size2, weight = posterior(still, dof)
    median = math.sqrt(np.interp(0.5, np.cumsum(weight), size2))
    assert learnt(still, dof=dof).size_m == pytest.approx(median, rel=0.03)  # its grid is a tenth of ln s^2 wide


@pytest.mark.parametrize("years", [0.0, 0.001, 0.1, 1.0, 30.0])
@pytest.mark.parametrize("still", [ALL, ~ALL], ids=["all", "none left"])
def test_an_uncertainty_is_the_half_width_that_holds_95_percent_over_1_96(still: Array, years: float) -> None:
    own_m = 0.004
    size2, weight = posterior(still, PRIOR_DOF)

    def left_out(half_m: float) -> float:
        return float(weight @ (2 * stats.norm.sf(half_m / np.sqrt(own_m**2 + size2 * years)))) - 0.05

    half_m = optimize.brentq(left_out, own_m, 100.0)
    found = learnt(still).u_m(np.array([own_m**2]), np.array([years]))
    assert found[0] == pytest.approx(half_m / stats.norm.ppf(0.975), rel=0.02)


def test_without_checks_what_a_zero_gathers_is_students_t() -> None:
    """A normal whose variance is scaled inverse chi-square is Student's t of those degrees of freedom (Gelman et al.,
    from memory).
    """
    walk, scale = learnt(~ALL), PRIOR_M * 10**0.5
    expected = stats.t.ppf(0.975, PRIOR_DOF) / stats.norm.ppf(0.975) * scale
    assert walk.u_m(np.array([1e-12]), np.array([10.0]))[0] == pytest.approx(expected, rel=0.02)


def test_a_trend_all_checks_share_is_no_wandering() -> None:
    steady = learnt_walk(AT_YR * YEAR_S, 0.05 * AT_YR, U_M, ALL, prior_m=PRIOR_M, prior_dof=PRIOR_DOF)
    still = learnt_walk(AT_YR * YEAR_S, 0.0 * AT_YR, U_M, ALL, prior_m=PRIOR_M, prior_dof=PRIOR_DOF)
    assert steady.size_m == pytest.approx(still.size_m)
    assert steady.size_m < 0.8 * PRIOR_M


def test_two_checks_at_one_moment_are_no_stumbling_block() -> None:
    twice = np.array([0.0, 1.0, 1.0, 2.0]) * YEAR_S
    walk = learnt_walk(
        twice, np.array([0, 0.01, 0.01, 0.02]), np.full(4, 0.003), np.ones(3, bool), prior_m=PRIOR_M, prior_dof=2
    )
    assert 0 < walk.size_m < 1


def test_a_size_that_is_given_grows_with_the_root_of_time() -> None:
    found = Walk(0.03).u_m(np.array([0.0, 0.0016, 0.0016]), np.array([4.0, 0.0, 1.0]))
    assert found == pytest.approx([0.06, 0.04, 0.05])
