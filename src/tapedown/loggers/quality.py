"""Tests of a corrected series, after the open QARTOD manual for water levels, its flags kept beside the quality word.

Flags: 1 pass, 2 not evaluated, 3 suspect or of high interest, 4 fail, 9 missing (UNESCO 2013). Each test has a column
of its own, so that no test rewrites what an earlier one said; `flag` gathers them: fail before suspect before pass. The
gap test speaks of the time before a row, not of the row, and is not gathered.

References
----------
US IOOS, Manual for real-time quality control of water level data (QARTOD), tests 1, 2, 4 to 8, 11 (read). Hampel:
median of the window, 1.4826 times the median deviation, 3 neighbours on each side, edges truncated.
"""

from __future__ import annotations

from typing import Any

import polars as pl

from tapedown.loggers.context import SeriesContext, bridged
from tapedown.loggers.epoch import Array, by_time, naive
from tapedown.loggers.survey import Survey
from tapedown.values.results import GOOD, MISSING, POOR, QUALITIES, SUSPECT, UNCHECKED
from tapedown.values.series.treatments import QualityTests
from tapedown.values.written import Written

PASS, NOT_EVALUATED, OF_INTEREST, FAIL, NO_DATA = 1, 2, 3, 4, 9
HAMPEL_NEIGHBOURS, HAMPEL_DEVIATIONS, MAD_TO_SIGMA = 3, 3.0, 1.4826
REGULAR = 0.95
"""Share of usual steps from which a series counts as regular; ours."""
TEST_COLUMNS = ("flag_range", "flag_season", "flag_spike", "flag_rate", "flag_flat", "flag_neighbour", "flag_hampel")
_QUALITY = pl.Enum(QUALITIES)
TESTED = "tested_m"
"""What the tests look at: the depth, or the water upside down while no tape tells the depth."""
_DEPTH = pl.col(TESTED)


def tested(rows: pl.LazyFrame, tests: QualityTests, context: SeriesContext, look: Survey) -> pl.LazyFrame:
    """The rows, in order and with `tested_m`, with a flag for every test that has what it needs, `flag_gap`, `flag`."""
    limit = _Limits(tests, context)
    flags = [
        gap_flag(limit.of("gap", "series_gap") * 3600),
        range_flag(tests),
        spike_flag(limit.of("spike_suspect"), limit.of("spike_fail")),
        rate_flag(limit.of("rate_deviations"), limit.of("rate_window") * 3600, limit.of("flat_within"), look),
        flat_flag(limit.of("flat_within"), int(limit.of("flat_suspect")), int(limit.of("flat_fail"))),
    ]
    if tests.usual:
        flags.append(season_flag(tests))
    if tests.neighbour:
        flags.append(neighbour_flag(tests, context, limit.of("neighbour_suspect"), limit.of("neighbour_fail"), look))
    if tests.hampel:
        flags.append(hampel_flag(limit.of("flat_within")))
    names = [flag.meta.output_name() for flag in flags]
    return rows.with_columns(flags).with_columns(gathered([name for name in names if name in TEST_COLUMNS]))


def reach(tests: QualityTests, context: SeriesContext, look: Survey) -> int:
    """How many rows before and after a row its flags depend on; 0 when a test goes by time instead."""
    limit = _Limits(tests, context)
    window = _window_rows(limit.of("rate_window") * 3600, look)
    return max(window + 1, int(limit.of("flat_fail")), 2 * HAMPEL_NEIGHBOURS + 1) if window else 0


def _window_rows(window_s: float, look: Survey) -> int:
    """A stretch of time as rows of a regular series; 0 in an irregular one."""
    if not look.interval_s or look.regular_share <= REGULAR:
        return 0
    return max(round(window_s / look.interval_s), 3)


class _Limits:
    """Thresholds of a series: the treatment's own, else the network's."""

    def __init__(self, tests: QualityTests, context: SeriesContext) -> None:
        self.tests, self.settings = tests, context.settings

    def of(self, name: str, setting: str = "") -> float:
        own: Written | None = getattr(self.tests, name)
        return own.si if own is not None else self.settings.si(setting or name)


def _flag(fail: pl.Expr | None, interest: pl.Expr | None, name: str) -> pl.Expr:
    """4 where `fail`, 3 where `interest`, 2 where the wider of them cannot be told, 9 without a value, else 1."""
    wider = interest if interest is not None else fail
    flag: Any = pl.when(_DEPTH.is_null()).then(_number(NO_DATA))
    if fail is not None:
        flag = flag.when(fail).then(_number(FAIL))
    if interest is not None:
        flag = flag.when(interest).then(_number(OF_INTEREST))
    if wider is not None:
        flag = flag.when(wider.is_null()).then(_number(NOT_EVALUATED))
    flagged: pl.Expr = flag.otherwise(_number(PASS)).alias(name)
    return flagged


def _number(flag: int) -> pl.Expr:
    return pl.lit(flag, pl.UInt8)


def gap_flag(gap_s: float) -> pl.Expr:
    """Test 1: 4 where more than the gap passed since the row before, 2 for the first row."""
    late = pl.col("time").diff() > pl.duration(microseconds=round(gap_s * 1e6))
    flag = pl.when(late).then(_number(FAIL)).when(late.is_null()).then(_number(NOT_EVALUATED))
    return flag.otherwise(_number(PASS)).alias("flag_gap")


def range_flag(tests: QualityTests) -> pl.Expr:
    """Test 4: 4 beyond what the sensor can show, 3 beyond what is usual in this well; 2 when neither is said."""
    fail = _outside(tests.sensor_shallowest, tests.sensor_deepest)
    interest = _outside(tests.shallowest, tests.deepest)
    if fail is None and interest is None:
        interest = pl.lit(None, pl.Boolean)
    return _flag(fail, interest, "flag_range")


def _outside(low: Written | None, high: Written | None) -> pl.Expr | None:
    parts = ([_DEPTH.lt(low.si)] if low else []) + ([_DEPTH.gt(high.si)] if high else [])
    return pl.any_horizontal(parts) if parts else None


def season_flag(tests: QualityTests) -> pl.Expr:
    """Test 5: 3 outside what is usual in the month (UTC), 2 in a month for which nothing is said; never 4."""
    month = pl.col("time").dt.month()
    outside = pl.lit(None, pl.Boolean)
    for usual in tests.usual:
        beyond = _DEPTH.lt(usual.shallowest.si) | _DEPTH.gt(usual.deepest.si)
        outside = pl.when(month == int(usual.month)).then(beyond).otherwise(outside)
    return _flag(None, outside, "flag_season")


def spike_flag(suspect_m: float, fail_m: float) -> pl.Expr:
    """Test 6: how far a point lies off the mean of its two neighbours."""
    off = (_DEPTH - (_DEPTH.shift(1) + _DEPTH.shift(-1)) / 2).abs()
    return _flag(off > fail_m, off > suspect_m, "flag_spike")


def rate_flag(deviations: float, window_s: float, least_m: float, look: Survey) -> pl.Expr:
    """Test 7: 3 where a step exceeds so many standard deviations of the time before it; never 4.

    Below least_m a step is the last digit: without that floor any change after still water would speak (ours). In a
    regular series the window is counted in rows.
    """
    rows = _window_rows(window_s, look)
    if rows:
        spread = _DEPTH.rolling_std(rows, min_samples=max(rows // 2, 3))
    else:
        spread = _DEPTH.rolling_std_by("time", f"{round(window_s)}s", min_samples=3)
    step, usual = _DEPTH.diff().abs(), spread.shift(1) * deviations
    return _flag(None, (step > usual) & (step > least_m + 1e-9), "flag_rate")


def flat_flag(within_m: float, suspect: int, fail: int) -> pl.Expr:
    """Test 8: as many values, the present one counted, within within_m of each other; only it is flagged."""

    def flags(depth: pl.Series) -> pl.Series:
        few, many = sorted((suspect, fail))
        soon = _still(depth, few, within_m)
        long = _still(depth, many, within_m) if soon.any() else soon  # nothing stands still for long that does not soon
        failing, odd = (long, soon) if fail == many else (soon, long)
        flag = pl.when(depth.is_null()).then(_number(NO_DATA)).when(failing).then(_number(FAIL))
        return pl.select(flag.when(odd).then(_number(OF_INTEREST)).otherwise(_number(PASS))).to_series()

    return _DEPTH.map_batches(flags, return_dtype=pl.UInt8).alias("flag_flat")


def _still(depth: pl.Series, count: int, within_m: float) -> pl.Series:
    return (depth.rolling_max(count) - depth.rolling_min(count) <= within_m + 1e-9).fill_null(value=False)


def neighbour_flag(
    tests: QualityTests, context: SeriesContext, suspect_m: float, fail_m: float, look: Survey
) -> pl.Expr:
    """Test 11: how far the level lies from a well that moves alike; both as depths of one surface."""
    if tests.neighbour not in context.neighbours:
        raise ValueError(f"no neighbour {tests.neighbour!r} among {sorted(context.neighbours)}")
    series, gap_s = context.neighbours[tests.neighbour], max(3 * look.interval_s, 3600.0)

    def at(times_s: Array) -> Array:
        return bridged(series, times_s, gap_s)

    apart = (_DEPTH - by_time(at, "neighbour_m")).abs()
    return _flag(apart > fail_m, apart > suspect_m, "flag_neighbour")


def hampel_flag(floor_m: float) -> pl.Expr:
    """The Hampel identifier: 3 where a value lies more than 3 scaled median deviations off the median about it.

    floor_m keeps still water from making every change an outlier.
    """
    width = 2 * HAMPEL_NEIGHBOURS + 1
    middle = _DEPTH.rolling_median(width, center=True, min_samples=1)
    about = [(_DEPTH.shift(k) - middle).abs() for k in range(-HAMPEL_NEIGHBOURS, HAMPEL_NEIGHBOURS + 1)]
    sigma = pl.concat_list(about).list.drop_nulls().list.median() * MAD_TO_SIGMA
    off = (_DEPTH - middle).abs() > pl.max_horizontal(sigma * HAMPEL_DEVIATIONS, pl.lit(floor_m))
    return _flag(None, off, "flag_hampel")


def gathered(names: list[str]) -> pl.Expr:
    """One flag of several: fail before suspect before pass; 9 without a value, 2 when no test could be run."""
    flags = [pl.col(name) for name in names]
    worst = pl.max_horizontal([pl.when(flag == NOT_EVALUATED).then(_number(0)).otherwise(flag) for flag in flags])
    return pl.when(worst == 0).then(_number(NOT_EVALUATED)).otherwise(worst).alias("flag")


def quality_word(flag: pl.Expr, checked_s: tuple[float, float] | None) -> pl.Expr:
    """The OGC quality of a row: from its flag; a good one beyond the first and last check is unchecked."""
    unchecked = pl.lit(True)
    if checked_s:
        unchecked = ~pl.col("time").is_between(naive(checked_s[0]), naive(checked_s[1]))

    def word(text: str) -> pl.Expr:
        return pl.lit(text, _QUALITY)

    chain = pl.when(flag == NO_DATA).then(word(MISSING)).when(flag == FAIL).then(word(POOR))
    chain = chain.when(flag == OF_INTEREST).then(word(SUSPECT)).when(flag == NOT_EVALUATED).then(word(UNCHECKED))
    return chain.when(unchecked).then(word(UNCHECKED)).otherwise(word(GOOD)).alias("quality")
