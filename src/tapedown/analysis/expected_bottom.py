"""The total depth a well is expected to show: nearly constant, slowly shallower, or new after a leap with a reason.

depth = where the bottom is - rate x time + scatter, the rate held by a prior and never below 0; soundings before a leap
(cleaned out, deepened, obstructed) do not count.

References
----------
docs/methods/expected-value.md. Moments of a truncated normal distribution: Johnson, Kotz & Balakrishnan (1994),
Continuous Univariate Distributions 1, 13.10.1, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.expected.next_reading import bottom_on
from tapedown.engine.well.fill import YEAR_D
from tapedown.values.days import date_text, day_number
from tapedown.values.expectations import ExpectedBottom
from tapedown.values.settings import Settings
from tapedown.values.sums import added
from tapedown.values.units import FOOT_M

RATE_M_YR = 0.1 * FOOT_M
"""Typical rate of filling where nothing is known of it (half-normal); ours."""
SCATTER_M = 0.03 * FOOT_M
"""Scatter of soundings from one visit to the next beyond their own uncertainty; ours."""
WORTH = 6.0
"""Soundings that the scatter foretold (own uncertainty and SCATTER_M) is worth; ours."""
TAILS = 10.0
"""Degrees of freedom of soundings of which everything else is known; ours."""
COMPLETED_U_M = 1.0 * FOOT_M
"""Standard uncertainty of a bottom of which only the depth at completion is known; ours."""
LEAP = 0.002
"""A sounding less likely than this begins a new stretch, if the next bears it out or a reason is on record; ours."""


class Depth(NamedTuple):
    """A sounding: day number, depth below land surface, m, its standard uncertainty, m."""

    day: int
    depth_m: float
    u_m: float


class Reason(NamedTuple):
    """Something that may have moved the bottom: the day number, in words what."""

    day: int
    words: str


def expected_bottom(soundings: Sequence[Depth], reasons: Sequence[Reason] = ()) -> ExpectedBottom | None:
    """The total depth to be expected, from soundings.

    Parameters
    ----------
    soundings
        In any order.
    reasons
        What may have moved the bottom: with one of them a single sounding that leaps is believed.

    Returns
    -------
    ExpectedBottom or None
        Depth, m below land surface, and rate, m per year; None without any sounding (see `completed_bottom`).

    Notes
    -----
    sounding = depth - rate (t - t0) + scatter, rate >= 0, by weighted regression of the soundings since the last leap;
    t0 is their weighted mean day, where depth and rate are independent. Weights are 1 / (u^2 + SCATTER_M^2). The rate
    is half-normal, `RATE_M_YR`, before anything is known. The scale is never less than the soundings' own uncertainties
    let expect. A sounding less likely than `LEAP` begins anew where the next one bears it out or a reason is on record;
    alone it is set aside and `since` says so.

    References
    ----------
    docs/methods/expected-value.md. Moments of a truncated normal distribution: Johnson, Kotz & Balakrishnan (1994),
    Continuous Univariate Distributions 1, 13.10.1 (from memory). The figures are ours.

    Example
    -------
    >>> filling = [Depth(735000 + 730 * n, 25.0 - 0.04 * n, 0.01) for n in range(6)]
    >>> found = expected_bottom([*filling, Depth(739000, 25.3, 0.01)])
    >>> round(found.rate_m_yr, 3), found.soundings, found.since
    (0.02, 6, 'the sounding of 2024-04-24 lies apart and no other bears it out')
    """
    ordered = sorted(soundings)
    if not ordered:
        return None
    kept, since = _since_last_leap(ordered, sorted(reasons))
    return _fitted(kept, ordered[-1], since)


def completed_bottom(depth_m: float, on: str) -> ExpectedBottom:
    """The total depth to be expected of a well never sounded.

    Parameters
    ----------
    depth_m
        Depth at completion, m below land surface.
    on
        Day of completion, ISO 8601; "" where it is not known: then nothing is said of what may have come up since.

    Returns
    -------
    ExpectedBottom
        With `COMPLETED_U_M` (ours) for what is not known of that depth.
    """
    day = float(day_number(on)) if on else 0.0
    rate, u_rate = _not_below_0(0.0, RATE_M_YR) if on else (0.0, 0.0)
    return ExpectedBottom(on, 0, depth_m, day, depth_m, COMPLETED_U_M, rate, u_rate, SCATTER_M, 3.0)


def _since_last_leap(ordered: Sequence[Depth], reasons: Sequence[Reason]) -> tuple[list[Depth], str]:
    """The soundings that count, and why not all do."""
    kept: list[Depth] = [ordered[0]]
    since = ""
    for place, sounding in enumerate(ordered[1:], 1):
        if not _leaps(kept, sounding):
            kept.append(sounding)
            continue
        reason = next((r for r in reversed(reasons) if kept[-1].day < r.day <= sounding.day), None)
        later = ordered[place + 1] if place + 1 < len(ordered) else None
        if reason is None and (later is None or _leaps([sounding], later)):
            since = f"the sounding of {date_text(sounding.day)} lies apart and no other bears it out"
            continue
        why = reason.words if reason else "borne out by the next sounding"
        kept, since = [sounding], f"the bottom moved by {date_text(sounding.day)}: {why}"
    return kept, since


def _leaps(kept: Sequence[Depth], sounding: Depth) -> bool:
    expected = bottom_on(_fitted(kept, kept[-1], ""), date_text(sounding.day), Settings())
    return expected.beyond(sounding.depth_m) < LEAP


def _fitted(kept: Sequence[Depth], last: Depth, since: str) -> ExpectedBottom:
    """Weighted regression with the rate held by its prior; the depth is referred to the weighted mean day."""
    weights = [1 / (s.u_m**2 + SCATTER_M**2) for s in kept]
    whole = added(weights)
    about = added(w * s.day for w, s in zip(weights, kept)) / whole
    depth = added(w * s.depth_m for w, s in zip(weights, kept)) / whole
    years = [(s.day - about) / YEAR_D for s in kept]
    known = added(w * t * t for w, t in zip(weights, years)) + 1 / RATE_M_YR**2
    rate = -added(w * t * (s.depth_m - depth) for w, t, s in zip(weights, years, kept)) / known
    left = [s.depth_m - depth + max(rate, 0.0) * t for t, s in zip(years, kept)]
    dof = WORTH + len(kept) - 1
    scatter = (WORTH + added(w * r * r for w, r in zip(weights, left))) / dof
    variance = max(1.0, scatter)  # soundings that agree better than they can be trusted are no more certain for it
    rate, u_rate = _not_below_0(rate, math.sqrt(variance / known))
    own = sorted(1 / w for w in weights)[len(weights) // 2]
    return ExpectedBottom(
        on=date_text(last.day),
        soundings=len(kept),
        last_m=last.depth_m,
        about=about,
        depth_m=depth,
        u_depth_m=math.sqrt(variance / whole),
        rate_m_yr=rate,
        u_rate_m_yr=u_rate,
        u_sounding_m=math.sqrt(variance * own),
        dof=1 / (1 / TAILS + 1 / dof),
        since=since,
    )


def _not_below_0(middle: float, spread: float) -> tuple[float, float]:
    """Mean and standard deviation of a normal variable of which it is known that it is not below 0.

    Example
    -------
    >>> [round(x, 4) for x in _not_below_0(0.0, 1.0)]
    [0.7979, 0.6028]
    """
    z = middle / spread
    above = 0.5 * math.erfc(-z / math.sqrt(2))
    if above < 1e-12:
        return 0.0, spread / -z  # far below 0: the rest of the tail is nearly exponential
    ratio = math.exp(-z * z / 2) / math.sqrt(2 * math.pi) / above
    return middle + spread * ratio, spread * math.sqrt(max(1 - ratio * (z + ratio), 1e-12))
