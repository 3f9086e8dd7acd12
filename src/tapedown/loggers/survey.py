"""A first look at a series, without holding it: how many rows, from when to when, how often, in which order."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl

from tapedown.loggers.epoch import column_seconds


class Survey(NamedTuple):
    """A series from afar.

    interval_s     the commonest time from one row to the next
    regular_share  share of the rows that follow the one before by it
    backwards, repeated  rows whose time lies before, or is that of, the one before
    """

    rows: int
    first_s: float
    last_s: float
    interval_s: float
    regular_share: float
    backwards: int
    repeated: int

    @property
    def in_order(self) -> bool:
        """Whether every row is later than the one before."""
        return self.backwards == 0 and self.repeated == 0


def survey(rows: pl.LazyFrame) -> Survey:
    """Look at the times of a series: one pass, one small table of how often each step occurs.

    Parameters
    ----------
    rows
        With `time`, in the order in which they were recorded.

    Returns
    -------
    Survey
        Of equally common steps the longest is the usual one; of no rows everything is 0 but the regular share.

    Example
    -------
    >>> quarters = pl.Series([0, 15, 30, 45, 105]) * 60_000_000
    >>> look = survey(pl.LazyFrame({"time": quarters.cast(pl.Datetime("us"))}))
    >>> look.interval_s, look.regular_share, look.in_order
    (900.0, 0.75, True)
    """
    step = pl.col("time").diff().dt.total_microseconds().alias("step")
    ends = rows.select(pl.len(), pl.col("time").min().alias("first"), pl.col("time").max().alias("last"))
    steps = rows.select(step).group_by("step").len()
    count_and_ends, counted = pl.collect_all([ends, steps], engine="streaming")
    count, first, last = count_and_ends.row(0)
    if count == 0:
        return Survey(0, 0.0, 0.0, 0.0, 1.0, 0, 0)
    counted = counted.drop_nulls("step")
    onward = counted.filter(pl.col("step") > 0).sort(["len", "step"], descending=[True, False])
    usual, often = onward.row(0) if onward.height else (0, 0)
    ends_s = column_seconds(pl.Series([first, last]))
    return Survey(
        rows=count,
        first_s=float(ends_s[0]),
        last_s=float(ends_s[1]),
        interval_s=usual / 1e6,
        regular_share=often / max(count - 1, 1),
        backwards=int(counted.filter(pl.col("step") < 0)["len"].sum()),
        repeated=int(counted.filter(pl.col("step") == 0)["len"].sum()),
    )
