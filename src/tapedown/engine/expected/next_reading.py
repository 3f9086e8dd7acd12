"""The distribution of a well's next reading on any day, from the few numbers of its expectation.

References
----------
docs/methods/expected-value.md has the formulas; Rasmussen & Williams (2006), Gaussian Processes for Machine Learning,
2.7 (explicit basis functions), for the joint posterior of mean, season and level.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.uncertainty.digits import spoken
from tapedown.engine.uncertainty.predictive import Predictive
from tapedown.engine.well.fill import YEAR_D
from tapedown.values.days import day_number
from tapedown.values.expectations import ExpectedBottom, ExpectedLevel
from tapedown.values.settings import Settings
from tapedown.values.sums import added

SHARE = 0.95
"""Share of next readings that an expected range holds."""
MOST_SURPRISE = 3.0
"""A neighbour's surprise counts up to this many of its scales: beyond it, its own reading is in doubt."""


class NeighbourLevel(NamedTuple):
    """A neighbour that was read: code, day ("2026-05-14"), depth below land surface and what was expected there."""

    code: str
    day: str
    depth_m: float
    expected: Predictive


class Range(NamedTuple):
    """Where SHARE of next readings lie, m below land surface, and what that rests on."""

    low_m: float
    high_m: float
    how: str


def range_of(predictive: Predictive) -> Range:
    """The range about the middle that holds SHARE of next readings.

    Parameters
    ----------
    predictive
        What the well is likely to show.

    Returns
    -------
    Range
        Shallow and deep edge, m below land surface.

    Example
    -------
    >>> [round(edge, 2) for edge in range_of(Predictive(10.0, 1.0, 10.0))[:2]]
    [7.77, 12.23]
    """
    half = predictive.half_width_m(SHARE)
    return Range(predictive.middle_m - half, predictive.middle_m + half, predictive.how)


def season_terms(day: float) -> tuple[float, float, float, float]:
    """Cosine and sine of the year and of the half year.

    Parameters
    ----------
    day
        Day number, as `values.days.day_number` counts.

    Returns
    -------
    tuple
        cos a, sin a, cos 2a, sin 2a with a = 2 pi day / 365.25.

    Example
    -------
    >>> [round(term, 3) + 0.0 for term in season_terms(0.0)]
    [1.0, 0.0, 1.0, 0.0]
    """
    angle = 2 * math.pi * day / YEAR_D
    return math.cos(angle), math.sin(angle), math.cos(2 * angle), math.sin(2 * angle)


def level_on(expected: ExpectedLevel, day: str) -> Predictive:
    """What a static level read on a day is likely to be.

    A day before the last reading is taken to be as far from it as the same number of days after it.

    Parameters
    ----------
    expected
        Of this well, as fitted from its history.
    day
        The day, ISO 8601.

    Returns
    -------
    Predictive
        Student's t, m below land surface.

    Notes
    -----
    middle = centre + w . m and scale^2 = w' S w + still (1 - k^2) + noise, with w = (1, season terms, k) and
    k = exp(-days / forget): far from the last reading the level is any that the well has, about its season.

    References
    ----------
    docs/methods/expected-value.md.
    """
    number = day_number(day)
    away_d = abs(number - day_number(expected.on)) if expected.on else 0
    kept = math.exp(-away_d / expected.forget_d)
    weights = (1.0, *season_terms(number), kept)
    middle = expected.centre_m + added(w * m for w, m in zip(weights, expected.middles_m))
    fresh = expected.still_m2 * (1 - kept * kept)
    variance = _quadratic(expected.spreads_m2, weights) + fresh + expected.noise_m2
    return Predictive(middle, math.sqrt(variance), expected.dof, _level_words(expected))


def _quadratic(triangle: Sequence[float], weights: Sequence[float]) -> float:
    """Variance of a weighted sum, the covariance given as its lower triangle, row by row."""
    total, place = 0.0, 0
    for row, first in enumerate(weights):
        for column in range(row + 1):
            total += first * weights[column] * triangle[place] * (1.0 if row == column else 2.0)
            place += 1
    return total


def _level_words(expected: ExpectedLevel) -> str:
    if not expected.on:
        return "no reading yet: between land surface and the bottom"
    words = f"read on {expected.readings} days, last" if expected.readings > 1 else "read once,"
    aside = f"; {expected.set_aside} of them far from the others count less" if expected.set_aside else ""
    dry = f"; {expected.dry} of them dry, at least as deep as the tape reached" if expected.dry else ""
    return f"{words} on {expected.on}{_season_words(expected)}{aside}{dry}"


def _season_words(expected: ExpectedLevel) -> str:
    """Whether the year's swing stands above its own uncertainty."""
    _, cosine, sine, *_ = expected.middles_m
    swing_m2 = cosine * cosine + sine * sine
    u_m2 = expected.spreads_m2[2] + expected.spreads_m2[5]
    return "; season" if swing_m2 > 4 * u_m2 else ""


def with_neighbours(
    predictive: Predictive, expected: ExpectedLevel, day: str, seen: Sequence[NeighbourLevel], settings: Settings
) -> Predictive:
    """The distribution once a neighbour was read about the same day: moved and narrowed by how well they go together.

    The neighbour closest in step speaks, alone: what several say together is not known.

    Parameters
    ----------
    predictive
        What the well is likely to show by itself, m below land surface.
    expected
        Of this well: which neighbours go with it, how closely and within how many days.
    day
        Day of the reading, ISO 8601.
    seen
        Neighbours that were read, with what was expected of them.
    settings
        The network's, for its unit.

    Returns
    -------
    Predictive
        m below land surface; as given where no neighbour was read in time.

    Notes
    -----
    Bivariate normal, conditional on the neighbour's surprise z in units of its scale, cut at `MOST_SURPRISE`: the
    middle moves by r z scale, the scale shrinks by sqrt(1 - r^2), r the correlation of the two wells' surprises.
    """
    by_code = {one.code: one for one in seen}
    for neighbour in expected.neighbours:
        one = by_code.get(neighbour.code)
        if one is not None and abs(day_number(one.day) - day_number(day)) <= neighbour.within_d:
            away = (one.depth_m - one.expected.middle_m) / one.expected.scale_m
            moved = neighbour.together * max(-MOST_SURPRISE, min(MOST_SURPRISE, away)) * predictive.scale_m
            scale = predictive.scale_m * math.sqrt(1 - neighbour.together**2)
            how = f"{predictive.how}; {_seen_words(one, day, settings)}"
            return Predictive(predictive.middle_m + moved, scale, predictive.dof, how)
    return predictive


def _seen_words(one: NeighbourLevel, day: str, settings: Settings) -> str:
    off = one.depth_m - one.expected.middle_m
    when = "that day" if one.day[:10] == day[:10] else f"on {one.day[:10]}"
    where = "below" if off > 0 else "above"
    return f"{one.code}, read {when}, lies {spoken(abs(off), settings, 0.01)} {where} what was expected there"


def bottom_on(expected: ExpectedBottom, day: str, settings: Settings) -> Predictive:
    """What a total depth felt on a day is likely to be.

    Parameters
    ----------
    expected
        Of this well's bottom, as fitted from its soundings.
    day
        The day, ISO 8601.
    settings
        The network's, for its unit.

    Returns
    -------
    Predictive
        Student's t, m below land surface.

    Notes
    -----
    middle = depth - rate t and scale^2 = u_depth^2 + (u_rate t)^2 + u_sounding^2, t in years since the day at which
    depth and rate are known independently of each other; t = 0 where no date of a sounding or of completion is known.
    """
    years = (day_number(day) - expected.about) / YEAR_D if expected.on else 0.0
    variance = expected.u_depth_m**2 + (expected.u_rate_m_yr * years) ** 2 + expected.u_sounding_m**2
    middle = expected.depth_m - expected.rate_m_yr * years
    return Predictive(middle, math.sqrt(variance), expected.dof, _bottom_words(expected, settings))


def _bottom_words(expected: ExpectedBottom, settings: Settings) -> str:
    depth = spoken(expected.last_m, settings)
    if not expected.soundings:
        return f"never sounded: {depth} at completion"
    many = "one sounding," if expected.soundings == 1 else f"{expected.soundings} soundings, the last"
    rate = spoken(expected.rate_m_yr, settings)
    words = f"{many} {depth} on {expected.on}; filling {rate} a year"
    return f"{words}; {expected.since}" if expected.since else words
