"""From what the logger recorded to the height of water above its own zero, by the engine's own lines."""

from __future__ import annotations

import polars as pl

from tapedown.engine.methods.logger_check import submergence_m
from tapedown.engine.physics.water import head_m, normal_gravity_m_s2, water_density_kg_m3
from tapedown.loggers.context import SeriesContext
from tapedown.values.results import Num
from tapedown.values.series.treatments import WaterDensity
from tapedown.values.units import STANDARD_GRAVITY_M_S2

NO_WATER = WaterDensity(None, None, None, None)


def water_height(rows: pl.LazyFrame, water: WaterDensity, context: SeriesContext) -> pl.LazyFrame:
    """The rows with the height of water.

    The expressions are the engine's functions, given columns instead of numbers.

    Parameters
    ----------
    rows
        With one of the columns a series may be of, and perhaps `temp_c` and `air_kpa`.
    water
        What density and gravity rest on.
    context
        The network's settings: the temperature guessed where none is known.

    Returns
    -------
    LazyFrame
        With `water_m`, m, positive up: above the sensor for a pressure, above land surface for a level. Null for an
        absolute logger without `air_kpa`, and for a barometer's own series.

    Notes
    -----
    S = (p - p_air) / (rho g), p_air = 0 for a logger vented to the air.
    """
    names = rows.collect_schema().names()
    gravity = gravity_m_s2(water)
    density = density_kg_m3(water, context, has_temp="temp_c" in names)
    if "pressure_kpa" in names:
        if "air_kpa" not in names:
            return rows.with_columns(pl.lit(None, pl.Float64).alias("water_m"))
        height = _expr(submergence_m(pl.col("pressure_kpa"), density, gravity, pl.col("air_kpa")))
    elif "gauge_kpa" in names:
        height = _expr(head_m(pl.col("gauge_kpa"), density, gravity))
    elif "logged_water_m" in names:
        height = pl.col("logged_water_m")
    elif "logged_depth_m" in names:
        height = -pl.col("logged_depth_m")
    elif "logged_elevation_m" in names:
        height = pl.col("logged_elevation_m")
    else:  # a barometer's own series
        height = pl.lit(None, pl.Float64)
    return rows.with_columns(height.alias("water_m"))


def gravity_m_s2(water: WaterDensity) -> float:
    """Gravity of the place, m/s2; standard gravity where its latitude is not said."""
    if water.latitude is None:
        return STANDARD_GRAVITY_M_S2
    return float(normal_gravity_m_s2(water.latitude.si, water.altitude.si if water.altitude else 0.0))


def density_kg_m3(water: WaterDensity, context: SeriesContext, *, has_temp: bool) -> pl.Expr:
    """Density of the water, by the best that is known.

    Parameters
    ----------
    water
        A density as measured, else one temperature for the whole series.
    context
        The network's settings: the temperature guessed where none is known.
    has_temp
        Whether the rows have the logger's own `temp_c`, which comes after these.

    Returns
    -------
    Expr
        kg/m3, a number alone or by row; a row whose temperature is null has the guessed one.
    """
    guess_c = context.settings.si("water_temp_unknown")
    if water.density is not None:
        return pl.lit(water.density.si)
    if water.temp is not None:
        return pl.lit(float(water_density_kg_m3(water.temp.si)))
    if not has_temp:
        return pl.lit(float(water_density_kg_m3(guess_c)))
    return _expr(water_density_kg_m3(pl.col("temp_c").fill_null(guess_c)))


def _expr(column: Num) -> pl.Expr:
    """A formula of the engine given columns is a column."""
    assert isinstance(column, pl.Expr)  # noqa: S101
    return column
