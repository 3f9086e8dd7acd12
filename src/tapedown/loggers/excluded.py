"""Stretches left out, and stretches whose unit is mended. Rows stay; what is left out loses its value, not its line."""

from __future__ import annotations

import polars as pl

from tapedown.loggers.epoch import between
from tapedown.values.series.treatments import SetAside, UnitMended
from tapedown.values.units import UNITS, known_unit

MAIN = ("pressure_kpa", "gauge_kpa", "logged_water_m", "logged_depth_m", "logged_elevation_m", "air_kpa")
"""What a series may be of, as the reader of files names it."""


def main_column(names: list[str]) -> str:
    """The column a series is of.

    Parameters
    ----------
    names
        Of its columns.

    Returns
    -------
    str
        The first of `MAIN` among them.

    Raises
    ------
    ValueError
        None of them is there.
    """
    column = next((name for name in MAIN if name in names), None)
    if column is None:
        raise ValueError(f"no pressure or level among the columns {names}")
    return column


def left_out(rows: pl.LazyFrame, stretch: SetAside) -> pl.LazyFrame:
    """The rows with the reason in `aside` for those of the stretch."""
    reason = pl.when(between(stretch.start, stretch.end)).then(pl.lit(stretch.because)).otherwise(pl.col("aside"))
    return rows.with_columns(reason.alias("aside"))


def unit_mended(rows: pl.LazyFrame, mended: UnitMended) -> pl.LazyFrame:
    """The rows with the numbers of a stretch taken in the unit they were really written in.

    Parameters
    ----------
    rows
        With `time` and a main column, in SI by the unit they were taken for.
    mended
        The stretch, both ends included, and the two units of one kind.

    Returns
    -------
    LazyFrame
        The main column multiplied by the ratio of the two units within the stretch.
    """
    column = pl.col(main_column(rows.collect_schema().names()))
    quantity = next(name for name, units in UNITS.items() if mended.taken_as in units and mended.really in units)
    was, factor = (UNITS[quantity][known_unit(unit, quantity)][0] for unit in (mended.taken_as, mended.really))
    return rows.with_columns(pl.when(between(mended.start, mended.end)).then(column * (factor / was)).otherwise(column))
