"""The quick fit of a level says what Gaussian conditioning on the whole covariance matrix says, by numpy and scipy.

The peer is written out in full here: covariance of all readings (wander, noise, season, mean), its inverse, and
Student's t of a level whose drift is not known (Bishop 2006, ch. 3, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from tapedown.analysis.expected_level import (
    FAR,
    HALF_YEAR_SHARE,
    MEAN_VARIANCE,
    PRIORS,
    TAILS,
    WIDENINGS,
    DailyReadings,
    Prior,
    Priors,
    Ratios,
    expected_level,
    fitted,
    record_of,
    settled,
    surprises,
)
from tapedown.engine.expected.next_reading import level_on
from tapedown.values.days import date_text, day_number

Array = NDArray[np.float64]
START = day_number("2014-02-03")
RATIOS = Ratios(0.05, 6.0, 0.2)
DRIFT_M = 0.35


def held_at(ratios: Ratios, tails: float = 6.0, widen: float = 1.0) -> Priors:
    """Priors so sure of themselves that the search stays where they are."""
    middles = (ratios.noise, ratios.forget_yr, ratios.season, tails, widen)
    noise, forget, season, dof, wide = (Prior(math.log(middle), 1e-5) for middle in middles)
    return Priors(noise=noise, forget=forget, season=season, drift_m=DRIFT_M, worth=1.0, tails=dof, widen=wide)


def history(count: int = 30, seed: int = 9) -> tuple[list[int], list[float]]:
    rng = np.random.default_rng(seed)
    days = START + np.cumsum(rng.integers(10, 120, count))
    depths = 12 + np.cumsum(rng.normal(0, 0.1, count)) + 0.4 * np.cos(2 * np.pi * days / 365.25)
    return [int(day) for day in days], [float(m) for m in depths]


def covariance(days: Array, others: Array, ratios: Ratios) -> Array:
    """Of levels on two sets of days, over the variance of a year's drift."""
    apart_yr = np.abs(days[:, None] - others) / 365.25
    angle = 2 * np.pi * (days[:, None] - others) / 365.25
    season = ratios.season * (np.cos(angle) + HALF_YEAR_SHARE * np.cos(2 * angle))
    return np.asarray(ratios.forget_yr / 2 * np.exp(-apart_yr / ratios.forget_yr) + season + MEAN_VARIANCE)


class Dense(NamedTuple):
    """Foretold middle, its variance over the drift's, and the drift's posterior: shape and rate of its variance."""

    middle: float
    variance: float
    shape: float
    rate: float
    log_det: float


def dense(
    record: DailyReadings, ratios: Ratios, noise: Array, at: float, seen: Sequence[bool] | NDArray[np.bool_]
) -> Dense:
    """What the readings that are seen foretell of a reading on day `at`, with the first noise given."""
    days, depths = record.days[seen], record.columns[seen, 5]
    whole = covariance(days, days, ratios) + np.diag(noise[seen])
    towards = covariance(days, np.array([at]), ratios)[:, 0]
    alone = covariance(np.array([at]), np.array([at]), ratios)[0, 0]
    solved = np.linalg.solve(whole, np.column_stack([depths, towards]))
    rate = (1.0 * DRIFT_M**2 + depths @ solved[:, 0]) / 2
    log_det = float(np.linalg.slogdet(whole)[1])
    shape = (1.0 + len(days) - 1) / 2  # the mean, of which nothing is known, takes one reading
    return Dense(float(towards @ solved[:, 0]), float(alone - towards @ solved[:, 1]), shape, float(rate), log_det)


def whole_record(days: list[int], depths: list[float]) -> tuple[DailyReadings, Array, NDArray[np.bool_]]:
    record = record_of(days, depths)
    return record, np.full(len(days), RATIOS.noise), np.ones(len(days), bool)


@pytest.mark.parametrize("ahead_d", [0, 40, 500, 5000])
@pytest.mark.parametrize("count", [1, 2, 3, 30])
def test_the_next_reading_is_the_conditional_one(count: int, ahead_d: int) -> None:
    days, depths = history(count)
    at = days[-1] + ahead_d
    found = level_on(expected_level(days, depths, priors=held_at(RATIOS)).expected, date_text(at))
    record, noise, all_seen = whole_record(days, depths)
    peer = dense(record, RATIOS, noise, at, all_seen)
    scale_m = math.sqrt(peer.rate / peer.shape * (peer.variance + RATIOS.noise))
    assert found.middle_m == pytest.approx(float(np.median(depths)) + peer.middle, abs=2e-5)
    assert found.scale_m == pytest.approx(scale_m, rel=2e-5)
    assert found.dof == pytest.approx(1 / math.hypot(1 / 6, 1 / (2 * peer.shape)))


def test_a_wider_spread_of_errors_widens_every_variance_alike() -> None:
    days, depths = history()
    plain, wide = (expected_level(days, depths, priors=held_at(RATIOS, widen=w)).expected for w in (1.0, math.e**0.5))
    assert wide.spreads_m2 == pytest.approx([m2 * math.e for m2 in plain.spreads_m2])
    assert wide.still_m2 == pytest.approx(plain.still_m2 * math.e)
    assert wide.noise_m2 == pytest.approx(plain.noise_m2 * math.e)
    assert wide.middles_m == plain.middles_m


def test_a_choice_of_ratios_costs_what_the_whole_matrix_and_the_priors_ask() -> None:
    """Minus the logarithm of marginal likelihood (Student's t of all readings) and priors, but for a constant."""
    days, depths = history()
    record, _, all_seen = whole_record(days, depths)
    others = [RATIOS, Ratios(0.2, 6.0, 0.2), Ratios(0.05, 40.0, 0.2), Ratios(0.05, 6.0, 0.01)]
    found, expected = [], []
    for ratios in others:
        peer = dense(record, ratios, np.full(30, ratios.noise), 0.0, all_seen)
        held_to = (PRIORS.noise, PRIORS.forget, PRIORS.season)
        priors = sum(stats.norm.logpdf(math.log(at), *held) for at, held in zip(ratios, held_to))
        expected.append(0.5 * peer.log_det + peer.shape * math.log(peer.rate) - float(priors))
        found.append(fitted(record, ratios, np.zeros(30), PRIORS).cost)
    assert np.diff(found) == pytest.approx(np.diff(expected), abs=2e-4)
    assert np.abs(np.diff(expected)).min() > 0.5


def test_each_reading_surprises_by_what_those_before_it_foretell() -> None:
    """Over the scale of the errors before it; what is held of a year's drift counts as one of them."""
    days, depths = history()
    record, noise, _ = whole_record(days, depths)
    errors = [0.0]
    for place in range(1, 30):
        peer = dense(record, RATIOS, noise, record.days[place], np.arange(30) < place)
        errors.append((record.columns[place, 5] - peer.middle) / math.sqrt(peer.variance + RATIOS.noise))
    scales = [math.sqrt((DRIFT_M**2 + sum(e * e for e in errors[:n])) / (1 + max(n - 1, 0))) for n in range(30)]
    found = surprises(fitted(record, RATIOS, np.zeros(30), held_at(RATIOS)), held_at(RATIOS))
    assert found == pytest.approx(np.array(errors) / scales, abs=1e-4)
    assert found[1] != 0.0


@pytest.mark.parametrize("seed", [9, 10, 11])
def test_tails_and_widening_are_the_likeliest_by_students_t(seed: int) -> None:
    days, depths = history(60, seed)
    fit = expected_level(
        days, depths, priors=(priors := held_at(RATIOS)._replace(tails=PRIORS.tails, widen=PRIORS.widen))
    )
    record = record_of(days, depths)
    errors = surprises(fitted(record, RATIOS, np.zeros(60), priors), priors)[1:]
    dofs, widths = np.meshgrid(TAILS, WIDENINGS, indexing="ij")
    likely = stats.t.logpdf(errors, dofs[..., None], scale=widths[..., None]).sum(axis=-1)
    likely += stats.norm.logpdf(np.log(dofs), *PRIORS.tails) + stats.norm.logpdf(np.log(widths), *PRIORS.widen)
    best = np.unravel_index(np.argmax(likely), likely.shape)
    dof, wide = dofs[best], widths[best]
    assert fit.expected.dof == pytest.approx(1 / math.hypot(1 / dof, 1 / 60))
    assert fit.surprises.errors[1:] == pytest.approx(errors / wide, abs=1e-6)
    assert fit.surprises.days.tolist() == days


@pytest.mark.parametrize("blunder_m", [0.0, 1.5, 4.0])
def test_a_reading_far_from_all_others_is_given_the_noise_that_brings_it_to_three_deviations(blunder_m: float) -> None:
    """Each reading against all others, one left out at a time. The drift is learnt anew each time the noise grew, three
    times in all at most.
    """
    days, depths = history()
    depths[12] += blunder_m
    record, noise, all_seen = whole_record(days, depths)
    extra = np.zeros(30)
    for _ in range(3):
        whole = dense(record, RATIOS, noise + extra, 0.0, all_seen)
        others = [dense(record, RATIOS, noise + extra, record.days[k], np.arange(30) != k) for k in range(30)]
        away = record.columns[:, 5] - [other.middle for other in others]
        far = away**2 / FAR**2 / (whole.rate / whole.shape) - [other.variance for other in others] - noise
        extra = np.maximum(0.0, far)
        if not extra.any():
            break
    found_ratios, found = settled(record, held_at(RATIOS))
    assert found_ratios == pytest.approx(RATIOS, rel=1e-3)
    assert found == pytest.approx(extra, rel=1e-3, abs=1e-4)
    assert [place for place in range(30) if found[place] > 0] == ([12] if blunder_m else [])
    assert expected_level(days, depths, priors=held_at(RATIOS)).expected.set_aside == bool(blunder_m)
