"""What blind repeats say is what the textbooks work out, and a claim that is too small or too large is told."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from tapedown.analysis.repeat_error import Pair, repeat_error

FEET = (0.02, -0.01, 0.03, 0.00, -0.02, 0.01, 0.00, 0.04)


def test_mean_spread_and_their_intervals_are_those_of_a_statistics_library() -> None:
    found = repeat_error([Pair(d, 0.02) for d in FEET], 0.95)
    interval = stats.ttest_1samp(FEET, 0.0).confidence_interval(0.95)
    assert (found.mean_m, found.mean_low_m, found.mean_high_m) == pytest.approx((sum(FEET) / 8, *interval), abs=1e-12)
    sd = stats.tstd(FEET)
    assert found.sd_m == pytest.approx(sd)
    assert found.repeat_m == pytest.approx(sd / math.sqrt(2))
    assert found.sd_low_m == pytest.approx(sd * math.sqrt(7 / stats.chi2.ppf(0.975, 7)))
    assert found.sd_high_m == pytest.approx(sd * math.sqrt(7 / stats.chi2.ppf(0.025, 7)))


@pytest.mark.parametrize(("u_ft", "said"), [(0.02, "is borne out"), (0.004, "is too small"), (0.5, "is too large")])
def test_the_claim_is_held_against_the_differences(u_ft: float, said: str) -> None:
    assert said in repeat_error([Pair(d, u_ft) for d in FEET], 0.95).verdict


def test_the_claim_and_the_limits_it_is_held_to_are_those_of_a_statistics_library() -> None:
    """Claims of 0.03 and 0.04 come to a root mean square of 0.05 / sqrt 2."""
    found = repeat_error([Pair(0.03, 0.03), Pair(-0.02, 0.04)], 0.95)
    assert found.claimed_m == pytest.approx(0.05 / math.sqrt(2))
    assert found.chi2 == pytest.approx(1.0 + 0.25)
    assert (found.chi2_low, found.chi2_high) == pytest.approx(stats.chi2.interval(0.95, 2))


def test_few_pairs_give_no_verdict_and_one_gives_no_spread() -> None:
    assert "4 pairs: too few" in repeat_error([Pair(0.01, 0.02)] * 4, 0.95).verdict
    assert "1 pair: too few" in repeat_error([Pair(0.01, 0.02)], 0.95).verdict
    one = repeat_error([Pair(0.01, 0.02)], 0.95)
    assert (one.n, one.mean_m, one.sd_m, one.repeat_m) == (1, 0.01, None, None)
    assert repeat_error([], 0.95).mean_m is None


@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_five_pairs_are_judged_by_the_limits_of_their_chi_square(level: float) -> None:
    """Claims just inside and just outside what scipy's chi-square distribution leaves to an honest one."""
    differences = (0.02, -0.01, 0.03, 0.01, -0.02)
    squares = sum(d * d for d in differences)
    low, high = stats.chi2.interval(level, 5)
    said = {
        "too small": (squares / high / 1.01) ** 0.5,
        "too large": (squares / low * 1.01) ** 0.5,
        "borne out": (squares / high * 1.01) ** 0.5,
        "is borne out": (squares / low / 1.01) ** 0.5,
    }
    for words, u_m in said.items():
        assert words in repeat_error([Pair(d, u_m) for d in differences], level).verdict
    times = f"{(high * 1.01 / 5) ** 0.5:.1f} times"
    assert times in repeat_error([Pair(d, said["too small"]) for d in differences], level).verdict


def test_two_pairs_have_a_spread() -> None:
    found = repeat_error([Pair(0.01, 0.02), Pair(-0.02, 0.02)], 0.95)
    assert found.sd_m == pytest.approx(stats.tstd([0.01, -0.02]))
    interval = stats.ttest_1samp([0.01, -0.02], 0.0).confidence_interval(0.95)
    assert (found.mean_low_m, found.mean_high_m) == pytest.approx(tuple(interval))
