"""Air pressure for an absolute logger: laid over its times, carried to the water's height, reduced back, chosen.

Air is denser lower down: at the water it presses exp(g z / (R T)) times as much as at a barometer z above it; the same
holds between two altitudes and down a deep well (`air_column_factor`). A pressure "reduced to sea level"
has been multiplied by that factor for the station's altitude, with a temperature the service chose.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import polars as pl

from tapedown.engine.checks.named import finding
from tapedown.engine.physics.water import air_column_factor
from tapedown.engine.uncertainty.digits import percent, rounded
from tapedown.loggers.context import PointSeries, SeriesContext, bridged
from tapedown.loggers.epoch import Array, by_time
from tapedown.values.results import Finding
from tapedown.values.series.treatments import Barometer

STANDARD_AIR_KPA = 101.325
STANDARD_AIR_TEMP_C = 15.0


def air_pressure(rows: pl.LazyFrame, barometer: Barometer, context: SeriesContext) -> pl.LazyFrame:
    """The rows with the air pressure on the water in the well.

    Parameters
    ----------
    rows
        With `time`.
    barometer
        Which series, where it hangs, and the longest gap to be bridged (without one, the network's).
    context
        The barometers by name; one that is not there is a ValueError.

    Returns
    -------
    LazyFrame
        With `air_kpa`, along straight lines between the barometer's readings; null where it has a gap.
    """
    series, factor = barometer_points(barometer, context), air_factor(barometer)
    gap_s = (barometer.gap.si if barometer.gap else context.settings.si("barometer_gap")) * 3600

    def at(times_s: Array) -> Array:
        return bridged(series, times_s, gap_s) * factor

    return rows.with_columns(by_time(at, "air_kpa"))


def barometer_points(barometer: Barometer, context: SeriesContext) -> PointSeries:
    """The barometer that a treatment names.

    Parameters
    ----------
    barometer
        The treatment.
    context
        The barometers by name.

    Returns
    -------
    PointSeries
        Its pressures, kPa.

    Raises
    ------
    ValueError
        It is not in the context; the message lists those that are.
    """
    if barometer.series not in context.barometers:
        raise ValueError(f"no barometer {barometer.series!r} among {sorted(context.barometers)}")
    return context.barometers[barometer.series]


def air_factor(barometer: Barometer) -> float:
    """Pressure on the water over the pressure the barometer's series shows.

    Parameters
    ----------
    barometer
        How far it hangs above the water, the altitude its series was reduced from, and the temperature of the air; 15
        degC where that is not said.

    Returns
    -------
    float
        Factor, 1 where neither is said.

    Notes
    -----
    exp(g (z - h) / (R T)), z the height above the water and h the altitude of a series reduced to sea level, both m.
    See `engine.physics.water.air_column_factor` for its limits.

    Example
    -------
    >>> from tapedown.values.written import Written
    >>> from tapedown.engine.physics.water import head_m
    >>> factor = air_factor(Barometer("baro", None, Written("100", "m"), None, None))
    >>> round(float(head_m(101.325 * (factor - 1), 999.7)), 3)
    0.123
    """
    temp_c = barometer.air_temp.si if barometer.air_temp else STANDARD_AIR_TEMP_C
    down_m = barometer.above_water.si if barometer.above_water else 0.0
    up_m = barometer.sea_level_altitude.si if barometer.sea_level_altitude else 0.0
    return float(air_column_factor(down_m - up_m, temp_c))


class BarometerChoice(NamedTuple):
    """A barometer that might serve: how far away and how much higher than the well, m, and its pressures."""

    name: str
    distance_m: float
    higher_m: float
    pressure: PointSeries


class Choice(NamedTuple):
    """The barometer that serves best, the reason, and every candidate with the share of the time it covers."""

    name: str
    reason: str
    shares: tuple[tuple[str, float], ...]


def choose_barometer(candidates: Sequence[BarometerChoice], at_s: Array, gap_s: float) -> Choice:
    """The nearest of those that cover the rows best: within 2 % of the best share of rows (ours).

    Parameters
    ----------
    candidates
        Barometers that might serve.
    at_s
        Times of the rows, s since 1970, shape (n,).
    gap_s
        Longest gap that is bridged, s.

    Returns
    -------
    Choice
        The name, the reason in words, and the share of the rows that each candidate covers, 0 to 1. Of two at one
        distance, the one nearer in height.

    Raises
    ------
    ValueError
        There is no candidate.

    Example
    -------
    >>> import numpy as np
    >>> hours = np.arange(10.0) * 3600
    >>> near = BarometerChoice("near", 2000.0, 0.0, PointSeries(hours[:5], np.full(5, 99.0)))
    >>> far = BarometerChoice("far", 9000.0, 12.0, PointSeries(hours, np.full(10, 98.9)))
    >>> choose_barometer([near, far], hours, 7200.0).reason
    'far covers 100% of the rows from 9.0 km away; nearer ones cover less: near (50%)'
    """
    if not candidates:
        raise ValueError("no barometer to choose from")
    shares = {
        c.name: float((bridged(c.pressure, at_s, gap_s) == bridged(c.pressure, at_s, gap_s)).mean()) for c in candidates
    }
    best = max(shares.values())
    able = [c for c in candidates if shares[c.name] >= best - 0.02]
    chosen = min(able, key=lambda c: (c.distance_m, abs(c.higher_m)))
    nearer = [c for c in candidates if c.distance_m < chosen.distance_m]
    away = f"{rounded(chosen.distance_m / 1000, 0.1)} km away"
    reason = f"{chosen.name} covers {percent(shares[chosen.name])} of the rows from {away}"
    if nearer:
        shown = ", ".join(f"{c.name} ({percent(shares[c.name])})" for c in nearer)
        reason += f"; nearer ones cover less: {shown}"
    return Choice(chosen.name, reason, tuple(shares.items()))


def sea_level_findings(pressure: PointSeries, altitude_m: float, name: str) -> list[Finding]:
    """A station up in the hills whose pressures average what is usual at the sea: they were reduced to sea level.

    Parameters
    ----------
    pressure
        Its pressures, kPa, without NaN.
    altitude_m
        Altitude of the station, m.
    name
        Of the barometer, for the words.

    Returns
    -------
    list
        One finding, or none; none as well where sea and station differ by less than 2 kPa (ours), for the weather alone
        does as much.

    Notes
    -----
    Usual at the station: 101.325 kPa / exp(g altitude / (R T)) at 15 degC. The mean is held to belong to whichever of
    the two it lies nearer.

    Example
    -------
    >>> import numpy as np
    >>> at = PointSeries(np.arange(3.0), np.array([101.0, 101.4, 101.5]))
    >>> [found.check for found in sea_level_findings(at, 620.0, "hill")]
    ['barometer-sea-level']
    """
    expected = STANDARD_AIR_KPA / float(air_column_factor(altitude_m, STANDARD_AIR_TEMP_C))
    mean = math.fsum(pressure.value) / max(len(pressure.value), 1)
    if (
        len(pressure.value) == 0
        or STANDARD_AIR_KPA - expected < 2.0
        or abs(mean - STANDARD_AIR_KPA) > abs(mean - expected)
    ):
        return []
    return [
        finding(
            "barometer-sea-level",
            f"{name} lies {altitude_m:.0f} m up and averages {rounded(mean, 0.1)} kPa; {rounded(expected, 0.1)} kPa is "
            "usual there: its pressures look reduced to sea level",
            "give the barometer its sea_level_altitude, so that they are reduced back",
        )
    ]
