"""What loggers recorded, as it is handed on: every row of a corrected series, and its daily means."""

from __future__ import annotations

from typing import Any

import polars as pl

from tapedown.engine.student import coverage_factor
from tapedown.exchange.delivery import Series
from tapedown.values.results import GOOD, MANY, MISSING
from tapedown.work.logger_series import Corrected, corrected, daily
from tapedown.work.networks import OpenNetwork
from tapedown.work.wells import WellFile, series_of

LEVEL = "depth_to_water_below_land_surface"
WITH_OFFSET = "%Y-%m-%dT%H:%M:%S%:z"


def delivered_series(network: OpenNetwork, file: WellFile) -> tuple[Series, ...]:
    """The logger series of a well that are depths to water, each with its daily means; a barometer's is left out."""
    found: list[Series] = []
    for name in series_of(file):
        series = corrected(network, file.code, name)
        rows = series.rows.select("time", "depth_m", "u_depth_m", "flag", "quality").collect()
        if rows["depth_m"].null_count() < rows.height:
            found += [_rows(network, file.code, name, rows), _daily_means(network, file.code, name, series)]
    return tuple(found)


def _rows(network: OpenNetwork, code: str, name: str, rows: pl.DataFrame) -> Series:
    times = rows["time"].dt.replace_time_zone("UTC").dt.strftime(WITH_OFFSET)
    return Series(
        code,
        LEVEL,
        "logger",
        tuple(times.to_list()),
        tuple(_finite(rows["depth_m"])),
        tuple(_finite(rows["u_depth_m"] * _factor(network))),
        tuple(word or MISSING for word in rows["quality"].to_list()),
        notes=tuple(f"logger; QARTOD flag {flag}" for flag in rows["flag"].to_list()),
        name=name,
    )


def _daily_means(network: OpenNetwork, code: str, name: str, series: Corrected) -> Series:
    days = daily(series, network)
    midnight = (
        days["day"]
        .cast(pl.Datetime("us"))
        .dt.replace_time_zone(network.facts.zone, ambiguous="earliest", non_existent="null")
    )
    at = midnight.fill_null(strategy="forward").dt.strftime(WITH_OFFSET)
    means = _finite(days["mean_depth_m"])
    return Series(
        code,
        LEVEL,
        "daily mean",
        tuple(at.to_list()),
        tuple(means),
        tuple(_finite(days["u_mean_m"] * _factor(network))),
        tuple(MISSING if mean is None else GOOD for mean in means),
        notes=tuple(f"daily mean; of {count} rows" for count in days["rows"].to_list()),
        name=name,
    )


def _factor(network: OpenNetwork) -> float:
    return float(coverage_factor(MANY, network.settings.si("coverage")))


def _finite(column: pl.Series) -> list[Any]:
    return column.fill_nan(None).to_list()
