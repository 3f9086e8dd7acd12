"""What blind repeats say: the repeat error that was observed, and whether the claimed uncertainty is honest.

A well measured twice without sight of the first value gives one difference d, second less first. What both readings
share (the point's height, the tape's calibration) cancels in it, and so it is left out of the claim too.

    mean     of d, with a Student interval
    sd       of d about that mean, with a chi-square interval
    repeat   standard deviation of one reading, sd / sqrt 2
    chi2     sum of (d / u_d)^2, which has the chi-square distribution with n degrees when the claim is honest

References
----------
Paired differences and their intervals: ISO 5725-2 and common textbooks. Chi-square points: scipy.special.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.uncertainty.digits import rounded
from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.values.sums import added

ENOUGH = 5
"""Pairs below which nothing is said of the claim; ours."""


class Pair(NamedTuple):
    """One well measured twice: second less first, and the standard uncertainty claimed for that difference, m."""

    difference_m: float
    u_m: float


class RepeatError(NamedTuple):
    """What the pairs say; every length in m, None where there are too few pairs.

    mean_low_m, mean_high_m  interval of the mean
    sd_m, sd_low_m, sd_high_m  standard deviation of the differences and its interval
    repeat_m   standard deviation of one reading, sd_m / sqrt 2
    claimed_m  root mean square of the uncertainties claimed for the differences
    chi2       sum of squared differences over their claimed uncertainties
    chi2_low, chi2_high  between these an honest claim leaves it
    verdict    in words
    """

    n: int
    mean_m: float | None = None
    mean_low_m: float | None = None
    mean_high_m: float | None = None
    sd_m: float | None = None
    sd_low_m: float | None = None
    sd_high_m: float | None = None
    repeat_m: float | None = None
    claimed_m: float | None = None
    chi2: float | None = None
    chi2_low: float | None = None
    chi2_high: float | None = None
    verdict: str = "no well was measured a second time yet"


def repeat_error(pairs: Sequence[Pair], level: float) -> RepeatError:
    """The observed repeat error with its intervals, and the claim held against it.

    Parameters
    ----------
    pairs
        Wells measured twice, m; the claimed uncertainty of each difference > 0.
    level
        Coverage probability of the intervals, 0 < level < 1.

    Returns
    -------
    RepeatError
        Lengths in m; the spread is None with one pair, everything but n and the verdict without any. Below `ENOUGH`
        pairs the verdict says nothing of the claim.

    Notes
    -----
    Mean of d with Student's interval, n - 1 degrees of freedom; sd of d with sqrt(sum (d - mean)^2 / chi-square);
    sum (d / u)^2 is chi-square with n degrees where the claim is honest and the second reading differs by nothing else.

    References
    ----------
    Paired differences and their intervals: ISO 5725-2 and common textbooks.

    Example
    -------
    >>> found = repeat_error([Pair(d, 0.01) for d in (0.01, -0.01, 0.02, -0.02, 0.0, 0.01)], 0.95)
    >>> found.n, round(found.chi2, 6), found.verdict
    (6, 11.0, 'the claimed uncertainty is borne out: the differences are as large as it lets expect')
    """
    n = len(pairs)
    if n == 0:
        return RepeatError(0)
    mean = added(pair.difference_m for pair in pairs) / n
    chi2 = added((pair.difference_m / pair.u_m) ** 2 for pair in pairs)
    claimed = math.sqrt(added(pair.u_m**2 for pair in pairs) / n)
    low, high = _chi_square((1 - level) / 2, n), _chi_square((1 + level) / 2, n)
    error = RepeatError(n, mean, claimed_m=claimed, chi2=chi2, chi2_low=low, chi2_high=high)
    error = error._replace(verdict=_verdict(n, chi2, low, high))
    return error if n < 2 else _spread(error, pairs, mean, level)


def _spread(error: RepeatError, pairs: Sequence[Pair], mean: float, level: float) -> RepeatError:
    n = len(pairs)
    squares = added((pair.difference_m - mean) ** 2 for pair in pairs)
    sd = math.sqrt(squares / (n - 1))
    half = coverage_factor(n - 1, level) * sd / math.sqrt(n)
    return error._replace(
        mean_low_m=mean - half,
        mean_high_m=mean + half,
        sd_m=sd,
        sd_low_m=math.sqrt(squares / _chi_square((1 + level) / 2, n - 1)),
        sd_high_m=math.sqrt(squares / _chi_square((1 - level) / 2, n - 1)),
        repeat_m=sd / math.sqrt(2),
    )


def _verdict(n: int, chi2: float, low: float, high: float) -> str:
    if n < ENOUGH:
        return f"{n} pair{'s' if n != 1 else ''}: too few to judge the claimed uncertainty, {ENOUGH} are needed"
    factor = rounded(math.sqrt(chi2 / n), 0.1)
    if chi2 > high:
        return f"the claimed uncertainty is too small: the differences are {factor} times what it lets expect"
    if chi2 < low:
        return f"the claimed uncertainty is too large: the differences are {factor} times what it lets expect"
    return "the claimed uncertainty is borne out: the differences are as large as it lets expect"


def _chi_square(probability: float, dof: int) -> float:
    """The value below which a chi-square variable lies with this probability."""
    from scipy.special import chdtri  # a quarter of a second to load, and most commands need none of it

    return float(chdtri(dof, 1 - probability))
