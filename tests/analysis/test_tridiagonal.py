"""The quick filter says what the whole matrix says."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal

from tapedown.analysis.tridiagonal import chain, filtered, from_the_others

Array = NDArray[np.float64]
TAU_YR = 3.0


@pytest.fixture
def times() -> Array:
    return np.sort(np.random.default_rng(50).uniform(0.0, 20.0, 50))


@pytest.fixture
def noise() -> Array:
    return np.random.default_rng(51).uniform(0.01, 0.3, 50)


@pytest.fixture
def whole(times: Array, noise: Array) -> Array:
    """Covariance of readings of an Ornstein-Uhlenbeck process with drift variance 1 a year."""
    return TAU_YR / 2 * np.exp(-np.abs(times[:, None] - times) / TAU_YR) + np.diag(noise)


@pytest.fixture
def readings(whole: Array) -> Array:
    return np.random.default_rng(52).multivariate_normal(np.zeros(50), whole)


def test_innovations_give_the_likelihood_of_the_dense_normal_distribution(
    times: Array, noise: Array, whole: Array, readings: Array
) -> None:
    seen = filtered(chain(times, TAU_YR), noise, readings[:, None])
    quick = -0.5 * np.sum(np.log(2 * np.pi * seen.variance) + seen.innovations[:, 0] ** 2 / seen.variance)
    assert quick == pytest.approx(multivariate_normal(np.zeros(50), whole).logpdf(readings), rel=1e-9)


def test_the_last_level_is_the_conditional_one(times: Array, noise: Array, whole: Array, readings: Array) -> None:
    seen = filtered(chain(times, TAU_YR), noise, readings[:, None])
    shared = whole[-1] - np.where(np.arange(50) == 49, noise, 0.0)
    assert seen.last[0] == pytest.approx(shared @ np.linalg.solve(whole, readings), rel=1e-9)
    assert seen.last_var == pytest.approx(TAU_YR / 2 - shared @ np.linalg.solve(whole, shared), rel=1e-9)


def test_each_reading_against_the_others_needs_no_second_fit(
    times: Array, noise: Array, whole: Array, readings: Array
) -> None:
    solved, diagonal = from_the_others(chain(times, TAU_YR), noise, readings[:, None])
    others = np.arange(50) != 7
    told = whole[7, others] @ np.linalg.solve(whole[np.ix_(others, others)], readings[others])
    assert readings[7] - solved[7, 0] / diagonal[7] == pytest.approx(told, rel=1e-9)


def test_times_that_stand_still_are_refused() -> None:
    with pytest.raises(ValueError, match="times must rise"):
        chain(np.array([1.0, 1.0]), TAU_YR)
