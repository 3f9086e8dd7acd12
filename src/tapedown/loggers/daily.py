"""Daily values of a corrected series: mean, least, greatest, how many rows, by the day people lived through."""

from __future__ import annotations

import polars as pl

from tapedown.loggers.quality import FAIL, NO_DATA


def local_day(zone: str) -> pl.Expr:
    """The day of a row by the clocks of a zone; "+01:00" is an offset held all year."""
    if zone[:1] in ("+", "-"):
        sign = -1 if zone[0] == "-" else 1
        shift = pl.duration(minutes=sign * (int(zone[1:3]) * 60 + int(zone[-2:])))
        return (pl.col("time") + shift).dt.date().alias("day")
    return pl.col("time").dt.replace_time_zone("UTC").dt.convert_time_zone(zone).dt.date().alias("day")


def daily_values(rows: pl.LazyFrame, zone: str, interval_s: float, share_min: float) -> pl.LazyFrame:
    """Daily values, in the order of days; the rows must be in the order of time.

    mean_depth_m, shallowest_m, deepest_m are null on a day with less than share_min of the rows it should have; rows
    that failed a test or have no value are not counted. u_mean_m is the mean uncertainty of the rows: what they share
    (tape, drift) does not shrink with their number.
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
