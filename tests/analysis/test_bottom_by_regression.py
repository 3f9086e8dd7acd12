"""The expected bottom is the weighted regression with a prior on its rate, worked out here by numpy and scipy."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from tapedown.analysis.expected_bottom import (
    COMPLETED_U_M,
    LEAP,
    RATE_M_YR,
    SCATTER_M,
    TAILS,
    WORTH,
    Depth,
    Reason,
    completed_bottom,
    expected_bottom,
)
from tapedown.engine.expected.next_reading import bottom_on
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedBottom
from tapedown.values.settings import Settings

START = day_number("2012-04-02")
SOUNDED = (
    Depth(START, 25.00, 0.006),
    Depth(START + 300, 24.985, 0.006),
    Depth(START + 900, 24.955, 0.02),
    Depth(START + 1000, 24.96, 0.006),
    Depth(START + 2500, 24.91, 0.01),
)


def of(soundings: Sequence[Depth], *reasons: Reason) -> ExpectedBottom:
    found = expected_bottom(soundings, reasons)
    assert found is not None
    return found


def not_below_0(middle: float, spread: float) -> tuple[float, float]:
    """Mean and standard deviation by scipy's truncated normal."""
    cut = stats.truncnorm(-middle / spread, np.inf, middle, spread)
    return float(cut.mean()), float(cut.std())


@pytest.mark.parametrize("count", [1, 2, 3, 5])
@pytest.mark.parametrize("scattered_m", [0.0, 0.04])
def test_depth_rate_and_their_uncertainties_are_those_of_the_regression(count: int, scattered_m: float) -> None:
    """Unknowns: depth on the weighted mean day, and rate, which has a further "reading" of 0 by its prior."""
    sounded = [s._replace(depth_m=s.depth_m + scattered_m * (-1) ** k) for k, s in enumerate(SOUNDED[:count])]
    weights = np.array([1 / (s.u_m**2 + SCATTER_M**2) for s in sounded])
    days = np.array([s.day for s in sounded], float)
    depths = np.array([s.depth_m for s in sounded])
    about = float(np.average(days, weights=weights))
    years = (days - about) / 365.25
    design = np.vstack([np.column_stack([np.ones(count), -years]), [0.0, 1.0]])
    precision = np.append(weights, RATE_M_YR**-2)
    covariance = np.linalg.inv(design.T @ (precision[:, None] * design))
    depth, rate = covariance @ (design.T @ (precision * np.append(depths, 0.0)))
    left = depths - depth + max(rate, 0.0) * years
    dof = WORTH + count - 1
    variance = max(1.0, (WORTH + float(weights @ left**2)) / dof)
    expected_rate, u_rate = not_below_0(rate, math.sqrt(variance * covariance[1, 1]))
    found = of(sounded[::-1])
    assert (found.on, found.soundings, found.last_m) == (date_text(sounded[-1].day), count, sounded[-1].depth_m)
    assert (found.about, found.depth_m) == pytest.approx((about, depth))
    assert found.u_depth_m == pytest.approx(math.sqrt(variance * covariance[0, 0]))
    assert (found.rate_m_yr, found.u_rate_m_yr) == pytest.approx((expected_rate, u_rate), rel=1e-6)
    middle_own = sorted(1 / weights)[count // 2]
    assert found.u_sounding_m == pytest.approx(math.sqrt(variance * middle_own))
    assert found.dof == pytest.approx(1 / (1 / TAILS + 1 / dof))
    assert (variance > 1.5) == (scattered_m > 0 and count > 2)


def test_a_well_never_sounded_has_the_bottom_it_was_completed_with() -> None:
    found = completed_bottom(25.0, "2012-04-02")
    rate, u_rate = not_below_0(0.0, RATE_M_YR)
    assert found == ExpectedBottom("2012-04-02", 0, 25.0, START, 25.0, COMPLETED_U_M, *found[6:8], SCATTER_M, 3.0)
    assert (found.rate_m_yr, found.u_rate_m_yr) == pytest.approx((rate, u_rate))


def test_a_completion_without_a_day_tells_no_rate() -> None:
    assert completed_bottom(25.0, "") == ExpectedBottom("", 0, 25.0, 0.0, 25.0, COMPLETED_U_M, 0.0, 0.0, SCATTER_M, 3.0)


def test_a_bottom_that_went_down_fast_has_a_rate_of_next_to_nothing() -> None:
    """25 deviations below 0 the truncated normal is an exponential of mean spread^2 / distance (Johnson, Kotz &
    Balakrishnan 1994, from memory)."""
    lower = [Depth(START + 20 * k, 25.0 + 0.02 * k, 0.0001) for k in range(60)]
    found = of(lower)
    assert found.soundings == 60
    assert found.rate_m_yr == 0.0
    assert 0 < found.u_rate_m_yr < 0.01


def far_enough(expected: ExpectedBottom, day: int, share: float) -> float:
    """The depth above the middle beyond which only this share lies, to either side; by scipy."""
    told = bottom_on(expected, date_text(day), Settings())
    return told.middle_m + told.scale_m * float(stats.t.ppf(share / 2, told.dof))


@pytest.mark.parametrize(("times", "leaps"), [(0.9, True), (1.1, False)])
def test_a_sounding_less_likely_than_two_in_a_thousand_is_a_leap(times: float, leaps: bool) -> None:
    day = START + 2600
    after = Depth(day, far_enough(of(SOUNDED), day, times * LEAP), 0.006)
    found = of([*SOUNDED, after], Reason(day, "the pump was pulled"))
    assert (found.soundings == 1) == leaps
    assert ("the pump was pulled" in found.since) == leaps


DOWN = Depth(START + 3000, 27.0, 0.006)


@pytest.mark.parametrize(
    ("day", "believed"), [(START + 2500, False), (START + 2501, True), (START + 3000, True), (START + 3001, False)]
)
def test_a_reason_counts_after_the_last_sounding_and_up_to_the_leap(day: int, believed: bool) -> None:
    found = of([*SOUNDED, DOWN], Reason(day, "deepened"))
    assert (found.soundings, found.last_m) == ((1, 27.0) if believed else (5, 27.0))
    why = "the bottom moved by 2020-06-19: deepened" if believed else "the sounding of 2020-06-19 lies apart"
    assert found.since.startswith(why)


def test_of_two_reasons_the_later_is_told() -> None:
    reasons = (Reason(START + 2900, "deepened"), Reason(START + 2600, "cleaned out"))
    assert of([*SOUNDED, DOWN], *reasons).since.endswith("deepened")


def test_what_came_before_two_leaps_is_forgotten_twice() -> None:
    again = Depth(START + 3200, 22.0, 0.006)
    found = of([*SOUNDED, DOWN, DOWN._replace(day=START + 3100), again, again._replace(day=START + 3300)])
    assert (found.soundings, found.about) == pytest.approx((2, START + 3250))
    assert found.since == "the bottom moved by 2021-01-05: borne out by the next sounding"
