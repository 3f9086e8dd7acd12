"""Is the well filling in? Fill since completion, screen buried, rate, and when a chosen share will be buried.

Every figure is a sum of soundings with known sensitivities, so its uncertainty goes through the same budget as a
reading's: what two soundings share (tape, measuring point) cancels, what they do not share stays.

References
----------
Redevelop when 20 % or more of the screen is blocked: San Joaquin County (CA) doc 932734 p. 56, one county's rule and a
setting here. Fill and share buried: geometry.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from tapedown.engine.checks.named import finding
from tapedown.engine.context import ReadingContext
from tapedown.engine.uncertainty.budget import combine, difference, last_digit, scaled, total
from tapedown.engine.uncertainty.digits import percent, spread
from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.values.days import date_text, day_number
from tapedown.values.results import MANY, Finding, Part, Result
from tapedown.values.sums import added
from tapedown.values.wells import Construction, Interval

YEAR_D = 365.25
FORESEEABLE_YR = 200.0
"""Further ahead no date is given."""


class Sounding(NamedTuple):
    """A total depth as reduced: day ("2026-05-14"), depth below land surface and the parts of its uncertainty."""

    on: str
    depth_m: float
    parts: tuple[Part, ...]


class Buried(NamedTuple):
    """A screen and how much of it the fill covers."""

    screen: Interval
    buried_m: float
    share: float


class Projection(NamedTuple):
    """When the chosen share of the lowest screen will be buried, if the rate goes on.

    latest is None when it lies further ahead than FORESEEABLE_YR.
    """

    share: float
    on: str
    earliest: str
    latest: str | None


class WellCondition(NamedTuple):
    """State of the bottom of a well. Lengths in m, rate in m per year; None where it cannot be said.

    since      what the fill counts from: "completion" or the date of the first sounding
    fill       None when the only sounding is what it would count from
    real       whether the fill is larger than its own expanded uncertainty
    """

    since: str
    fill: Result | None
    real: bool
    screens: tuple[Buried, ...]
    rate: Result | None
    projection: Projection | None
    findings: tuple[Finding, ...]


def buried_m(bottom_m: float, screen_top_m: float, screen_bottom_m: float) -> float:
    """Length of screen below the fill's surface.

    Parameters
    ----------
    bottom_m
        Depth at which the bottom was felt, m.
    screen_top_m
        Depth of the upper end of the screen, m from the same point.
    screen_bottom_m
        Depth of its lower end, m, the greater one.

    Returns
    -------
    float
        Buried length, m, >= 0.

    Example
    -------
    >>> round(buried_m(79.6, 70.0, 80.0), 3), buried_m(81.0, 70.0, 80.0)
    (0.4, 0.0)
    """
    return max(0.0, screen_bottom_m - max(bottom_m, screen_top_m))


def well_condition(
    soundings: Sequence[Sounding], context: ReadingContext, *, since: str = "completion"
) -> WellCondition | None:
    """State of the bottom of a well from its soundings.

    Parameters
    ----------
    soundings
        Total depths below land surface, m, in any order.
    context
        Construction of the well and the network's settings.
    since
        "completion" counts fill from the depth at completion where that is recorded, "first sounding" from the first
        sounding.

    Returns
    -------
    WellCondition or None
        Fill, m, share of the screens buried, rate, m per year, and projection; None without soundings.

    Example
    -------
    >>> soundings = [Sounding("2015-05-01", 79.5, ()), Sounding("2025-05-01", 79.4, ())]
    >>> state = well_condition(soundings, ReadingContext(), since="first sounding")
    >>> state is not None and state.fill is not None and round(state.fill.value_m, 3)
    0.1
    """
    if not soundings:
        return None
    ordered = sorted(soundings)
    last = ordered[-1]
    reference, named = _reference(ordered, context, since)
    level = context.settings.si("coverage")
    fill = None
    if reference is not last:
        fill = total("fill", reference.depth_m - last.depth_m, [*reference.parts, *scaled(last.parts, -1.0)], level)
    real = fill is not None and abs(fill.value_m) > fill.expanded_m
    screens = _screens(context.construction, last.depth_m)
    rate = filling_rate(ordered, level) if len({s.on for s in ordered}) > 1 else None
    projection = _project(ordered, rate, context) if rate else None
    findings = _findings(fill, real, named, screens, context)
    return WellCondition(named, fill, real, screens, rate, projection, tuple(findings))


def _reference(ordered: Sequence[Sounding], context: ReadingContext, since: str) -> tuple[Sounding, str]:
    completed = context.construction.completed_depth if context.construction else None
    if since != "completion" or completed is None:
        return ordered[0], ordered[0].on[:10]
    settings = context.settings
    parts = (
        last_digit(completed.resolution_si, "depth at completion, last digit"),
        Part("", "depth at completion", settings.si("u_reported"), MANY, settings.source("u_reported")),
    )
    return Sounding(ordered[0].on, completed.si, parts), "completion"


def filling_rate(soundings: Sequence[Sounding], level: float) -> Result:
    """Rate at which the bottom comes up: least squares through all soundings.

    The slope is a weighted sum of the depths, so each sounding's parts go in with that weight; where the soundings
    scatter about the line more than their budgets say, the scatter is added. Fewer than two different dates are a
    ValueError.

    Parameters
    ----------
    soundings
        Total depths below land surface, m, in order of date.
    level
        Coverage probability, 0 < level < 1.

    Returns
    -------
    Result
        Rate and its uncertainty, m per year, positive when filling.

    Notes
    -----
    rate = -sum w_i d_i with w_i = (t_i - mean t) / sum (t - mean t)^2, t in years of 365.25 days.

    Example
    -------
    >>> ten = [Sounding("2015-05-01", 81.9, ()), Sounding("2025-05-01", 79.4, ())]
    >>> round(filling_rate(ten, 0.95).value_m, 3)
    0.25
    """
    weights = _slope_weights(soundings)
    rate = -added(w * s.depth_m for w, s in zip(weights, soundings))
    parts = [part for w, s in zip(weights, soundings) for part in scaled(s.parts, -w)]
    return total("filling rate", rate, [*parts, *_scatter(soundings, weights, rate)], level)


def _years(soundings: Sequence[Sounding]) -> list[float]:
    return [(day_number(s.on) - day_number(soundings[0].on)) / YEAR_D for s in soundings]


def _slope_weights(soundings: Sequence[Sounding]) -> list[float]:
    years = _years(soundings)
    mean = added(years) / len(years)
    spread = added((t - mean) ** 2 for t in years)
    if spread == 0:
        raise ValueError("a rate needs soundings on two different dates")
    return [(t - mean) / spread for t in years]


def _scatter(soundings: Sequence[Sounding], weights: Sequence[float], rate: float) -> list[Part]:
    n = len(soundings)
    if n < 3:
        return []
    years, mean_depth = _years(soundings), added(s.depth_m for s in soundings) / n
    mean_year = added(years) / n
    residuals = [s.depth_m - mean_depth + rate * (t - mean_year) for s, t in zip(soundings, years)]
    seen = added(r * r for r in residuals) / (n - 2)
    budgeted = added(combine([p for p in s.parts if not p.key])[0] ** 2 for s in soundings) / n
    extra = max(0.0, seen - budgeted) * added(w * w for w in weights)
    return [Part("", "scatter about the line", math.sqrt(extra), n - 2, "residuals")] if extra > 0 else []


def _screens(construction: Construction | None, bottom_m: float) -> tuple[Buried, ...]:
    screens = construction.screens if construction else ()
    buried = []
    for screen in screens:
        top, bottom = sorted((screen.top.si, screen.bottom.si))
        length, covered = bottom - top, buried_m(bottom_m, top, bottom)
        buried.append(Buried(screen, covered, covered / length if length > 0 else 0.0))
    return tuple(buried)


def _project(soundings: Sequence[Sounding], rate: Result, context: ReadingContext) -> Projection | None:
    """Dates at which the share is reached: by the fitted rate, and by rate and depth at their expanded uncertainty.

    None when the rate is not larger than its own uncertainty, or the date lies too far ahead.
    """
    screens = context.construction.screens if context.construction else ()
    if not screens or rate.value_m <= rate.expanded_m:
        return None
    lowest = max(screens, key=lambda screen: screen.bottom.si)
    share = context.settings.si("bury_share")
    target = lowest.bottom.si - share * (lowest.bottom.si - lowest.top.si)
    now = _fitted_last(soundings, context.settings.si("coverage"))
    gap, slow = now.value_m - target, rate.value_m - rate.expanded_m
    if gap / rate.value_m > FORESEEABLE_YR:
        return None
    latest = (gap + now.expanded_m) / slow
    last = soundings[-1].on
    return Projection(
        share,
        _later(last, gap / rate.value_m),
        _later(last, (gap - now.expanded_m) / (rate.value_m + rate.expanded_m)),
        _later(last, latest) if latest <= FORESEEABLE_YR else None,
    )


def _fitted_last(soundings: Sequence[Sounding], level: float) -> Result:
    """Depth of the fitted line at the last sounding."""
    years, slope = _years(soundings), _slope_weights(soundings)
    ahead = years[-1] - added(years) / len(years)
    weights = [1 / len(years) + w * ahead for w in slope]
    depth = added(w * s.depth_m for w, s in zip(weights, soundings))
    return total("fitted depth", depth, [p for w, s in zip(weights, soundings) for p in scaled(s.parts, w)], level)


def _later(day: str, years: float) -> str:
    return date_text(day_number(day) + int(max(years, 0.0) * YEAR_D + 0.5))


def _findings(
    fill: Result | None, real: bool, named: str, screens: Sequence[Buried], context: ReadingContext
) -> list[Finding]:
    findings = []
    if fill is not None and real:
        doubt = spread(fill.expanded_m, context.settings.length_unit, 0.01)
        amounts = f"{context.say(abs(fill.value_m), 0.01)} ± {doubt}"
        findings.append(_filled(amounts, named) if fill.value_m > 0 else _deepened(amounts, named))
    limit, source = context.settings.si("bury_share"), context.settings.source("bury_share")
    findings += [
        finding(
            "screen-buried",
            f"{percent(b.share)} of the screen {b.screen.top} to {b.screen.bottom} is buried",
            f"at {percent(limit)} ({source}) redevelopment is considered; local rules come first",
        )
        for b in screens
        if b.share >= limit - 1e-9
    ]
    return findings


def _filled(amounts: str, named: str) -> Finding:
    message = f"the bottom has come up {amounts} since {named}"
    return finding("fill-real", message, "compare with the screen; watch the rate")


def _deepened(amounts: str, named: str) -> Finding:
    return finding(
        "fill-negative",
        f"the bottom lies {amounts} deeper than at {named}",
        "a well does not grow: look at the completion record and at the measuring point's height",
    )


def change_is_real(after: Sounding, before: Sounding, level: float) -> tuple[float, float, bool]:
    """Whether the depth changed between two soundings by more than its expanded uncertainty.

    Parameters
    ----------
    after
        The later sounding, m below land surface.
    before
        The earlier one; what both share (tape, measuring point) cancels.
    level
        Coverage probability, 0 < level < 1.

    Returns
    -------
    tuple
        Change, m, positive when deeper; its expanded uncertainty, m; whether the change is larger.

    Example
    -------
    >>> feel = (Part("", "feel", 0.01),)
    >>> change, _, real = change_is_real(Sounding("2025-05-01", 79.4, feel), Sounding("2015-05-01", 79.5, feel), 0.95)
    >>> round(change, 3), real
    (-0.1, True)
    """
    u, dof = difference(after.parts, before.parts)
    expanded = float(coverage_factor(dof, level) * u)
    change = after.depth_m - before.depth_m
    return change, expanded, abs(change) > expanded
