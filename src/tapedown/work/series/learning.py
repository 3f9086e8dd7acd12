"""What a series tells of its well: barometric efficiency, tide lines; and which barometer serves it best."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tapedown.engine.physics.water import head_m, water_density_kg_m3
from tapedown.loggers.barometer import BarometerChoice, Choice, choose_barometer, sea_level_findings
from tapedown.loggers.clock import Apart, clocks_apart
from tapedown.loggers.context import points
from tapedown.loggers.efficiency import Efficiency, clark, deconvolution, regression
from tapedown.loggers.epoch import column_seconds
from tapedown.loggers.tides import TideLine, tide_lines
from tapedown.loggers.treat import air_points
from tapedown.values.results import Finding
from tapedown.values.wells import Position
from tapedown.work.networks import OpenNetwork
from tapedown.work.series.corrected import Corrected, raw_rows, story_of
from tapedown.work.wells.files import WellFile, series_of, well_codes, well_file

EARTH_M = 6_371_000.0
TIDE_LINES = ("M2", "O1")
_LEVEL = pl.coalesce(-pl.col("depth_m"), "water_m").alias("level")
Floats = NDArray[np.float64]


class Learnt(NamedTuple):
    """What a series tells; `untold` says what it could not tell, and why."""

    efficiencies: tuple[Efficiency, ...]
    tides: tuple[TideLine, ...]
    untold: tuple[str, ...]


def learn(network: OpenNetwork, series: Corrected) -> Learnt:
    """Barometric efficiency and tide lines of a corrected series, from its usable rows."""
    names = series.rows.collect_schema().names()
    air = pl.col("air_kpa") if "air_kpa" in names else pl.lit(None, pl.Float64).alias("air_kpa")
    usable = series.rows.filter(pl.col("quality").is_in(["good", "unchecked", "estimate", "suspect"]))
    rows = usable.select("time", "water_m", air).collect(engine="streaming").drop_nulls("water_m")
    at_s, level = column_seconds(rows["time"]), rows["water_m"].to_numpy().astype(np.float64)
    density = float(water_density_kg_m3(network.settings.si("water_temp_unknown")))
    pressure = np.asarray(
        head_m(rows["air_kpa"].cast(pl.Float64).fill_null(float("nan")).to_numpy(), density), np.float64
    )
    learnt, untold = [], []
    for way in (clark, regression, deconvolution):
        try:
            learnt.append(way(level, pressure))
        except ValueError as error:
            untold.append(f"barometric efficiency, {way.__name__}: {error}")
    try:
        tides = tide_lines(at_s, level, TIDE_LINES)
    except ValueError as error:
        tides, untold = (), [*untold, f"tides: {error}"]
    return Learnt(tuple(learnt), tides, tuple(untold))


def best_barometer(network: OpenNetwork, series: Corrected) -> tuple[Choice | None, tuple[Finding, ...]]:
    """The barometer of the network that serves a series best, None without any; what is odd about the candidates."""
    here = series.story.file
    candidates, findings = [], []
    for code in well_codes(network):
        there = here if code == here.code else well_file(network, code)
        for name in series_of(there):
            story = story_of(network, code, name)
            if story.files[0].value.profile.main.holds != "air pressure":
                continue
            pressure = air_points(raw_rows(network, story), story.given)
            distance, higher = _apart(here, there)
            candidates.append(BarometerChoice(story.full_name, distance, higher, pressure))
            findings += sea_level_findings(pressure, _altitude(there), story.full_name)
    if not candidates:
        return None, ()
    at_s = column_seconds(series.rows.select("time").collect()["time"])
    return choose_barometer(candidates, at_s, network.settings.si("barometer_gap") * 3600), tuple(findings)


def _position(file: WellFile) -> Position | None:
    position: Position | None = file.in_force("position", "")
    return position


def _altitude(file: WellFile) -> float:
    position = _position(file)
    return position.land_surface.si if position and position.land_surface else 0.0


def _apart(here: WellFile, there: WellFile) -> tuple[float, float]:
    """Distance on the ground, m, and how much higher `there` lies; a place that is not known counts as far."""
    if here.code == there.code:
        return 0.0, 0.0
    a, b = _position(here), _position(there)
    if not (a and b and a.latitude and a.longitude and b.latitude and b.longitude):
        return 1e6, 0.0
    north = math.radians(b.latitude.si - a.latitude.si)
    east = math.radians(b.longitude.si - a.longitude.si) * math.cos(math.radians(a.latitude.si))
    return EARTH_M * math.hypot(north, east), _altitude(there) - _altitude(here)


def clocks(first: Corrected, second: Corrected, most_s: float = 7200.0) -> Apart:
    """How far apart the clocks of two loggers are, from the changes both saw.

    Raises
    ------
    ValueError
        They have too little time in common.
    """
    columns = [points(one.rows.select("time", _LEVEL).collect(engine="streaming"), "level") for one in (first, second)]
    step_s = min(one.about["interval_s"] for one in (first, second)) / 5
    return clocks_apart(columns[0], columns[1], most_s=most_s, step_s=max(step_s, 10.0))
