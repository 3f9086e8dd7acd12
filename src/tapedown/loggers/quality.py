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
    """The rows with a flag for every test that has what it needs.

    Parameters
    ----------
    rows
        In the order of time, with `time` and `tested_m`.
    tests
        Thresholds of this series; those not given are the network's.
    context
        Settings and neighbours.
    look
        Survey of the rows.

    Returns
    -------
    LazyFrame
        With `flag_gap`, `flag_range`, `flag_spike`, `flag_rate`, `flag_flat`, where asked for `flag_season`,
        `flag_neighbour` and `flag_hampel`, and `flag`, which gathers all but the first.
    """
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
    """How many rows before and after a row its flags depend on.

    Parameters
    ----------
    tests
        Thresholds of this series; those not given are the network's.
    context
        The network's settings.
    look
        Survey of the rows.

    Returns
    -------
    int
        Rows; 0 in an irregular series, where a test goes by time instead.
    """
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
        """A threshold in SI: the treatment's own, else the setting of that name, or of another where one is given."""
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
    """Test 1: whether too much time passed since the row before.

    Parameters
    ----------
    gap_s
        Longest time from one row to the next, s.

    Returns
    -------
    Expr
        `flag_gap`: 4 after a longer one, 2 for the first row, else 1. It speaks of the time before the row.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 1 (read).
    """
    late = pl.col("time").diff() > pl.duration(microseconds=round(gap_s * 1e6))
    flag = pl.when(late).then(_number(FAIL)).when(late.is_null()).then(_number(NOT_EVALUATED))
    return flag.otherwise(_number(PASS)).alias("flag_gap")


def range_flag(tests: QualityTests) -> pl.Expr:
    """Test 4: beyond what the sensor can show, or what is usual in this well.

    Parameters
    ----------
    tests
        Depths, the least and the greatest of either; each may be left out.

    Returns
    -------
    Expr
        `flag_range`: 4 beyond the sensor, 3 beyond the usual, 2 when neither is said, 9 without a value.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 4 (read).
    """
    fail = _outside(tests.sensor_shallowest, tests.sensor_deepest)
    interest = _outside(tests.shallowest, tests.deepest)
    if fail is None and interest is None:
        interest = pl.lit(None, pl.Boolean)
    return _flag(fail, interest, "flag_range")


def _outside(low: Written | None, high: Written | None) -> pl.Expr | None:
    parts = ([_DEPTH.lt(low.si)] if low else []) + ([_DEPTH.gt(high.si)] if high else [])
    return pl.any_horizontal(parts) if parts else None


def season_flag(tests: QualityTests) -> pl.Expr:
    """Test 5: outside what is usual in the month.

    Parameters
    ----------
    tests
        Usual depths by month.

    Returns
    -------
    Expr
        `flag_season`: 3 outside, 2 in a month (UTC) for which nothing is said, 9 without a value, never 4.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 5 (read).
    """
    month = pl.col("time").dt.month()
    outside = pl.lit(None, pl.Boolean)
    for usual in tests.usual:
        beyond = _DEPTH.lt(usual.shallowest.si) | _DEPTH.gt(usual.deepest.si)
        outside = pl.when(month == int(usual.month)).then(beyond).otherwise(outside)
    return _flag(None, outside, "flag_season")


def spike_flag(suspect_m: float, fail_m: float) -> pl.Expr:
    """Test 6: how far a point lies off the mean of its two neighbours.

    Parameters
    ----------
    suspect_m
        Distance from which it is suspect, m.
    fail_m
        Distance from which it fails, m.

    Returns
    -------
    Expr
        `flag_spike`: 4 or 3 beyond these, 2 for the first and last row and beside a row without a value, 9 without a
        value.

    Notes
    -----
    |d_i - (d_(i-1) + d_(i+1)) / 2|. The neighbours of a spike lie off too and are flagged with it, as the manual has
    it.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 6 (read).

    Example
    -------
    >>> rows = pl.DataFrame({TESTED: [1.0, 1.02, 1.35, 1.04, 1.05, 1.05]})
    >>> rows.select(spike_flag(0.1, 0.2)).to_series().to_list()
    [2, 3, 4, 3, 1, 2]
    """
    off = (_DEPTH - (_DEPTH.shift(1) + _DEPTH.shift(-1)) / 2).abs()
    return _flag(off > fail_m, off > suspect_m, "flag_spike")


def rate_flag(deviations: float, window_s: float, least_m: float, look: Survey) -> pl.Expr:
    """Test 7: a step far beyond what the time before it saw.

    Parameters
    ----------
    deviations
        How many standard deviations a step may have.
    window_s
        Time before it over which they are taken, s; in a regular series counted in rows.
    least_m
        A step of no more than this never speaks, m: it is the last digit, and without that floor any change after still
        water would (ours).
    look
        Survey of the rows.

    Returns
    -------
    Expr
        `flag_rate`: 3 where a step exceeds them, 2 where the window holds too few values, 9 without a value, never 4.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 7 (read).
    """
    rows = _window_rows(window_s, look)
    if rows:
        spread = _DEPTH.rolling_std(rows, min_samples=max(rows // 2, 3))
    else:
        spread = _DEPTH.rolling_std_by("time", f"{round(window_s)}s", min_samples=3)
    step, usual = _DEPTH.diff().abs(), spread.shift(1) * deviations
    return _flag(None, (step > usual) & (step > least_m + 1e-9), "flag_rate")


def flat_flag(within_m: float, suspect: int, fail: int) -> pl.Expr:
    """Test 8: values that do not move.

    Parameters
    ----------
    within_m
        Values within this of each other are the same, m.
    suspect
        As many in a row are suspect, the present one counted.
    fail
        As many fail.

    Returns
    -------
    Expr
        `flag_flat`: 4 or 3 for the last of so many, 9 without a value, else 1. The rows before it, which are as still,
        keep their own flag.

    Notes
    -----
    The manual's words count the present value, its formula counts intervals; this follows the words.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 8 (read).

    Example
    -------
    >>> rows = pl.DataFrame({TESTED: [1.0, 1.0, 1.0, 1.0, 1.2]})
    >>> rows.select(flat_flag(0.001, 3, 4)).to_series().to_list()
    [1, 1, 3, 4, 1]
    """

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
    """Test 11: how far the level lies from a well that moves alike; both as depths of one surface.

    Parameters
    ----------
    tests
        Which neighbour.
    context
        The neighbours by name.
    suspect_m
        Distance from which a row is suspect, m.
    fail_m
        Distance from which it fails, m.
    look
        Survey of the rows: a gap of the neighbour up to three usual steps, or an hour, is bridged.

    Returns
    -------
    Expr
        `flag_neighbour`: 4 or 3 beyond these, 2 where the neighbour has a gap, 9 without a value.

    Raises
    ------
    ValueError
        The neighbour is not in the context; the message lists those that are.

    References
    ----------
    US IOOS, Manual for real-time quality control of water level data (QARTOD), test 11 (read).
    """
    if tests.neighbour not in context.neighbours:
        raise ValueError(f"no neighbour {tests.neighbour!r} among {sorted(context.neighbours)}")
    series, gap_s = context.neighbours[tests.neighbour], max(3 * look.interval_s, 3600.0)

    def at(times_s: Array) -> Array:
        return bridged(series, times_s, gap_s)

    apart = (_DEPTH - by_time(at, "neighbour_m")).abs()
    return _flag(apart > fail_m, apart > suspect_m, "flag_neighbour")


def hampel_flag(floor_m: float) -> pl.Expr:
    """The Hampel identifier: a value far off the median about it.

    Parameters
    ----------
    floor_m
        Within this of the median nothing is odd, m: it keeps still water from making every change an outlier.

    Returns
    -------
    Expr
        `flag_hampel`: 3 where it lies off, 9 without a value, never 4.

    Notes
    -----
    |d - median| > max(3 x 1.4826 x median deviation, floor), over the value and three neighbours on each side, fewer at
    the ends. 1.4826 makes of the median deviation of normal values their standard deviation.

    Example
    -------
    >>> rows = pl.DataFrame({TESTED: [1.0, 1.01, 1.0, 1.3, 1.01, 1.0, 1.02]})
    >>> rows.select(hampel_flag(0.001)).to_series().to_list()
    [1, 1, 1, 3, 1, 1, 1]
    """
    width = 2 * HAMPEL_NEIGHBOURS + 1
    middle = _DEPTH.rolling_median(width, center=True, min_samples=1)
    about = [(_DEPTH.shift(k) - middle).abs() for k in range(-HAMPEL_NEIGHBOURS, HAMPEL_NEIGHBOURS + 1)]
    sigma = pl.concat_list(about).list.drop_nulls().list.median() * MAD_TO_SIGMA
    off = (_DEPTH - middle).abs() > pl.max_horizontal(sigma * HAMPEL_DEVIATIONS, pl.lit(floor_m))
    return _flag(None, off, "flag_hampel")


def gathered(names: list[str]) -> pl.Expr:
    """One flag of several: fail before suspect before pass.

    Parameters
    ----------
    names
        Columns of flags.

    Returns
    -------
    Expr
        `flag`: 9 without a value, 2 when no test could be run; a test that could not be run does not spoil the others.

    Example
    -------
    >>> rows = pl.DataFrame({"flag_range": [2, 2, 1], "flag_spike": [2, 1, 3]})
    >>> rows.select(gathered(["flag_range", "flag_spike"])).to_series().to_list()
    [2, 1, 3]
    """
    flags = [pl.col(name) for name in names]
    worst = pl.max_horizontal([pl.when(flag == NOT_EVALUATED).then(_number(0)).otherwise(flag) for flag in flags])
    return pl.when(worst == 0).then(_number(NOT_EVALUATED)).otherwise(worst).alias("flag")


def quality_word(flag: pl.Expr, checked_s: tuple[float, float] | None) -> pl.Expr:
    """The OGC quality of a row.

    Parameters
    ----------
    flag
        The gathered flag.
    checked_s
        Times of the first and last check reading, s since 1970; None without any.

    Returns
    -------
    Expr
        `quality`: "missing" of 9, "poor" of 4, "suspect" of 3, "unchecked" of 2; of 1 "good" between the checks, and
        "unchecked" beyond them.
    """
    unchecked = pl.lit(True)
    if checked_s:
        unchecked = ~pl.col("time").is_between(naive(checked_s[0]), naive(checked_s[1]))

    def word(text: str) -> pl.Expr:
        return pl.lit(text, _QUALITY)

    chain = pl.when(flag == NO_DATA).then(word(MISSING)).when(flag == FAIL).then(word(POOR))
    chain = chain.when(flag == OF_INTEREST).then(word(SUSPECT)).when(flag == NOT_EVALUATED).then(word(UNCHECKED))
    return chain.when(unchecked).then(word(UNCHECKED)).otherwise(word(GOOD)).alias("quality")
