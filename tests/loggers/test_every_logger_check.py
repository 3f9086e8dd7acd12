"""Every check of logger files and series, once where it must speak and once where it must be silent."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import polars as pl
import pytest

import tapedown.exchange
import tapedown.loggers
from tapedown.engine.checks.named import CHECKS
from tapedown.exchange.loggers.files import read_logger_file
from tapedown.loggers.barometer import sea_level_findings
from tapedown.loggers.combine import combined
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.diagnostics import barometer_account, corrected_account, raw_account
from tapedown.loggers.epoch import Array
from tapedown.loggers.survey import survey
from tapedown.loggers.treat import treat
from tapedown.values.results import Finding
from tapedown.values.series.treatments import Treatment
from tapedown.values.settings import Settings
from tests.exchange.test_logger_files import profile
from tests.loggers.truth import START_S, frame, tape, treatment

METRES = Settings("m")
N = 200
AT_S: Array = START_S + np.arange(N, dtype=np.float64) * 3600.0
LEVEL: Array = 10 + 0.2 * np.sin(np.arange(N, dtype=np.float64) / 15)
CHECKS_OF_IT = tuple(TapeCheck(float(AT_S[k]), float(LEVEL[k]), 0.003) for k in (0, 100, N - 1))
Findings = Callable[[], Iterable[Finding]]


class Pair(NamedTuple):
    """What must make a check speak, and the nearest thing that must not."""

    check: str
    speaks: Findings
    silent: Findings


def file_of(text: str, zone: str = "Europe/London") -> Findings:
    return lambda: read_logger_file(f"when,p\n{text}".encode(), profile(zone)).account.findings


def raw(values: Array, column: str = "logged_depth_m", at_s: Array = AT_S) -> Findings:
    rows = frame(at_s, **{column: values})
    return lambda: raw_account(rows, survey(rows), METRES)


def series(
    values: Array = LEVEL,
    *treatments: Treatment,
    at_s: Array = AT_S,
    checks: tuple[TapeCheck, ...] = CHECKS_OF_IT,
    column: str = "logged_depth_m",
    air: Array | None = None,
    neighbour: Array | None = None,
) -> Findings:
    barometers = {"air": PointSeries(AT_S, air)} if air is not None else {}
    neighbours = {"other": PointSeries(AT_S, neighbour)} if neighbour is not None else {}
    context = SeriesContext(METRES, checks, barometers, neighbours)
    return lambda: corrected_account(treat(frame(at_s, **{column: values}), [*treatments, tape()], context), METRES)


def changed(places: slice | int, value: float, of: Array = LEVEL) -> Array:
    values = of.copy()
    values[places] = value
    return values


def joined(shift: int) -> Findings:
    """Two downloads of ten hours, the second beginning `shift` hours after the first."""
    first, second = (
        frame(START_S + (np.arange(10) + by) * 3600.0, logged_depth_m=np.arange(10.0)) for by in (0, shift)
    )
    return lambda: combined([("a", first), ("b", second)], "logged_depth_m").findings


AIR: Array = 101 + np.sin(np.arange(N, dtype=np.float64) / 20)
PRESSURE: Array = AIR + (20 - LEVEL) * 9.8
BARO = treatment("barometer", series="air")
HOLE = np.delete(np.arange(N), slice(40, 60))
MISSING_CHECK = (*CHECKS_OF_IT, TapeCheck(float(AT_S[50]), float(LEVEL[50]), 0.003))
DRIFTED = tuple(check._replace(depth_m=check.depth_m + 0.4 * (k == 2)) for k, check in enumerate(CHECKS_OF_IT))
NEAR = treatment("quality tests", neighbour="other")

PAIRS = (
    Pair("logger-clock-zone", file_of("29/03/2026 01:30,2\n"), file_of("29/03/2026 02:30,2\n")),
    Pair("logger-lines-aside", file_of("1/01/2026 01:30,2\nsoon,3\n"), file_of("1/01/2026 01:30,2\n\n")),
    Pair("logger-lines-unsorted", file_of("2/01/2026 01:30,2\n1/01/2026 01:30,2\n"), file_of("1/01/2026 01:30,2\n")),
    Pair("logger-handled", raw(changed(50, 7.0)), raw(LEVEL)),
    Pair("logger-units-mixed", raw(changed(slice(50, None), 1013.0)), raw(changed(slice(50, None), 11.0))),
    Pair("series-ragged", raw(LEVEL, at_s=START_S + np.cumsum(np.arange(N) % 5 + 1.0)), raw(LEVEL)),
    Pair("logger-downloads-overlap", joined(5), joined(10)),
    Pair("logger-same-moment", joined(5), joined(10)),
    Pair("logger-no-check", series(checks=()), series()),
    Pair("logger-check-in-gap",
         series(LEVEL[HOLE], at_s=AT_S[HOLE], checks=MISSING_CHECK), series(checks=MISSING_CHECK)),
    Pair("logger-drift-refused", series(checks=DRIFTED), series()),
    Pair("absolute-without-barometer", series(PRESSURE, column="pressure_kpa"),
         series(PRESSURE, BARO, column="pressure_kpa", air=AIR)),
    Pair("barometer-gap", series(PRESSURE, BARO, column="pressure_kpa", air=changed(slice(0, 30), np.nan, AIR)),
         series(PRESSURE, BARO, column="pressure_kpa", air=AIR)),
    Pair("logger-out-of-water", series(changed(slice(60, 70), 95.0, PRESSURE), BARO, column="pressure_kpa", air=AIR),
         series(PRESSURE, BARO, column="pressure_kpa", air=AIR)),
    Pair("barometer-odd", lambda: barometer_account(PointSeries(AT_S, changed(9, 78.0, AIR)), "air"),
         lambda: barometer_account(PointSeries(AT_S, AIR), "air")),
    Pair("barometer-sea-level", lambda: sea_level_findings(PointSeries(AT_S, AIR), 700.0, "hill"),
         lambda: sea_level_findings(PointSeries(AT_S, AIR - 8.1), 700.0, "hill")),
    Pair("series-gap", series(LEVEL[HOLE], at_s=AT_S[HOLE]), series()),
    Pair("series-out-of-range", series(LEVEL, treatment("quality tests", deepest="10.1")),
         series(LEVEL, treatment("quality tests", deepest="11"))),
    Pair("series-spike", series(changed(50, 9.0)), series()),
    Pair("series-rate", series(changed(slice(50, None), 11.0), checks=()), series(checks=())),
    Pair("series-flat", series(changed(slice(0, 150), 10.0), checks=()), series(checks=())),
    Pair("series-off-neighbour", series(LEVEL, NEAR, neighbour=LEVEL + 1), series(LEVEL, NEAR, neighbour=LEVEL)),
)  # fmt: skip


def names(findings: Iterable[Finding]) -> set[str]:
    return {found.check for found in findings}


@pytest.mark.parametrize("pair", [pytest.param(pair, id=pair.check) for pair in PAIRS])
def test_a_check_speaks_when_it_must_and_is_silent_when_it_must_not(pair: Pair) -> None:
    assert pair.check in names(pair.speaks())
    assert pair.check not in names(pair.silent())
    assert all(found.message and found.hint for found in pair.speaks())


def test_every_check_of_loggers_is_tried_here() -> None:
    folders = [Path(str(tapedown.loggers.__file__)).parent.glob("*.py")]
    folders.append(Path(str(tapedown.exchange.__file__)).parent.glob("loggers/*.py"))
    source = "".join(path.read_text() for folder in folders for path in folder)
    named = {word for word in re.findall(r'"([a-z0-9-]+)"', source) if word in CHECKS}
    assert named == {pair.check for pair in PAIRS}


def test_a_series_of_no_rows_is_no_fault() -> None:
    empty = frame(np.empty(0), logged_depth_m=np.empty(0))
    assert isinstance(treat(empty, [tape()], SeriesContext()).rows.collect(), pl.DataFrame)
