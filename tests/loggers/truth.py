"""Series whose truth is known: a level, the air over it, and a logger that drifts, runs slow and is lifted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tapedown.engine.methods.logger_check import submergence_m
from tapedown.engine.physics.water import water_density_kg_m3
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.epoch import Array
from tapedown.loggers.zero_drift import YEAR_S
from tapedown.values.series.treatments import TREATMENTS, Barometer, OntoTape, Treatment
from tapedown.values.settings import Settings
from tapedown.values.units import STANDARD_GRAVITY_M_S2
from tapedown.values.written import Written

START_S = 1767225600.0  # 2026-01-01
BARO = Barometer("baro", Written("3", "h", "duration"), None, None, None)


Floats = NDArray[np.floating[Any]]


class Truth(NamedTuple):
    """What really was, at the times of the rows: time in s, depth in m; and the rows a logger made of it."""

    at_s: Array
    depth_m: Array
    raw: pl.LazyFrame
    context: SeriesContext
    handled_s: tuple[float, ...]


def treatment(name: str, **given: object) -> Treatment:
    """A treatment from its fields as a person writes them."""
    found, problems = TREATMENTS[name].read(given, "m")
    assert not problems, problems
    assert found is not None
    return found  # type: ignore[no-any-return]


def tape(share: str = "in time", **given: object) -> OntoTape:
    found = treatment("onto the tape", share=share, **given)
    assert isinstance(found, OntoTape)
    return found


def frame(at_s: Floats, **columns: Floats) -> pl.LazyFrame:
    """Rows with these times and columns, line numbers as in a file with one line of names."""
    times = pl.Series((at_s * 1e6).round().astype("int64")).cast(pl.Datetime("us"))
    lines = pl.Series(range(2, len(at_s) + 2), dtype=pl.UInt32)
    return pl.DataFrame({"line": lines, "time": times, **columns}).lazy()


def drifting(
    seed: int,
    *,
    days: int = 400,
    interval_s: float = 7200.0,
    checks: int = 5,
    walk_m: float = 0.03,
    trend_m: float = 0.05,
    u_point_m: float = 0.003,
    u_tape_m: float = 0.003,
    steps: Sequence[tuple[float, float]] = (),
    efficiency: float = 0.0,
) -> Truth:
    """A logger whose zero wanders by walk_m and drifts by trend_m in a year and jumps at `steps` (share, m)."""
    rng = np.random.default_rng(seed)
    at_s = START_S + np.arange(0, days * 86400, interval_s)
    year = (at_s - START_S) / YEAR_S
    air_kpa = 101.0 + np.cumsum(rng.normal(0, 0.05, len(at_s))) * 0.5
    depth = 12.0 + 0.8 * np.sin(2 * np.pi * year) + np.cumsum(rng.normal(0, 0.002, len(at_s)))
    temp_c = 10 + 2 * np.sin(2 * np.pi * year)
    density = water_density_kg_m3(temp_c)
    depth = depth + efficiency * (air_kpa - air_kpa.mean()) * 1000 / (1000 * STANDARD_GRAVITY_M_S2)
    wander = np.cumsum(rng.normal(0, walk_m * np.sqrt(interval_s / YEAR_S), len(at_s))) + trend_m * year
    jump = sum((size * (year >= share * year[-1]) for share, size in steps), np.zeros(len(at_s)))
    height = 18.0 - depth - wander - jump + rng.normal(0, u_point_m, len(at_s))
    pressure = air_kpa + height * density * STANDARD_GRAVITY_M_S2 / 1000
    assert np.allclose(submergence_m(pressure, density, barometer_kpa=air_kpa), height)
    at = np.linspace(0, len(at_s) - 1, checks).round().astype(int)
    read = [TapeCheck(float(at_s[k]), float(depth[k] + rng.normal(0, u_tape_m)), u_tape_m) for k in at]
    context = SeriesContext(Settings("m"), tuple(read), {"baro": PointSeries(at_s, air_kpa)})
    handled = tuple(float(START_S + share * (at_s[-1] - START_S)) for share, _ in steps)
    return Truth(at_s, depth, frame(at_s, pressure_kpa=pressure, temp_c=temp_c), context, handled)
