"""A corrected series as it is looked at: a window of it cut down to what a screen can show, and one point explained."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray
from tsdownsample import MinMaxDownsampler

from tapedown.loggers.epoch import column_seconds, naive
from tapedown.loggers.excluded import main_column
from tapedown.values.units import from_si
from tapedown.work.series.corrected import Corrected

Floats = NDArray[np.float64]
FLAG_WORDS = {1: "passed", 2: "not evaluated", 3: "suspect or of high interest", 4: "failed", 9: "no value"}
"""QARTOD flags (UNESCO 2013) in words."""


class Drawn(NamedTuple):
    """A column of a window: seconds since 1970 and values, both shape (n,), every peak and trough kept."""

    at_s: Floats
    values: Floats


HALF = 2.0
"""Standard uncertainties drawn on either side of a level: about 19 in 20."""


class Window(NamedTuple):
    """A stretch of a series: what was logged, the air, the depth with its uncertainty, the depth of the logger's zero.

    aside  rows that are set aside: left out of `logged`

    unit  of what was logged: "kPa" or "m"
    """

    from_s: float
    to_s: float
    logged: Drawn
    unit: str
    air: Drawn
    depth: Drawn
    u_depth: Drawn
    offset: Drawn
    aside: Drawn
    rows: int


def window_of(series: Corrected, from_s: float | None, to_s: float | None, most: int = 1600) -> Window:
    """The part of a series between two times, at most `most` points a column."""
    first, last = series.about["first_s"], series.about["last_s"]
    low = min(max(from_s if from_s is not None else first, first), last)
    high = max(min(to_s if to_s is not None else last, last), first)
    if high - low < 2 * series.about["interval_s"]:
        low, high = first, last
    names = series.rows.collect_schema().names()
    main = main_column(names)
    air = ["air_kpa"] if "air_kpa" in names and main != "air_kpa" else []
    inside = pl.col("time").is_between(naive(low), naive(high))
    columns = ["time", main, *air, "depth_m", "u_depth_m", "offset_m", "aside"]
    part = series.rows.filter(inside).select(columns).collect(engine="streaming")
    kept = part.filter(pl.col("aside").is_null())
    return Window(
        low,
        high,
        _drawn(kept, main, most),
        "kPa" if main.endswith("kpa") else "m",
        _drawn(part, "air_kpa", most) if air else Drawn(np.empty(0), np.empty(0)),
        _drawn(part, "depth_m", most),
        _drawn(part, "u_depth_m", most),
        _drawn(part, "offset_m", most),
        _drawn(part.filter(pl.col("aside").is_not_null()), main, most),
        part.height,
    )


def _drawn(part: pl.DataFrame, column: str, most: int) -> Drawn:
    """Lowest and highest of each bin, by tsdownsample; blanks left out."""
    kept = part.select("time", column).drop_nulls()
    at_s, values = column_seconds(kept["time"]), np.ascontiguousarray(kept[column].to_numpy(), np.float64)
    if len(values) <= most:
        return Drawn(at_s, values)
    chosen = MinMaxDownsampler().downsample(at_s, values, n_out=most - most % 2)  # type: ignore[no-untyped-call]
    return Drawn(at_s[chosen], values[chosen])


class Point(NamedTuple):
    """One row of a corrected series and how it came about.

    steps  (what, value, where from) in order of working
    tests  (test, flag in words)
    """

    at_s: float
    quality: str
    depth_m: float | None
    u_depth_m: float | None
    steps: tuple[tuple[str, str, str], ...]
    tests: tuple[tuple[str, str], ...]


def point_at(series: Corrected, at_s: float, unit: str) -> Point | None:
    """The row nearest to a time, explained in a unit of length; None in a series without rows near it."""
    reach_s = max(2 * series.about["interval_s"], 60.0)
    near = series.rows.filter(pl.col("time").is_between(naive(at_s - reach_s), naive(at_s + reach_s))).collect()
    if near.height == 0:
        return None
    at = column_seconds(near["time"])
    row = near.row(int(np.argmin(np.abs(at - at_s))), named=True)
    row_s = row["time"].replace(tzinfo=UTC).timestamp()
    tests = tuple(
        (name.removeprefix("flag_"), FLAG_WORDS[value])
        for name, value in row.items()
        if name.startswith("flag") and name != "flag" and value is not None
    )
    return Point(
        row_s, row["quality"], row["depth_m"], row["u_depth_m"], tuple(_steps(series, row, row_s, unit)), tests
    )


def _steps(series: Corrected, row: Mapping[str, Any], row_s: float, length_unit: str) -> list[tuple[str, str, str]]:
    main = main_column(list(row))
    unit = "kPa" if main.endswith("kpa") else "m"
    file = series.story.files[row["file"]].value.file

    def length(value_m: float) -> str:
        return f"{from_si(value_m, length_unit, 'length'):.4f} {length_unit}"

    logged = f"{row[main]:.4f} kPa" if unit == "kPa" else length(row[main])
    steps = [("as logged", logged, f"line {row['line']} of {file}")]
    if row.get("temp_c") is not None:
        steps.append(("temperature of the water", f"{row['temp_c']:.2f} degC", "the logger; it decides the density"))
    if row.get("air_kpa") is not None:
        steps.append(
            ("air pressure", f"{row['air_kpa']:.4f} kPa", "the barometer, a straight line between its readings")
        )
    if row["aside"]:
        return [*steps, ("set aside", row["aside"], "a treatment")]
    if row["water_m"] is not None:
        what = "water above the sensor" if unit == "kPa" else "height above its own zero"
        steps.append((what, length(row["water_m"]), "(p - p_air) / (rho g)" if unit == "kPa" else "the sign turned"))
    if row["offset_m"] is not None:
        steps.append(("depth of the logger's zero", length(row["offset_m"]), _between(series, row_s)))
    if row["depth_m"] is not None:
        steps.append(("depth below land surface", length(row["depth_m"]), "the zero less the water above it"))
    if row["u_depth_m"] is not None:
        parts = "tape at the checks, the logger's own digit, its wandering since"
        steps.append(("standard uncertainty", length(row["u_depth_m"]), parts))
    return steps


def _between(series: Corrected, row_s: float) -> str:
    checks = series.about["checks"]
    before = [check["at_s"] for check in checks if check["at_s"] <= row_s]
    after = [check["at_s"] for check in checks if check["at_s"] >= row_s]
    days = [f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d}" for at in (*before[-1:], *after[:1])]
    if before and after:
        return f"tape readings of {' and '.join(dict.fromkeys(days))}, shared {series.about['share']}"
    return f"tape reading of {days[0]}, held beyond it" if days else "no tape reading"
