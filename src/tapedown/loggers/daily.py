"""Daily values of a corrected series: mean, least, greatest, how many rows, by the day people lived through."""

from __future__ import annotations

import polars as pl

from tapedown.loggers.quality import FAIL, NO_DATA


def local_day(zone: str) -> pl.Expr:
    """The day of a row by the clocks people lived by.

    Parameters
    ----------
    zone
        Name of a zone, "Europe/London", or an offset held all year, "+01:00".

    Returns
    -------
    Expr
        Dates, named "day", out of `time` in UTC.

    Example
    -------
    >>> from datetime import datetime
    >>> row = pl.DataFrame({"time": [datetime(2026, 5, 14, 23, 30)]})
    >>> row.select(local_day("+01:00")).item().isoformat(), row.select(local_day("America/New_York")).item().isoformat()
    ('2026-05-15', '2026-05-14')
    """
    if zone[:1] in ("+", "-"):
        sign = -1 if zone[0] == "-" else 1
        shift = pl.duration(minutes=sign * (int(zone[1:3]) * 60 + int(zone[-2:])))
        return (pl.col("time") + shift).dt.date().alias("day")
    return pl.col("time").dt.replace_time_zone("UTC").dt.convert_time_zone(zone).dt.date().alias("day")


def daily_values(rows: pl.LazyFrame, zone: str, interval_s: float, share_min: float) -> pl.LazyFrame:
    """Daily values of a corrected series.

    Parameters
    ----------
    rows
        In the order of time, with `time` (UTC), `depth_m`, `u_depth_m` and `flag`.
    zone
        Whose days, as `local_day` takes it.
    interval_s
        Usual time between two rows, s; 0 where there is none: one row then makes a day.
    share_min
        Share of the rows a day should have, below which it has no value, 0 to 1.

    Returns
    -------
    LazyFrame
        A row a day that has rows, in order: `day`, `mean_depth_m`, `shallowest_m`, `deepest_m`, `u_mean_m`, `rows`,
        `share`. The values are null on a day with too few rows. Rows that failed a test or have no value do not count.

    Notes
    -----
    `u_mean_m` is the mean uncertainty of the rows: what they share (tape, drift) does not shrink with their number.

    Example
    -------
    >>> hours = (pl.Series(range(36)) * 3_600_000_000).cast(pl.Datetime("us"))
    >>> rows = pl.LazyFrame({"time": hours, "depth_m": [5.0, 5.2] * 18, "u_depth_m": [0.01] * 36, "flag": [1] * 36})
    >>> days = daily_values(rows, "+00:00", 3600.0, 0.8).collect()
    >>> days["mean_depth_m"].round(3).to_list(), days["share"].to_list()
    ([5.1, None], [1.0, 0.5])
    """
    per_day = 86400 / interval_s if interval_s else 1.0
    # said to be in order, each day is summed row by row: split between threads its last digit would come by chance
    day = local_day(zone).set_sorted()
    good = rows.filter(~pl.col("flag").is_in([FAIL, NO_DATA])).select(day, "depth_m", "u_depth_m")
    days = good.group_by("day").agg(
        pl.col("depth_m").mean().alias("mean_depth_m"),
        pl.col("depth_m").min().alias("shallowest_m"),
        pl.col("depth_m").max().alias("deepest_m"),
        pl.col("u_depth_m").mean().alias("u_mean_m"),
        pl.len().alias("rows"),
    )
    share = (pl.col("rows") / per_day).clip(upper_bound=1)
    values = ("mean_depth_m", "shallowest_m", "deepest_m", "u_mean_m")
    whole = [pl.when(share >= share_min).then(pl.col(name)).alias(name) for name in values]
    return days.with_columns(share.alias("share"), *whole).sort("day")
