"""Barometers, clocks, efficiency, tides and downloads at their bounds: by hand, by numpy, by scipy."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import constants, stats

from tapedown.loggers.barometer import (
    BarometerChoice,
    air_factor,
    barometer_points,
    choose_barometer,
    sea_level_findings,
)
from tapedown.loggers.clock import clocks_apart
from tapedown.loggers.combine import combined
from tapedown.loggers.context import PointSeries, SeriesContext, bridged, points
from tapedown.loggers.daily import daily_values
from tapedown.loggers.efficiency import clark, deconvolution, regression
from tapedown.loggers.epoch import Array, naive, said
from tapedown.loggers.excluded import main_column
from tapedown.loggers.tides import CYCLES_PER_DAY, tide_lines
from tapedown.loggers.treat import air_points, treat
from tapedown.loggers.water import gravity_m_s2
from tapedown.values.series.treatments import Barometer, WaterDensity
from tapedown.values.settings import Settings
from tapedown.values.times import seconds
from tests.loggers.truth import START_S, Floats, frame, treatment

HOUR_S, DAY_S = 3600.0, 86400.0
METRES = Settings("m")
GAS_J_KG_K = constants.R / 0.0289644
"""Of dry air: molar mass of the US Standard Atmosphere 1976, from memory."""


def series_of(at_s: Floats, value: Floats) -> PointSeries:
    return PointSeries(np.asarray(at_s, np.float64), np.asarray(value, np.float64))


def iso(at_s: float) -> str:
    return naive(at_s).isoformat() + "+00:00"


def barometer(**given: str) -> Barometer:
    found = treatment("barometer", series="b", **given)
    assert isinstance(found, Barometer)
    return found


def by_the_air_column(metres: float, temp_c: float) -> float:
    """Hydrostatic equation of an isothermal column."""
    return float(np.exp(constants.g * metres / (GAS_J_KG_K * (temp_c + 273.15))))


def test_the_weight_of_the_air_is_that_of_an_isothermal_column() -> None:
    assert air_factor(barometer()) == 1.0
    assert air_factor(barometer(above_water="80 m")) == pytest.approx(by_the_air_column(80, 15), rel=1e-5)
    cold = barometer(above_water="-80 m", air_temp="-10 degC")
    assert air_factor(cold) == pytest.approx(by_the_air_column(-80, -10), rel=1e-5)
    both = barometer(above_water="80 m", sea_level_altitude="500 m", air_temp="0 degC")
    assert air_factor(both) == pytest.approx(by_the_air_column(-420, 0), rel=1e-4)


@pytest.mark.parametrize(("gap", "settings", "missing"), [
    (None, METRES, 1), ("4 h", METRES, 0), ("239 min", METRES, 1), (None, Settings("m", {"barometer_gap": "4 h"}), 0),
])  # fmt: skip
def test_air_is_bridged_over_the_gap_of_the_treatment_else_of_the_network(
    gap: str | None, settings: Settings, missing: int
) -> None:
    """Rows of air at 0 h and 4 h; the logger's row at 1 h lies between: 100 and 104 kPa make 101."""
    air = series_of(START_S + np.array([0, 4]) * HOUR_S, np.array([100.0, 104.0]))
    rows = frame(START_S + np.array([HOUR_S]), pressure_kpa=np.array([150.0]))
    taken_off = barometer(**({"gap": gap} if gap else {}))
    found = treat(rows, [taken_off], SeriesContext(settings, barometers={"b": air})).rows.collect()["air_kpa"]
    assert found.null_count() == missing
    assert missing or found[0] == pytest.approx(101.0)


def test_a_barometer_that_is_not_there_is_a_mistake() -> None:
    with pytest.raises(ValueError, match=r"no barometer 'b' among \['a'\]"):
        barometer_points(barometer(), SeriesContext(barometers={"a": series_of(np.zeros(1), np.zeros(1))}))
    with pytest.raises(ValueError, match="no barometer to choose from"):
        choose_barometer([], np.zeros(1), 1.0)


def choice(*shares_and_places: tuple[float, float, float]) -> str:
    """Name of the best of barometers that cover so much, lie so far off, m, and so much higher, m."""
    at_s = np.arange(1000, dtype=np.float64) * HOUR_S
    candidates = []
    for k, (share, away, higher) in enumerate(shares_and_places):
        rows = round(share * 1000)
        candidates.append(BarometerChoice(str(k), away, higher, series_of(at_s[:rows], np.full(rows, 100.0))))
    found = choose_barometer(candidates, at_s, 3 * HOUR_S)
    assert [name for name, _ in found.shares] == [str(k) for k in range(len(candidates))]
    assert [share for _, share in found.shares] == pytest.approx([share for share, _, _ in shares_and_places])
    return found.name


def test_a_nearer_barometer_serves_that_covers_two_in_a_hundred_less_and_no_nearer_one_that_covers_less() -> None:
    assert choice((0.90, 5000, 0), (0.89, 1000, 0)) == "1"
    assert choice((0.90, 5000, 0), (0.879, 1000, 0)) == "0"
    assert choice((0.90, 1000, -40), (0.90, 1000, 30)) == "1"
    assert choice((0.90, 1000, 20), (0.90, 1000, -30)) == "0"


def test_the_choice_names_nearer_ones_that_cover_less_and_those_alone() -> None:
    at_s = np.arange(100, dtype=np.float64) * HOUR_S
    whole, half = series_of(at_s, np.ones(100)), series_of(at_s[:50], np.ones(50))
    places = (("far", 9500, 0, whole), ("near", 400, 0, half), ("as far", 9500, 9, half))
    found = choose_barometer([BarometerChoice(*place) for place in places], at_s, 3 * HOUR_S)
    assert found.reason == "far covers 100% of the rows from 9.5 km away; nearer ones cover less: near (50%)"
    assert choose_barometer([BarometerChoice("a", 0, 0, whole)], at_s, 9.0).reason.endswith("from 0.0 km away")


def usual_kpa(altitude_m: float) -> float:
    return 101.325 / by_the_air_column(altitude_m, 15.0)


@pytest.mark.parametrize(("altitude_m", "share", "found"), [
    (700, 0.49, 0), (700, 0.51, 1), (700, 1.0, 1), (700, 1.4, 1), (700, -0.2, 0), (165, 1.0, 0), (175, 1.0, 1),
])  # fmt: skip
def test_a_station_is_suspected_where_its_air_is_nearer_to_the_seas_than_to_its_own(
    altitude_m: float, share: float, found: int
) -> None:
    """Its mean lies so far from what is usual up there towards the sea; below 2 kPa (some 170 m) nobody can tell."""
    mean = usual_kpa(altitude_m) + share * (101.325 - usual_kpa(altitude_m))
    at = series_of(np.arange(3.0), mean + np.array([-0.5, 0.0, 0.5]))
    findings = sea_level_findings(at, altitude_m, "hill")
    assert len(findings) == found
    if findings:
        told = (
            f"hill lies {altitude_m} m up and averages {mean:.1f} kPa; {usual_kpa(altitude_m):.1f} kPa is usual there"
        )
        assert findings[0].message.startswith(told)
    assert sea_level_findings(series_of(np.empty(0), np.empty(0)), altitude_m, "hill") == []


def test_two_clocks_need_ten_steps_in_common() -> None:
    """Levels every 60 s; 4 of them are taken off for the change, 2 at each end for the shift: 18 rows leave 9 steps."""

    def series(rows: int) -> PointSeries:
        return series_of(np.arange(rows) * 60.0, np.sin(np.arange(rows) * 1.7))

    with pytest.raises(ValueError, match=r"only 9 steps of 60 s in common, 10 are needed"):
        clocks_apart(series(18), series(18), most_s=120, step_s=60)
    assert clocks_apart(series(19), series(19), most_s=120, step_s=60).add_s == pytest.approx(0, abs=3)


def test_the_correlation_at_the_best_shift_is_that_of_numpy() -> None:
    """Changes over four rows, about nought: the sum of products over the root of the sums of squares."""
    rng = np.random.default_rng(9)
    at_s = np.arange(400) * 60.0
    level = np.cumsum(rng.normal(size=400))
    noisy = level + rng.normal(0, 0.8, 400)
    found = clocks_apart(series_of(at_s, level), series_of(at_s, noisy), most_s=300, step_s=60)
    grid = np.arange(5, 400 - 1 - 5 - 4)
    a, b = level[grid + 4] - level[grid], noisy[grid + 4] - noisy[grid]
    assert found.correlation == pytest.approx(a @ b / np.sqrt((a @ a) * (b @ b)), rel=1e-12)
    still = series_of(at_s, np.zeros(400))
    assert clocks_apart(still, still, most_s=300, step_s=60).correlation == 0.0


def test_a_shift_lies_at_the_top_of_the_parabola_through_the_best_three() -> None:
    """numpy's parabola through correlations at three shifts, found with a first clock moved step by step."""
    at_s = np.arange(600) * 60.0
    level = np.sin(at_s / 900) + np.sin(at_s / 2100)
    first, second = series_of(at_s, level), series_of(at_s - 85.0, level)
    found = clocks_apart(first, second, most_s=600, step_s=60)
    grid = np.arange(600.0, 599 * 60.0 - 85 - 600 - 240, 60.0)

    def change(of_s: Array) -> Array:
        return np.asarray(np.interp(of_s + 240, at_s, level) - np.interp(of_s, at_s, level))

    def correlation(lag: int) -> float:
        a, b = change(grid), change(grid - lag * 60 + 85)
        return float(a @ b / np.sqrt((a @ a) * (b @ b)))

    a, b, _ = np.polyfit([0, 1, 2], [correlation(lag) for lag in (0, 1, 2)], 2)
    assert found.add_s == pytest.approx(-b / (2 * a) * 60, rel=1e-6)


def test_straight_lines_reach_over_a_gap_just_as_long_as_allowed_and_stop_at_its_rows() -> None:
    series = series_of(np.array([0.0, 10, 30, 61]), np.array([0.0, 1, 3, 9]))
    found = bridged(series, np.array([-1.0, 0, 5, 20, 30, 31, 60, 61, 62]), 30.0)
    assert found[[1, 2, 3, 4, 7]].tolist() == [0.0, 0.5, 2.0, 3.0, 9.0]
    assert np.isnan(found[[0, 5, 6, 8]]).all()
    assert bridged(series, np.array([40.0]), 31.0)[0] == pytest.approx(3 + 6 * 10 / 31)
    assert np.isnan(bridged(series_of(np.empty(0), np.empty(0)), np.array([1.0, 2.0]), 9.0)).tolist() == [True, True]
    assert bridged(series_of(np.array([5.0]), np.array([7.0])), np.array([5.0]), 0.0).tolist() == [7.0]


def test_clarks_sums_are_those_of_the_definition() -> None:
    """By hand: changes of air +1, -2, 0, +1 and of level -0.5, +1.2, +9, +0.1: (0.5 + 1.2 - 0.1) / 4."""
    air = np.cumsum([0.0, 1, -2, 0, 1])
    found = clark(np.cumsum([5.0, -0.5, 1.2, 9, 0.1]), air)
    assert found.efficiency == pytest.approx(1.6 / 4)
    assert (np.isnan(found.u), found.method, found.response) == (True, "Clark", ())


@pytest.mark.parametrize("way", [clark, regression])
def test_three_changes_are_enough_for_an_efficiency_and_two_are_not(way: object) -> None:
    air = np.array([0.0, 1.0, 0.5, 2.0])
    assert way(-0.4 * air, air).efficiency == pytest.approx(0.4)  # type: ignore[operator]
    with pytest.raises(ValueError, match="2 changes are too few"):
        way(-0.4 * air[:3], air[:3])  # type: ignore[operator]


@pytest.mark.parametrize("lags", [0, 2, 12])
def test_the_deconvolution_is_least_squares_on_changes_now_and_before(lags: int) -> None:
    rng = np.random.default_rng(6)
    air, level = np.cumsum(rng.normal(size=(2, 200)), axis=1)
    steps, moved = np.diff(air), np.diff(level)
    design = [[*(steps[k - lag] for lag in range(lags + 1)), 1.0] for k in range(lags, 199)]
    expected = -np.cumsum(np.linalg.lstsq(np.array(design), moved[lags:], rcond=None)[0][:-1])
    found = deconvolution(level, air, lags)
    assert found.response == pytest.approx(expected)
    assert found.efficiency == pytest.approx(expected[-1])
    assert found.method == f"regression deconvolution, {lags} lags"
    assert np.isnan(found.u)
    if lags == 12:
        assert deconvolution(level, air).response == found.response


def test_a_deconvolution_needs_more_rows_than_unknowns() -> None:
    """Three lags have five unknowns: 6 whole rows, out of 9 changes, suffice; 5 do not."""
    rng = np.random.default_rng(6)
    air, level = np.cumsum(rng.normal(size=(2, 10)), axis=1)
    assert len(deconvolution(level, air, 3).response) == 4
    with pytest.raises(ValueError, match="5 whole rows do not suffice for 3 lags"):
        deconvolution(level[:9], air[:9], 3)


def test_air_is_taken_out_about_its_mean_in_metres_of_the_networks_water() -> None:
    """By hand: 1 kPa over the mean of 101 kPa is 1000 / (999.5 * 9.80665) = 0.102 m of water at 12 degC; half of it."""
    at_s = START_S + np.arange(3) * HOUR_S
    air = series_of(at_s, np.array([100.0, 101.0, 102.0]))
    removed = treatment("barometric efficiency", efficiency="0.5", method="known", series="b")
    rows = frame(at_s, logged_water_m=np.full(3, 4.0))
    found = treat(rows, [removed], SeriesContext(METRES, barometers={"b": air})).rows.collect()["water_m"]
    metre = 1000 / (999.50 * constants.g)
    assert found.to_list() == pytest.approx([4 - metre / 2, 4.0, 4 + metre / 2], abs=2e-6)


def test_air_with_a_hole_longer_than_three_hours_is_not_taken_out_there() -> None:
    at_s = START_S + np.array([0.0, 1, 2, 3, 4, 8]) * HOUR_S
    for apart_h, blank in ((3.0, 0), (3.1, 1)):
        air = series_of(START_S + np.array([0.0, apart_h]) * HOUR_S, np.array([100.0, 102.0]))
        removed = treatment("barometric efficiency", efficiency="0.5", method="known", series="b")
        rows = frame(at_s[1:2], logged_water_m=np.full(1, 4.0))
        treated = treat(rows, [removed], SeriesContext(METRES, barometers={"b": air})).rows.collect()
        assert treated["water_m"].null_count() == blank


def test_tide_lines_and_their_uncertainty_are_those_of_least_squares() -> None:
    """The peer is numpy's inverse of the normal matrix; u of an amplitude is the mean of those of its two parts."""
    rng = np.random.default_rng(15)
    at_s = START_S + np.sort(rng.uniform(0, 40 * DAY_S, 300))
    level = 8 + 1e-8 * (at_s - START_S) + 0.02 * np.cos(at_s / 7000) + rng.normal(0, 0.01, 300)
    level[50] = np.nan
    days, whole = np.delete(at_s, 50) / DAY_S, np.delete(level, 50)
    turns = [2 * np.pi * CYCLES_PER_DAY[name] * days for name in ("K1", "M2")]
    design = np.column_stack([*(part for turn in turns for part in (np.cos(turn), np.sin(turn))), np.ones(299), days])
    design[:, -1] -= days.mean()
    inverse = np.linalg.inv(design.T @ design)
    fit = inverse @ design.T @ whole
    spread = inverse * np.sum((whole - design @ fit) ** 2) / (299 - 6)
    for k, line in enumerate(tide_lines(at_s, level, ("K1", "M2"))):
        cosine, sine = fit[2 * k : 2 * k + 2]
        assert line.name == ("K1", "M2")[k]
        assert line.amplitude_m == pytest.approx(abs(complex(cosine, sine)))
        assert line.phase_deg == pytest.approx(np.degrees(np.angle(complex(cosine, sine))) % 360)
        u2 = (spread[2 * k, 2 * k] + spread[2 * k + 1, 2 * k + 1]) / 2
        assert line.u_amplitude_m == pytest.approx(np.sqrt(u2))


@pytest.mark.parametrize(("names", "cycle_d"), [(("M2",), 1 / 1.9322736), (("S2", "M2", "O1"), 1 / (2 - 1.9322736))])
def test_tide_lines_need_one_cycle_between_the_closest_two(names: tuple[str, ...], cycle_d: float) -> None:
    at_s = np.linspace(0, cycle_d * 1.001 * DAY_S, 60)
    assert [line.name for line in tide_lines(at_s, np.sin(at_s), names)] == list(names)
    with pytest.raises(ValueError, match=f"60 values over {cycle_d * 0.999:.1f} d cannot tell {', '.join(names)}"):
        tide_lines(at_s * 0.998, np.sin(at_s), names)


def test_tide_lines_need_three_values_more_than_unknowns_of_the_lines() -> None:
    at_s = np.linspace(0, 30 * DAY_S, 7)
    assert len(tide_lines(at_s, np.sin(at_s))) == 2
    with pytest.raises(ValueError, match="6 values over"):
        tide_lines(at_s[:6] * 2, np.sin(at_s[:6]))
    with pytest.raises(ValueError, match=r"0 values over 0\.0 d"):
        tide_lines(np.empty(0), np.empty(0))


def hours(*at_h: float, value: float = 1.0) -> pl.LazyFrame:
    return frame(START_S + np.array(at_h) * HOUR_S, logged_depth_m=np.full(len(at_h), value))


def test_downloads_that_touch_at_one_moment_overlap() -> None:
    made = combined([("a", hours(0, 1, 2)), ("b", hours(2, 3))], "logged_depth_m")
    overlap, same = made.findings
    assert overlap.message == "a and b both cover 2026-01-01 02:00 UTC to 2026-01-01 02:00 UTC"
    assert same.message == "1 moments stand there more than once"
    assert same.hint == "one row of each is kept"
    assert made.rows.collect()["file"].to_list() == [0, 0, 0, 1]
    assert (made.look.rows, made.look.last_s) == (4, START_S + 3 * HOUR_S)


def test_of_three_downloads_those_that_overlap_are_named_in_the_order_of_time() -> None:
    made = combined(
        [("c", hours(9, 10, 11)), ("a", hours(0, 1, 2)), ("b", hours(1, 2, 5, value=2.0))], "logged_depth_m"
    )
    overlap, same = made.findings
    assert overlap.message == "a and b both cover 2026-01-01 01:00 UTC to 2026-01-01 02:00 UTC"
    assert same.message == "2 moments stand there more than once; 2 of them with different values, the first at line 3"
    assert made.rows.collect()["file"].to_list() == [1, 1, 1, 2, 0, 0, 0]
    assert made.rows.collect()["logged_depth_m"].to_list() == [1, 1, 1, 2, 1, 1, 1]


def test_a_moment_twice_in_one_file_is_kept_once_and_values_a_billionth_apart_are_the_same() -> None:
    rows = frame(START_S + np.array([0, 1, 1]) * HOUR_S, logged_depth_m=np.array([1.0, 2.0, 2.0 + 5e-10]))
    made = combined([("a", rows)], "logged_depth_m")
    (same,) = made.findings
    assert same.message == "1 moments stand there more than once"
    assert made.rows.collect()["line"].to_list() == [2, 3]
    assert made.look.in_order
    with pytest.raises(ValueError, match="no file to combine"):
        combined([], "logged_depth_m")


def test_the_mean_of_a_day_is_as_uncertain_as_its_rows_are() -> None:
    rows = pl.DataFrame({
        "time": [naive(START_S + h * HOUR_S) for h in range(0, 24, 6)], "depth_m": [1.0, 2.0, 4.0, 100.0],
        "u_depth_m": [0.01, 0.02, 0.03, 9.0], "flag": [1, 3, 2, 4],
    }).lazy()  # fmt: skip
    found = daily_values(rows, "UTC", 6 * HOUR_S, 0.75).collect().row(0, named=True)
    assert found["mean_depth_m"] == pytest.approx(7 / 3)
    assert (found["u_mean_m"], found["shallowest_m"], found["deepest_m"]) == (pytest.approx(0.02), 1.0, 4.0)
    assert (found["rows"], found["share"]) == (3, 0.75)
    one_a_day = daily_values(rows.head(1), "UTC", 0.0, 1.0).collect().row(0, named=True)
    assert (one_a_day["share"], one_a_day["mean_depth_m"]) == (1.0, 1.0)
    missing = rows.with_columns(pl.lit(9).alias("flag"))
    assert daily_values(missing, "UTC", HOUR_S, 0.0).collect().height == 0


def test_gravity_is_that_of_the_ellipsoid_less_what_the_height_takes_off() -> None:
    """WGS 84: 9.7803253359 m/s2 at the equator, 9.8321849379 at the pole (from memory); the free air takes off some
    3.086e-6 m/s2 a metre.
    """
    water = WaterDensity(None, None, None, None)
    places = ({"latitude": "0"}, {"latitude": "90"}, {"latitude": "45", "altitude": "1000 m"})
    equator, pole, high = (treatment("water", **place) for place in places)
    assert gravity_m_s2(equator) == pytest.approx(9.7803253359, abs=2e-6)  # type: ignore[arg-type]
    assert gravity_m_s2(pole) == pytest.approx(9.8321849379, abs=2e-6)  # type: ignore[arg-type]
    assert gravity_m_s2(high) == pytest.approx(9.80620 - 3.086e-3, abs=1e-5)  # type: ignore[arg-type]
    assert gravity_m_s2(water) == constants.g


@pytest.mark.parametrize(("given", "kg_m3"), [
    ({"density": "1025 kg/m3"}, 1025.0), ({"temp": "4 degC"}, 999.975), ({}, 999.500),
    ({"density": "1025 kg/m3", "temp": "4 degC"}, 1025.0),
])  # fmt: skip
def test_water_weighs_what_was_measured_else_what_its_temperature_says(given: dict[str, str], kg_m3: float) -> None:
    """Density of pure water at 4 and 12 degC: 999.975 and 999.500 kg/m3 (tables, from memory)."""
    rows = frame(np.array([START_S]), gauge_kpa=np.array([50.0]))
    water_m = treat(rows, [treatment("water", **given)], SeriesContext(METRES)).rows.collect()["water_m"][0]
    assert water_m == pytest.approx(50_000 / (kg_m3 * constants.g), rel=1e-6)


def test_a_row_without_a_temperature_has_the_networks_guess() -> None:
    rows = frame(START_S + np.arange(2) * HOUR_S, gauge_kpa=np.full(2, 50.0), temp_c=np.array([12.0, np.nan]))
    rows = rows.with_columns(pl.col("temp_c").fill_nan(None))
    found = treat(rows, [], SeriesContext(METRES)).rows.collect()["water_m"]
    assert found[0] == found[1]


@pytest.mark.parametrize(("taken_as", "really", "mended_m"), [
    ("m", "ft", 3.048), ("ft", "m", 10 / 0.3048), ("ft", "mm", 10 / 304.8),
])  # fmt: skip
def test_a_unit_is_mended_in_its_stretch_alone_and_both_ends_belong_to_it(
    taken_as: str, really: str, mended_m: float
) -> None:
    """What came out as 10 m."""
    at_s = START_S + np.arange(4) * HOUR_S
    mended = treatment("unit mended", start=iso(at_s[1]), end=iso(at_s[2]), taken_as=taken_as, really=really)
    found = treat(frame(at_s, logged_depth_m=np.full(4, 10.0)), [mended], SeriesContext(METRES)).rows.collect()
    assert found["logged_depth_m"].to_list() == pytest.approx([10.0, mended_m, mended_m, 10.0])


def test_a_barometers_own_series_is_mended_set_aside_and_put_in_order() -> None:
    at_s = START_S + np.array([0, 2, 1, 3]) * HOUR_S
    rows = frame(at_s, air_kpa=np.array([100.0, 102.0, 101.0, 1030.0]))
    steps = [
        treatment("unit mended", start=iso(at_s[3]), end="", taken_as="kPa", really="mbar"),
        treatment("set aside", start=iso(at_s[1]), end=iso(at_s[1]), because="handling"),
    ]
    found = air_points(rows, steps)
    assert found.at_s.tolist() == (START_S + np.array([0, 1, 3]) * HOUR_S).tolist()
    assert found.value.tolist() == pytest.approx([100.0, 101.0, 103.0])


def test_a_series_is_of_the_first_column_it_can_be_of() -> None:
    assert main_column(["time", "temp_c", "gauge_kpa", "air_kpa"]) == "gauge_kpa"
    with pytest.raises(ValueError, match="no pressure or level among"):
        main_column(["time", "temp_c"])


def test_moments_are_said_in_utc_to_the_minute() -> None:
    assert seconds("1970-01-02T01:30:15+01:30") == 86415.0
    assert said(86400.0 + 3660.0) == "1970-01-02 01:01 UTC"


def test_points_of_one_moment_are_the_first_of_the_file() -> None:
    rows = pl.DataFrame({"time": [naive(60), naive(0), naive(60)], "x": [5.0, 1.0, 9.0]})
    found = points(rows, "x")
    assert (found.at_s.tolist(), found.value.tolist()) == ([0.0, 60.0], [1.0, 5.0])


def test_the_uncertainty_of_a_regression_has_the_degrees_of_freedom_of_its_rows() -> None:
    """Three changes, two unknowns: one degree of freedom; scipy's standard error of a slope."""
    air, level = np.array([0.0, 1.0, 0.5, 2.0]), np.array([0.0, -0.5, -0.1, -1.2])
    theirs = stats.linregress(np.diff(air), np.diff(level))
    assert regression(level, air).u == pytest.approx(theirs.stderr)
    assert regression(level, air).method == "regression of first differences"
