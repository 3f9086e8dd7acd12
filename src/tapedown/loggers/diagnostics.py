"""A plain account of a series: what a person should see in it, as findings with times and numbers."""

from __future__ import annotations

import polars as pl

from tapedown.engine.checks.named import by_weight, finding
from tapedown.engine.uncertainty.digits import rounded, spoken
from tapedown.loggers.context import PointSeries
from tapedown.loggers.epoch import column_seconds, said
from tapedown.loggers.excluded import main_column
from tapedown.loggers.quality import FAIL, OF_INTEREST, TEST_COLUMNS
from tapedown.loggers.stretches import atmosphere_findings, handled_stretches, jumps, stretch_findings, unit_findings
from tapedown.loggers.survey import Survey
from tapedown.loggers.treat import Treated
from tapedown.values.results import Finding
from tapedown.values.settings import Settings
from tapedown.values.units import STANDARD_GRAVITY_M_S2

MOST_NAMED = 3
_SHOWN = pl.coalesce("depth_m", -pl.col("water_m")).alias("shown_m")
AIR_KPA = (85.0, 108.5)
"""Pressures met in air from the sea up to 1400 m; ours, the upper one the highest on record (from memory)."""
HANDLED_AT_MOST_S = 86400.0
OUT_OF_WATER_M = 0.05
"""Less water than this below none is more than the error of logger and barometer; ours."""
_SAYS = {
    "flag_range": (
        "series-out-of-range",
        "lie outside what is usual",
        "is the well pumped, or the logger out of water?",
    ),
    "flag_season": ("series-out-of-range", "lie outside what is usual in the month", "look at the season"),
    "flag_spike": ("series-spike", "stand out from their neighbours", "set them aside if nothing explains them"),
    "flag_rate": ("series-rate", "follow a step far beyond the usual", "handling, pumping, or a change of the clock?"),
    "flag_flat": ("series-flat", "repeat the values before them", "a logger that hangs, or water that stands still?"),
    "flag_neighbour": ("series-off-neighbour", "lie off the neighbouring well", "look at both"),
    "flag_hampel": ("series-spike", "stand out from the median about them", "set them aside if nothing explains them"),
}


def raw_account(rows: pl.LazyFrame, look: Survey, settings: Settings) -> tuple[Finding, ...]:
    """What the raw rows of a series show: stretches in air or handled, mixed units, a ragged interval.

    Parameters
    ----------
    rows
        In the order of time, with `time` and a main column.
    look
        Survey of them.
    settings
        The network's: the step that looks like handling.

    Returns
    -------
    tuple
        Findings, weightiest first. Where units are mixed, stretches are not looked for: their steps would be mistaken
        for handling.
    """
    main = main_column(rows.collect_schema().names())
    pressure = main.endswith("_kpa")
    step_m = settings.si("handling_step")
    steps = jumps(rows, main, step_m * STANDARD_GRAVITY_M_S2 if pressure else step_m)
    air = {"pressure_kpa": AIR_KPA, "gauge_kpa": (-1.0, 1.0), "logged_water_m": (-0.1, 0.1)}.get(main)
    mixed = unit_findings(steps, "pressure" if pressure else "length")[:MOST_NAMED]
    mixed += atmosphere_findings(steps) if pressure else []
    longest = max(HANDLED_AT_MOST_S, 2 * look.interval_s)
    stretches = [] if mixed else handled_stretches(steps, look.first_s, look.last_s, longest, air)
    return by_weight([*mixed, *stretch_findings(stretches), *_ragged(look)])


def _ragged(look: Survey) -> list[Finding]:
    if look.rows < 3 or look.regular_share > 0.9:
        return []
    usual = rounded(look.interval_s / 60, 0.1)
    return [
        finding(
            "series-ragged",
            f"only {look.regular_share:.0%} of the rows follow the one before by the usual {usual} min",
            "were two loggers or two settings joined?",
        )
    ]


def corrected_account(treated: Treated, settings: Settings) -> tuple[Finding, ...]:
    """What the treatment and the tests of a series found.

    Parameters
    ----------
    treated
        The corrected series; its plan is run, without holding the rows.
    settings
        The network's, for its unit.

    Returns
    -------
    tuple
        Findings, weightiest first: those of the treatment, the longest gaps, rows with less than no water, rows without
        air pressure, and for each test how many rows it speaks of, with the first of them.
    """
    tests = [name for name in TEST_COLUMNS if name in treated.rows.collect_schema().names()]
    plans = [_gaps(treated.rows), _bare(treated.rows), _airless(treated.rows)] + [
        _spoken(treated.rows, name) for name in tests
    ]
    gaps, bare, airless, *failed = pl.collect_all(plans, engine="streaming")
    findings = [
        *treated.findings,
        *_gap_findings(gaps, treated.look),
        *_bare_findings(bare, settings),
        *_airless_findings(airless),
    ]
    findings += [_test_finding(name, rows, settings) for name, rows in zip(tests, failed) if rows.height]
    return by_weight(findings)


def _gaps(rows: pl.LazyFrame) -> pl.LazyFrame:
    return rows.select("time", pl.col("time").shift(1).alias("from"), "flag_gap").filter(pl.col("flag_gap") == FAIL)


def _bare(rows: pl.LazyFrame) -> pl.LazyFrame:
    """Rows of a pressure logger with less than no water above it."""
    names = set(rows.collect_schema().names())
    bare = pl.col("water_m") < -OUT_OF_WATER_M if names & {"pressure_kpa", "gauge_kpa"} else pl.lit(None, pl.Boolean)
    return rows.filter(bare).select(pl.len(), pl.col("time").first(), pl.col("water_m").min())


def _bare_findings(bare: pl.DataFrame, settings: Settings) -> list[Finding]:
    number, first, least = bare.row(0)
    if not number:
        return []
    return [
        finding(
            "logger-out-of-water",
            f"{number} rows, the first at {first:%Y-%m-%d %H:%M} UTC, show down to {spoken(least, settings)} of water",
            "did it hang dry? is it the right barometer, in the right unit?",
        )
    ]


def _airless(rows: pl.LazyFrame) -> pl.LazyFrame:
    """Rows of an absolute logger that lie in a gap of the barometer."""
    names = set(rows.collect_schema().names())
    lost = pl.col("air_kpa").is_null() & pl.col("pressure_kpa").is_not_null()
    without = lost if {"air_kpa", "pressure_kpa"} <= names else pl.lit(None, pl.Boolean)
    return rows.filter(without).select(
        pl.len(), pl.col("time").min().alias("first"), pl.col("time").max().alias("last")
    )


def _airless_findings(airless: pl.DataFrame) -> list[Finding]:
    number, first, last = airless.row(0)
    if not number:
        return []
    words = f"{number} rows between {first:%Y-%m-%d %H:%M} and {last:%Y-%m-%d %H:%M} UTC have no air pressure"
    hint = "they have no depth; find another barometer, or say that a longer gap may be bridged"
    return [finding("barometer-gap", words, hint)]


def barometer_account(pressure: PointSeries, name: str) -> tuple[Finding, ...]:
    """Air pressures that are none.

    Parameters
    ----------
    pressure
        Of a barometer, kPa; NaN is passed over.
    name
        Of the barometer, for the words.

    Returns
    -------
    tuple
        One finding about the values outside `AIR_KPA`, or none.

    Example
    -------
    >>> import numpy as np
    >>> [found.message for found in barometer_account(PointSeries(np.zeros(2), np.array([99.8, 132.0])), "air")]
    ['1 of 2 values of air lie outside 85 to 108.5 kPa, the first, 132.0 kPa, at 1970-01-01 00:00 UTC']
    """
    odd = (pressure.value < AIR_KPA[0]) | (pressure.value > AIR_KPA[1])
    if not odd.any():
        return ()
    first, worst = float(pressure.at_s[odd][0]), float(pressure.value[odd][0])
    words = f"{int(odd.sum())} of {len(odd)} values of {name} lie outside {AIR_KPA[0]:g} to {AIR_KPA[1]:g} kPa"
    hint = "set them aside; was the barometer under water, or its unit changed?"
    return (finding("barometer-odd", f"{words}, the first, {worst:.1f} kPa, at {said(first)}", hint),)


def _gap_findings(gaps: pl.DataFrame, look: Survey) -> list[Finding]:
    """Gaps longer than two usual steps; a series logged more seldom than the threshold is not all gaps."""
    starts = column_seconds(gaps["from"])
    lengths = column_seconds(gaps["time"]) - starts
    long = sorted((float(size), float(start)) for size, start in zip(lengths, starts) if size > 2 * look.interval_s)
    if not long:
        return []
    number = "one gap" if len(long) == 1 else f"{len(long)} gaps"
    words = "; ".join(
        f"{rounded(size / 3600, 0.1)} h after {said(start)}" for size, start in long[: -MOST_NAMED - 1 : -1]
    )
    return [finding("series-gap", f"{number}: {words}", "look for the missing download")]


def _spoken(rows: pl.LazyFrame, name: str) -> pl.LazyFrame:
    spoken = rows.filter(pl.col(name).is_in([OF_INTEREST, FAIL])).select("time", "line", _SHOWN, name)
    return spoken.select(
        pl.struct(pl.col("time", "line", "shown_m", name).sort_by(name, descending=True)).head(MOST_NAMED).implode(),
        pl.len().alias("number"),
        (pl.col(name) == FAIL).sum().alias("failing"),
    ).filter(pl.col("number") > 0)


def _test_finding(name: str, failed: pl.DataFrame, settings: Settings) -> Finding:
    first, number, failing = failed.row(0)
    check, says, hint = _SAYS[name]
    named = "; ".join(
        f"{row['time']:%Y-%m-%d %H:%M} UTC ({spoken(row['shown_m'], settings)}, line {row['line']})" for row in first
    )
    return finding(check, f"{number} rows, {failing} of them failing, {says}: {named}", hint)
