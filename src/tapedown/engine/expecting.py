"""The distribution of a well's next reading on any day, from the few numbers of its expectation.

References
----------
docs/methods/expected-value.md has the formulas; Rasmussen & Williams (2006), Gaussian Processes for Machine Learning,
2.7 (explicit basis functions), for the joint posterior of mean, season and level.
"""

from __future__ import annotations

import math

from tapedown.engine.fill import YEAR_D
from tapedown.engine.predictive import Predictive
from tapedown.values.days import day_number
from tapedown.values.expectations import ExpectedLevel


def season_terms(day: float) -> tuple[float, float, float, float]:
    """Cosine and sine of the year and of the half year on a day number.

    Example
    -------
    >>> [round(term, 3) + 0.0 for term in season_terms(0.0)]
    [1.0, 0.0, 1.0, 0.0]
    """
    angle = 2 * math.pi * day / YEAR_D
    return math.cos(angle), math.sin(angle), math.cos(2 * angle), math.sin(2 * angle)


def level_on(expected: ExpectedLevel, day: str) -> Predictive:
    """What a static level read on a day is likely to be, m below land surface.

    A day before the last reading is taken as far from it as the same day after it.
    """
    number = day_number(day)
    away_d = abs(number - day_number(expected.on))
    kept = math.exp(-away_d / expected.forget_d)
    weights = (1.0, *season_terms(number), kept)
    middle = expected.centre_m + sum(w * m for w, m in zip(weights, expected.middles_m))
    fresh = expected.still_m2 * (1 - kept * kept)
    variance = _quadratic(expected.spreads_m2, weights) + fresh + expected.noise_m2
    return Predictive(middle, math.sqrt(variance), expected.dof, _level_words(expected))


def _quadratic(triangle: tuple[float, ...], weights: tuple[float, ...]) -> float:
    """Sum over a covariance given as its lower triangle, row by row."""
    total, place = 0.0, 0
    for row, first in enumerate(weights):
        for column in range(row + 1):
            total += first * weights[column] * triangle[place] * (1.0 if row == column else 2.0)
            place += 1
    return total


def _level_words(expected: ExpectedLevel) -> str:
    many = "1 reading" if expected.readings == 1 else f"{expected.readings} readings, the last"
    words = f"{many} on {expected.on}"
    if expected.set_aside:
        words += f", {expected.set_aside} of them too far from the others to count in full"
    return words
