"""The series pulled onto the tape: an offset at every check, its change shared out, the rest as uncertainty.

At a check the offset is depth by tape plus water above the logger's zero: how deep that zero hangs. Between two checks
it is shared linearly in time, or taken in steps at the times of handling; before the first and after the last it is
held. Standard uncertainty of a depth at time t between the checks 0 and 1, with w = (t - t0) / (t1 - t0):

    u^2 = u_point^2 + (1 - w)^2 u0^2 + w^2 u1^2 + s^2 (t - t0) (t1 - t) / (t1 - t0)

the last term being that of a random walk tied down at both ends, s its size in a year; beyond the checks it is
s^2 |t - tk| and grows without end. Where s is learnt from the checks, u is what 95 % asks for (loggers.zero_drift).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import polars as pl

from tapedown.engine.checks.named import finding
from tapedown.engine.methods.logger_check import check_limit_m
from tapedown.engine.uncertainty.digits import percent, spoken
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck, bridged, points
from tapedown.loggers.epoch import Array, by_time, naive, said
from tapedown.loggers.survey import Survey
from tapedown.loggers.zero_drift import YEAR_S, Walk, learnt_walk
from tapedown.values.results import Finding
from tapedown.values.series.treatments import OntoTape
from tapedown.values.times import seconds

CHECK_STEPS = 2
"""A check counts when the rows on both sides lie no more than this many usual steps apart; ours."""


class Offset(NamedTuple):
    """One check beside the series: tape plus water is the depth of the logger's zero.

    water_m   what the series shows at the time of the check, NaN where it shows nothing
    offset_m  depth of the zero, m
    u_m       its standard uncertainty
    """

    check: TapeCheck
    water_m: float
    offset_m: float
    u_m: float


class Segment(NamedTuple):
    """A stretch between two checks: the drift over it, the range the level goes through (NaN where the drift is too
    small to ask), whether it is refused.
    """

    from_s: float
    to_s: float
    drift_m: float
    range_m: float
    refused: bool


class Pull(NamedTuple):
    """How a series was pulled onto the tape."""

    offsets: tuple[Offset, ...]
    segments: tuple[Segment, ...]
    share: str
    handled_s: tuple[float, ...]
    walk: Walk
    u_point_m: float
    unmatched: tuple[TapeCheck, ...]


def pull_onto_tape(rows: pl.LazyFrame, tape: OntoTape, context: SeriesContext, look: Survey) -> Pull:
    """Find the offsets at the checks, their drifts, and what is to be refused.

    The rows are read once, keeping only those near checks and the range between checks.

    Parameters
    ----------
    rows
        With `time` in order and `water_m`, which may be null.
    tape
        How the drift is shared out, when the logger was handled, and figures of its own.
    context
        Check readings and settings.
    look
        Survey of the rows.

    Returns
    -------
    Pull
        Offsets, m, by check; a check without rows on both sides within `CHECK_STEPS` usual steps is unmatched, one
        outside the series is left out.

    Notes
    -----
    Offset = depth by tape + water above the zero. A segment is refused where the change of its offset exceeds twice the
    uncertainty of both checks, the network's share of the range the logger went through, and the limit of a check; not
    with "one offset", nor across a handling that is shared by steps.

    References
    ----------
    The limit: `engine.methods.logger_check.check_limit_m`. Refusing by the range is after a published record (Colorado
    CWCB doc 123788 p. 12); the share is ours.
    """
    checks = sorted(check for check in context.checks if look.first_s <= check.at_s <= look.last_s)
    water = rows.filter(pl.col("water_m").is_not_null()).select("time", "water_m")
    shown = _shown_at(water, checks, CHECK_STEPS * look.interval_s)
    u_point = tape.u_point.si if tape.u_point else context.settings.si("u_logger")
    offsets = [
        Offset(check, water_m, check.depth_m + water_m, float(np.hypot(check.u_m, u_point)))
        for check, water_m in zip(checks, shown)
        if not np.isnan(water_m)
    ]
    return Pull(
        tuple(offsets),
        tuple(_segments(water, offsets, tape, context)),
        tape.share,
        tuple(sorted(map(seconds, tape.handled))),
        _walk(offsets, tape, context),
        u_point,
        tuple(check for check, water_m in zip(checks, shown) if np.isnan(water_m)),
    )


def _shown_at(water: pl.LazyFrame, checks: Sequence[TapeCheck], near_s: float) -> list[float]:
    """What the series shows at the time of each check, NaN where its rows lie too far off."""
    windows = [pl.col("time").is_between(naive(c.at_s - near_s), naive(c.at_s + near_s)) for c in checks]
    near = pl.collect_all([water.filter(window) for window in windows], engine="streaming")
    return [float(bridged(points(rows, "water_m"), np.array([c.at_s]), near_s)[0]) for rows, c in zip(near, checks)]


def _segments(water: pl.LazyFrame, offsets: Sequence[Offset], tape: OntoTape, context: SeriesContext) -> list[Segment]:
    """Segments between the checks. The range is looked at only where the checks' own uncertainty does not explain the
    change of the offset, and no handling does.
    """
    pairs = list(pairwise(offsets))
    drifts = [second.offset_m - first.offset_m for first, second in pairs]
    doubtful = [
        tape.share != "one offset"
        and abs(drift) > 2 * float(np.hypot(first.u_m, second.u_m))
        and (tape.share == "in time" or not _inside(tape, first, second))
        for drift, (first, second) in zip(drifts, pairs)
    ]
    spans = [
        water.filter(pl.col("time").is_between(naive(first.check.at_s), naive(second.check.at_s))).select(
            pl.col("water_m").max() - pl.col("water_m").min()
        )
        for (first, second), doubt in zip(pairs, doubtful)
        if doubt
    ]
    ranges = iter(pl.collect_all(spans, engine="streaming"))
    share = tape.drift_share_max.si if tape.drift_share_max else context.settings.si("drift_share_max")
    segments = []
    for (first, second), drift, doubt in zip(pairs, drifts, doubtful):
        range_m = float(next(ranges).item()) if doubt else float("nan")
        limit, _ = check_limit_m(abs(second.check.depth_m), range_m if doubt else 0.0)
        refused = doubt and abs(drift) > max(share * range_m, limit)
        segments.append(Segment(first.check.at_s, second.check.at_s, drift, range_m, refused))
    return segments


def _inside(tape: OntoTape, first: Offset, second: Offset) -> bool:
    """Whether the logger was handled between two checks: then the change of the offset is a step, no drift."""
    return any(first.check.at_s < seconds(time) < second.check.at_s for time in tape.handled)


def _walk(offsets: Sequence[Offset], tape: OntoTape, context: SeriesContext) -> Walk:
    """The walk as it was given, else as the checks tell it; across a step of handling they tell nothing."""
    if tape.walk is not None:
        return Walk(tape.walk.si)
    still = [tape.share != "by steps" or not _inside(tape, first, second) for first, second in pairwise(offsets)]
    if tape.share == "one offset":
        still = [False] * len(still)
    return learnt_walk(
        np.array([offset.check.at_s for offset in offsets]),
        np.array([offset.offset_m for offset in offsets]),
        np.array([offset.u_m for offset in offsets]),
        np.array(still, bool),
        prior_m=context.settings.si("drift_walk"),
        prior_dof=context.settings.si("drift_walk_dof"),
    )


def with_depth(rows: pl.LazyFrame, pull: Pull) -> pl.LazyFrame:
    """The rows pulled onto the tape.

    Parameters
    ----------
    rows
        With `time` in order and `water_m`.
    pull
        How they are pulled.

    Returns
    -------
    LazyFrame
        With `offset_m` (depth of the zero), `depth_m` (positive down) and `u_depth_m` (standard uncertainty), m; offset
        and depth are null where the stretch is refused, all three where no check was matched.
    """
    if not pull.offsets:
        nothing = [pl.lit(None, pl.Float64).alias(name) for name in ("offset_m", "depth_m", "u_depth_m")]
        return rows.with_columns(nothing)
    offset = rows.with_columns(
        by_time(lambda at_s: offset_at(pull, at_s), "offset_m"),
        by_time(lambda at_s: u_depth_at(pull, at_s), "u_depth_m"),
    )
    return offset.with_columns((pl.col("offset_m") - pl.col("water_m")).alias("depth_m"))


def offset_at(pull: Pull, at_s: Array) -> Array:
    """Depth of the logger's zero at some times.

    Parameters
    ----------
    pull
        How the series is pulled, with at least one offset.
    at_s
        Times, s since 1970, shape (n,).

    Returns
    -------
    ndarray
        m, shape (n,); NaN inside a refused stretch. Held before the first check and after the last.

    Notes
    -----
    A straight line in time between two checks; "by steps" equal jumps at the times of handling; "one offset" the mean
    of all.

    Example
    -------
    >>> first = Offset(TapeCheck(0.0, 12.0, 0.003), 4.0, 16.0, 0.004)
    >>> second = Offset(TapeCheck(100.0, 13.0, 0.003), 3.02, 16.02, 0.004)
    >>> pull = Pull((first, second), (), "in time", (), Walk(0.03), 0.002, ())
    >>> offset_at(pull, np.array([-50.0, 50.0])).round(3).tolist()
    [16.0, 16.01]
    """
    if pull.share == "one offset":
        return np.full(at_s.shape, _mean_offset(pull)[0])
    knots = _knots(pull)
    value = np.interp(at_s, knots.at_s, knots.value)
    for segment in pull.segments:
        if segment.refused:
            value[(at_s > segment.from_s) & (at_s < segment.to_s)] = np.nan
    return value


def _knots(pull: Pull) -> PointSeries:
    """Corners of the offset; a step is two corners a microsecond apart."""
    at_s, value = [pull.offsets[0].check.at_s], [pull.offsets[0].offset_m]
    for first, second in pairwise(pull.offsets):
        handled = _handled_between(pull, first, second)
        for number, step_s in enumerate(handled, 1):
            share = (second.offset_m - first.offset_m) / len(handled)
            at_s += [step_s - 1e-6, step_s]
            value += [first.offset_m + share * (number - 1), first.offset_m + share * number]
        at_s.append(second.check.at_s)
        value.append(second.offset_m)
    return PointSeries(np.array(at_s), np.array(value))


def _handled_between(pull: Pull, first: Offset, second: Offset) -> list[float]:
    inside = [at_s for at_s in pull.handled_s if first.check.at_s < at_s < second.check.at_s]
    return inside if pull.share == "by steps" else []


def _mean_offset(pull: Pull) -> tuple[float, float]:
    """Mean of the offsets, and its standard uncertainty for one point: what the checks leave over, with its own."""
    values = np.array([o.offset_m for o in pull.offsets])
    spread = float(values.std(ddof=1)) if len(values) > 1 else 0.0
    own = float(np.sqrt(np.mean([o.u_m**2 for o in pull.offsets])))
    return float(values.mean()), max(spread, own) * float(np.sqrt(1 + 1 / len(values)))


def u_depth_at(pull: Pull, at_s: Array) -> Array:
    """Standard uncertainty of the depth at some times.

    Parameters
    ----------
    pull
        How the series is pulled, with at least one offset.
    at_s
        Times in order, s since 1970, shape (n,).

    Returns
    -------
    ndarray
        m, shape (n,); a number also inside a refused stretch.

    Notes
    -----
    Between two checks u^2 = u_point^2 + (1 - w)^2 u0^2 + w^2 u1^2 + s^2 (t - t0) (t1 - t) / (t1 - t0), w the share of
    the time; beyond them the walk adds s^2 |t - tk|. On either side of a step only the nearer check counts, with its
    own walk; between several steps the larger of both checks and the variance of one equal jump over its length, d^2 /
    12. With "one offset" it is the spread of the offsets, or their own uncertainty where that is larger, times sqrt(1 +
    1 / n), and u_point. It holds for one level at one time: neighbouring rows share nearly all of it.
    """
    if pull.share == "one offset":
        return np.full(at_s.shape, np.hypot(_mean_offset(pull)[1], pull.u_point_m))
    pieces = _variance_pieces(pull)
    ends = [*np.searchsorted(at_s, [piece.start_s for piece in pieces[1:]]), len(at_s)]
    own2, years, first = np.empty(at_s.shape), np.empty(at_s.shape), 0
    for piece, end in zip(pieces, ends):
        since = at_s[first:end] - piece.about_s
        own2[first:end] = pull.u_point_m**2 + _polynomial(piece.own, since)
        years[first:end] = _polynomial(piece.walked, since) / YEAR_S
        first = end
    return pull.walk.u_m(own2, years)


class _Piece(NamedTuple):
    """Variance from start_s on: coefficients in x = t - about_s of the checks' part, m2, and of the walk's time, s."""

    start_s: float
    about_s: float
    own: tuple[float, float, float]
    walked: tuple[float, float, float]


def _polynomial(coefficients: tuple[float, float, float], x: Array) -> Array:
    a, b, c = coefficients
    return a + x * (b + x * c)


def _variance_pieces(pull: Pull) -> list[_Piece]:
    """The variance without u_point^2, from before the first check to after the last."""
    onward, back = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
    ends = [(o.check.at_s, o.u_m**2) for o in pull.offsets]
    pieces = [_Piece(-np.inf, ends[0][0], (ends[0][1], 0.0, 0.0), back)]
    for first, second in pairwise(pull.offsets):
        t0, u02, t1, u12 = first.check.at_s, first.u_m**2, second.check.at_s, second.u_m**2
        handled = _handled_between(pull, first, second)
        if not handled:
            span = max(t1 - t0, 1e-9)
            pieces.append(_Piece(t0, t0, (u02, -2 * u02 / span, (u02 + u12) / span**2), (0.0, 1.0, -1.0 / span)))
            continue
        pieces.append(_Piece(t0, t0, (u02, 0.0, 0.0), onward))  # at a step each side knows only its own check
        if len(handled) > 1:
            step2 = ((second.offset_m - first.offset_m) / len(handled)) ** 2 / 12
            pieces.append(_Piece(handled[0], t0, (max(u02, u12) + step2, 0.0, 0.0), onward))
        pieces.append(_Piece(handled[-1], t1, (u12, 0.0, 0.0), back))
    return [*pieces, _Piece(ends[-1][0], ends[-1][0], (ends[-1][1], 0.0, 0.0), onward)]


def pull_findings(pull: Pull, context: SeriesContext) -> list[Finding]:
    """What a person should see of how a series was pulled.

    Parameters
    ----------
    pull
        How it was pulled.
    context
        The network's settings, for its unit.

    Returns
    -------
    list
        Findings: a series without any check, checks it has no rows for, stretches that are refused.
    """
    findings = []
    if not pull.offsets:
        hint = "read the tape at the well; without it there is no depth, only water above the sensor"
        findings.append(finding("logger-no-check", "no check reading lies within the series", hint))
    findings += [
        finding(
            "logger-check-in-gap",
            f"at {said(check.at_s)} the tape read {spoken(check.depth_m, context.settings)} and the series has no rows "
            "on both sides of it",
            "the check is not used; look for the rows",
            check.entry,
        )
        for check in pull.unmatched
    ]
    for segment in pull.segments:
        if segment.refused:
            drift_share = abs(segment.drift_m) / segment.range_m if segment.range_m else float("inf")
            share = percent(drift_share) if drift_share < 10 else "many times more"
            findings.append(
                finding(
                    "logger-drift-refused",
                    f"from {said(segment.from_s)} to {said(segment.to_s)} the logger drifted by "
                    f"{spoken(segment.drift_m, context.settings)} while the level went through "
                    f"{spoken(segment.range_m, context.settings)} ({share})",
                    "the stretch is refused; was the logger handled? then share by steps, or set it aside",
                )
            )
    return findings
