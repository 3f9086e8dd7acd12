"""From raw rows to a corrected series: the treatments, applied in one fixed order, as one lazy plan.

The order is that of values.treatments.TREATMENTS: clock, what is set aside, units, barometer, water, barometric
efficiency, tape, tests. It does not depend on when a treatment was written down, so that striking one and writing it
again changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import polars as pl

from tapedown.engine.checks.named import by_weight, finding
from tapedown.loggers import barometer, clock, efficiency, excluded, quality, tape, water
from tapedown.loggers.context import PointSeries, SeriesContext, points
from tapedown.loggers.survey import Survey, survey
from tapedown.values.results import Finding
from tapedown.values.series.treatments import (
    TREATMENTS,
    BarometricEfficiency,
    ClockDrift,
    ClockShift,
    OntoTape,
    QualityTests,
    SetAside,
    Treatment,
    WaterDensity,
    treatment_name,
)

Rows = pl.LazyFrame
SERIES_VERSION = "2"
"""Raised when a corrected series may come out differently."""

BEFORE_WATER: dict[str, Callable[[Rows, Any, SeriesContext], Rows]] = {
    "clock shift": lambda rows, treatment, _: clock.shifted(rows, treatment),
    "clock drift": lambda rows, treatment, _: clock.drifted(rows, treatment),
    "set aside": lambda rows, treatment, _: excluded.left_out(rows, treatment),
    "unit mended": lambda rows, treatment, _: excluded.unit_mended(rows, treatment),
    "barometer": barometer.air_pressure,
}
"""Name of a treatment -> what it does to the rows before the height of water is worked out."""
USUAL_TESTS: QualityTests = TREATMENTS["quality tests"].read({}, "m")[0]  # type: ignore[assignment]
"""The tests with the network's thresholds."""
ROWS_EACH = 500_000
"""Rows of a piece of a long series; ours."""
ONE_OF_A_KIND = ("barometer", "water", "onto the tape", "quality tests")


class Treated(NamedTuple):
    """A corrected series.

    rows      a lazy plan: `time`, `line`, `file`, the raw columns, `air_kpa`, `aside`, `water_m`, `offset_m`,
              `depth_m`, `u_depth_m`, a flag for each test, `flag` and `quality`
    look      its times
    pull      how it was pulled onto the tape, None without that treatment
    findings  weightiest first
    water     the plan as far as `water_m`
    finish    what turns rows of `water` into rows of the corrected series; each needs the rows before and after it
    reach     how many rows before and after; 0 when that is not known
    """

    rows: Rows
    look: Survey
    pull: tape.Pull | None
    findings: tuple[Finding, ...]
    water: Rows
    finish: Callable[[Rows], Rows]
    reach: int

    def pieces(self, rows_each: int = ROWS_EACH) -> Iterator[Rows]:
        """The corrected series in pieces that are written one after the other, so that memory does not grow with it.

        Parameters
        ----------
        rows_each
            Rows of a piece.

        Yields
        ------
        Rows
            Plans whose rows, one after the other, are those of `rows`; one piece alone where the reach is not known.
        """
        if not self.reach or self.look.rows <= rows_each:
            yield self.rows
            return
        for start in range(0, self.look.rows, rows_each):
            before = min(start, self.reach)
            part = self.water.slice(start - before, before + rows_each + self.reach)
            yield self.finish(part).slice(before, rows_each)


def treat(raw: Rows, treatments: Sequence[Treatment], context: SeriesContext, look: Survey | None = None) -> Treated:
    """Apply the treatments to raw rows.

    The rows near check readings and the range between checks are read here; everything else waits until the result is
    written.

    Parameters
    ----------
    raw
        `time` (UTC; put in order where it is not, of equal times the first kept), `line`, and a column as
        exchange.loggers.files names them.
    treatments
        In any order; of those that can only hold once, the last given holds.
    context
        Check readings, barometers, neighbours, settings.
    look
        Survey of the raw rows, when it is known already.

    Returns
    -------
    Treated
        The corrected series as a plan, and findings. A row that is set aside keeps its line and loses its value: null.

    Example
    -------
    >>> from tapedown.loggers.context import TapeCheck
    >>> days = pl.Series([0, 50, 100]) * 86_400_000_000
    >>> raw = pl.LazyFrame({"time": days.cast(pl.Datetime("us")), "logged_depth_m": [12.0, 12.5, 13.0]})
    >>> checks = (TapeCheck(0.0, 12.0, 0.002), TapeCheck(100 * 86400.0, 13.02, 0.002))
    >>> onto = OntoTape("in time", (), None, None, None)
    >>> [round(depth, 3) for depth in treat(raw, [onto], SeriesContext(checks=checks)).rows.collect()["depth_m"]]
    [12.0, 12.51, 13.02]
    """
    given = _in_order(treatments)
    height = _water(raw, given, context)
    if look is None or any(isinstance(treatment, (ClockShift, ClockDrift)) for treatment in given):
        look = survey(height)
    if not look.in_order:
        height = height.sort("time", maintain_order=True).unique("time", keep="first", maintain_order=True)
        look = survey(height)
    onto, tests = _one(given, OntoTape), _one(given, QualityTests) or USUAL_TESTS
    pull = tape.pull_onto_tape(height, onto, context, look) if onto else None
    findings = [*_unfit(height), *(tape.pull_findings(pull, context) if pull else ())]
    finish = partial(_finished, pull=pull, tests=tests, context=context, look=look)
    reach = quality.reach(tests, context, look)
    return Treated(finish(height), look, pull, by_weight(findings), height, finish, reach)


def air_points(raw: Rows, treatments: Sequence[Treatment]) -> PointSeries:
    """A barometer's series as points: its clock put right, its units mended, what is set aside left out.

    Parameters
    ----------
    raw
        With `time` (UTC) and `air_kpa`.
    treatments
        Of this series; those of water, efficiency, tape and tests do nothing here. One that names a barometer is a
        ValueError, for a barometer has none.

    Returns
    -------
    PointSeries
        kPa, in the order of time, without nulls.
    """
    rows = _as_recorded(raw, _in_order(treatments), SeriesContext())
    return points(
        rows.filter(pl.col("aside").is_null()).select("time", "air_kpa").collect(engine="streaming"), "air_kpa"
    )


def _as_recorded(raw: Rows, given: Sequence[Treatment], context: SeriesContext) -> Rows:
    rows = raw.with_columns(pl.lit(None, pl.String).alias("aside"))
    for treatment in given:
        apply = BEFORE_WATER.get(treatment_name(treatment))
        rows = apply(rows, treatment, context) if apply else rows
    return rows


def _water(raw: Rows, given: Sequence[Treatment], context: SeriesContext) -> Rows:
    """The rows as far as `water_m`; null where they are set aside."""
    rows = _as_recorded(raw, given, context)
    rows = water.water_height(rows, _one(given, WaterDensity) or water.NO_WATER, context)
    for treatment in given:
        if isinstance(treatment, BarometricEfficiency):
            rows = efficiency.efficiency_removed(rows, treatment, context)
    if any(isinstance(treatment, SetAside) for treatment in given):
        rows = rows.with_columns(pl.when(pl.col("aside").is_null()).then(pl.col("water_m")).alias("water_m"))
    return rows


def _finished(rows: Rows, *, pull: tape.Pull | None, tests: QualityTests, context: SeriesContext, look: Survey) -> Rows:
    """Depth, uncertainty, flags and quality of rows with `water_m`."""
    rows = tape.with_depth(rows, pull) if pull else _as_logged(rows)
    depth = pl.col("depth_m") if pull and pull.offsets else -pl.col("water_m")
    rows = quality.tested(rows.with_columns(depth.alias(quality.TESTED)), tests, context, look)
    checked_s = (pull.offsets[0].check.at_s, pull.offsets[-1].check.at_s) if pull and pull.offsets else None
    return rows.with_columns(quality.quality_word(pl.col("flag"), checked_s)).drop(quality.TESTED)


def _as_logged(rows: Rows) -> Rows:
    """Without a tape: a level as it was logged, a pressure as water above the sensor and no depth."""
    logged = {"logged_depth_m", "logged_elevation_m"} & set(rows.collect_schema().names())
    depth = -pl.col("water_m") if "logged_depth_m" in logged else pl.lit(None, pl.Float64)
    nothing = pl.lit(None, pl.Float64)
    return rows.with_columns(nothing.alias("offset_m"), depth.alias("depth_m"), nothing.alias("u_depth_m"))


def _unfit(rows: Rows) -> list[Finding]:
    names = rows.collect_schema().names()
    if "pressure_kpa" in names and "air_kpa" not in names:
        return [
            finding(
                "absolute-without-barometer",
                "the series holds absolute pressures and no barometer is taken off: 10 m of water too much",
                "add the treatment barometer",
            )
        ]
    return []


def _in_order(treatments: Sequence[Treatment]) -> list[Treatment]:
    names = list(TREATMENTS)
    once: dict[str, Treatment] = {}
    many: list[Treatment] = []
    for treatment in treatments:
        name = treatment_name(treatment)
        if name in ONE_OF_A_KIND:
            once[name] = treatment
        else:
            many.append(treatment)
    return sorted([*many, *once.values()], key=lambda treatment: names.index(treatment_name(treatment)))


def _one(treatments: Sequence[Treatment], kind: type[Any]) -> Any:
    return next((treatment for treatment in treatments if isinstance(treatment, kind)), None)
