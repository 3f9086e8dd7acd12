"""Real loggers: each file read by the profile proposed for it, and what was wrong in it told in plain words."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from tapedown.engine.physics.water import head_m, water_density_kg_m3
from tapedown.exchange.loggers.files import LoggerRead, read_logger_file
from tapedown.exchange.loggers.proposals import propose_profile
from tapedown.loggers.combine import combined
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck, points
from tapedown.loggers.diagnostics import barometer_account, corrected_account, raw_account
from tapedown.loggers.epoch import column_seconds
from tapedown.loggers.treat import treat
from tapedown.values.results import Finding
from tapedown.values.series.logger_files import Profile
from tapedown.values.settings import Settings
from tapedown.values.times import seconds
from tests.loggers.truth import tape, treatment
from tests.real.conftest import SHARED, data_of, rows_of

pytestmark = pytest.mark.real
METRES = Settings("m")
WITHIN_M = 0.0075
"""Dips are read to 0.01 m, the logger to 0.001 m: "within 0.007 m" in their digits."""


def files(pattern: str) -> list[Path]:
    found = sorted((SHARED / "data").glob(pattern))
    if not found:
        pytest.skip(f"the open data is not beside the repository: {pattern}")
    return found


def read(data: bytes, **changed: str) -> LoggerRead:
    """The file by the profile proposed for it, with what a person must confirm put right."""
    profile: Profile = propose_profile(data).profile
    columns = tuple(column._replace(**changed) for column in profile.columns[:1]) + profile.columns[1:]
    found = read_logger_file(data, profile._replace(columns=columns))
    account = found.account
    assert account.lines == account.above + account.rows + sum(aside.number for aside in account.aside)
    assert account.lines == len(data.decode("latin-1").replace("\r\n", "\n").rstrip("\n").split("\n"))
    return found


def barometer(name: str) -> tuple[PointSeries, tuple[Finding, ...]]:
    found = read(data_of(f"flanders-pressure/baro/{name}.csv"), holds="air pressure", unit="cm of water")
    return points(found.frame.collect(), "air_kpa"), found.account.findings


def checks_of(findings: tuple[Finding, ...]) -> set[str]:
    return {found.check for found in findings}


@pytest.fixture(scope="module")
def england() -> tuple[pl.LazyFrame, tuple[TapeCheck, ...]]:
    logged = read(data_of("england-borehole/Sample_data_logged_example_output.csv"), positive="up", unit="m")
    dips = tuple(
        TapeCheck(seconds(row["date"] + "+00:00"), -float(row["value"]), 0.005)
        for row in rows_of("england-borehole/Sample_data_dipped_example_output.csv")
    )
    return logged.frame, dips


def test_an_english_borehole_agrees_with_its_dips(england: tuple[pl.LazyFrame, tuple[TapeCheck, ...]]) -> None:
    rows, dips = england
    treated = treat(rows, [tape()], SeriesContext(METRES, dips))
    assert treated.pull is not None
    held = rows.collect()
    at_s = column_seconds(held["time"])
    assert len(treated.pull.offsets) == 3
    for offset in treated.pull.offsets:
        nearest = held["logged_depth_m"][int(np.argmin(abs(at_s - offset.check.at_s)))]
        assert abs(nearest - offset.check.depth_m) < WITHIN_M
        assert abs(offset.offset_m) < 0.0085  # between the two rows about the dip


def test_the_gap_and_the_spike_of_an_english_borehole_are_named(
    england: tuple[pl.LazyFrame, tuple[TapeCheck, ...]],
) -> None:
    rows, dips = england
    treated = treat(rows, [tape()], SeriesContext(METRES, dips))
    told = {found.check: found.message for found in corrected_account(treated, METRES)}
    assert "3.0 h after 2023-04-21 08:00 UTC" in told["series-gap"]
    assert "2023-04-21 08:55" in told["logger-check-in-gap"]
    assert "2023-01-17 15:00" in told["series-spike"]


def test_the_clock_of_an_english_borehole_stood_on_one_offset_all_year() -> None:
    data = data_of("england-borehole/Sample_data_logged_example_output.csv")
    profile = propose_profile(data).profile
    london = profile._replace(clock=profile.clock._replace(zone="Europe/London"))
    assert "logger-clock-zone" in checks_of(read_logger_file(data, london).account.findings)


@pytest.mark.parametrize(
    ("water", "baro", "told"),
    [
        ("DYLP005D_80759", "BAOL004X_77561", {"logger-handled", "series-spike"}),
        ("DYLP005E_80759", "BAOL004X_77561", {"logger-out-of-water"}),
        ("DYLP109A_80765", "BAOL009X_78681", {"logger-handled", "series-spike"}),
        ("DYLP127B_W1134", "BAOL505X_B_006D9", {"logger-lines-unsorted", "logger-units-mixed", "series-gap"}),
    ],
)
def test_an_absolute_logger_ends_in_a_plain_account_of_what_was_wrong(water: str, baro: str, told: set[str]) -> None:
    found = read(data_of(f"flanders-pressure/water/{water}.csv"), holds="absolute pressure", unit="cm of water")
    made = combined([(water, found.frame)], "pressure_kpa")
    air, _ = barometer(baro)
    context = SeriesContext(METRES, barometers={"air": air})
    treated = treat(made.rows, [treatment("barometer", series="air", gap="13 h")], context, made.look)
    account = (*found.account.findings, *made.findings, *raw_account(made.rows, made.look, METRES))
    account += corrected_account(treated, METRES)
    assert told <= checks_of(account)
    assert all(found.message and found.hint for found in account)
    water_m = treated.rows.collect()["water_m"].drop_nulls()
    assert len(water_m) > 200
    assert -0.3 < float(water_m.median() or np.nan) < 3.0  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("BAOL004X_77561", {"logger-lines-unsorted"}),
        ("BAOL009X_78681", set()),
        ("BAOL028X_B5467", {"logger-lines-unsorted"}),
        ("BAOL505X_B_006D9", {"logger-lines-unsorted"}),
        ("BAOL505X_B_B2123", {"barometer-odd"}),
    ],
)
def test_a_barometer_ends_in_a_plain_account_of_what_was_wrong(name: str, told: set[str]) -> None:
    air, findings = barometer(name)
    assert checks_of((*findings, *barometer_account(air, name))) == told


def test_four_downloads_of_one_logger_make_one_series_with_its_time_in_the_air_and_its_double_hour() -> None:
    downloads = [(path.name, read(path.read_bytes())) for path in files("flanders-level/absolute-bar/*.txt")]
    made = combined([(name, found.frame) for name, found in downloads], "pressure_kpa")
    assert made.look.rows == sum(found.account.rows for _, found in downloads)
    assert "2009-05-19" in {found.check: found.message for found in made.findings}["logger-downloads-overlap"]
    handled = [f for f in raw_account(made.rows, made.look, METRES) if f.check == "logger-handled"]
    assert any("in air" in f.message for f in handled)
    assert "series-gap" in checks_of(corrected_account(treat(made.rows, [], SeriesContext(METRES), made.look), METRES))


def test_a_vented_logger_comes_out_as_it_was_logged() -> None:
    [path] = files("flanders-level/vented*.txt")
    found = read(path.read_bytes(), unit="cm")
    rows = found.frame.collect()
    assert rows.height == 12829
    assert rows["logged_depth_m"][0] == pytest.approx(1.9476)
    treated = treat(found.frame, [], SeriesContext(METRES))
    assert treated.rows.collect()["depth_m"].equals(rows["logged_depth_m"])
    assert checks_of(corrected_account(treated, METRES)) <= {"series-rate"}


def test_pressure_heads_of_deep_wells_are_reproduced_within_a_hundredth() -> None:
    """2,805 readings at ports of deep wells: absolute pressure less barometer over the density of the water there."""
    table = list(csv.DictReader(io.StringIO(data_of("idaho-multilevel/heads.csv").decode())))
    whole = [row for row in table if row["press_va"] and row["baro_va"] and row["temp_va"] and row["press_head_va"]]
    assert len(whole) > 2700
    pressure, air, temp, stated = (
        np.array([float(row[name]) for row in whole]) for name in ("press_va", "baro_va", "temp_va", "press_head_va")
    )
    psi, foot = 6.894757293168, 0.3048
    density = theirs_kg_m3(temp)
    head_ft = head_m((pressure - air) * psi, density) / foot
    assert abs(head_ft - stated).max() < 0.00501  # they are stated to 0.01 ft
    ours_ft = head_m((pressure - air) * psi, water_density_kg_m3(temp)) / foot
    assert abs(ours_ft - stated).max() < 4e-5 * stated.max()  # two formulas for the density of water


def theirs_kg_m3(temp_c: np.ndarray) -> np.ndarray:
    """The density those heads were worked out with: the formula that comes with the data, in lb/ft3."""
    share = (temp_c + 288.9414) / (508929.2 * (temp_c + 68.12963)) * (temp_c - 3.9863) ** 2
    return 62.42796 * (1 - share) * 0.45359237 / 0.3048**3
