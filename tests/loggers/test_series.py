"""Downloads laid together, barometers chosen and carried, daily values, the engine's formulas on columns."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from statistics import fmean
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from tapedown.engine.methods.logger_check import submergence_m
from tapedown.engine.physics.water import air_column_factor, normal_gravity_m_s2, water_density_kg_m3
from tapedown.loggers.barometer import BarometerChoice, air_factor, choose_barometer
from tapedown.loggers.combine import combined
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck, bridged, points
from tapedown.loggers.daily import daily_values
from tapedown.loggers.diagnostics import barometer_account, corrected_account
from tapedown.loggers.survey import survey
from tapedown.loggers.treat import treat
from tapedown.loggers.water import gravity_m_s2
from tapedown.values.series.treatments import Barometer
from tapedown.values.settings import Settings
from tests.loggers.truth import START_S, drifting, frame, tape, treatment

HOUR_S, DAY_S = 3600.0, 86400.0


def test_the_formulas_on_columns_are_the_engines() -> None:
    """Constructed (TR-02): 142.35 kPa, air 98.21 kPa, 11 degC, latitude 50, 300 m up -> 4.50136 m."""
    rows = frame(np.array([START_S]), pressure_kpa=np.array([142.35]), temp_c=np.array([11.0]))
    context = SeriesContext(barometers={"baro": PointSeries(np.array([START_S]), np.array([98.21]))})
    baro = treatment("barometer", series="baro")
    place = treatment("water", latitude="50", altitude="300 m")
    water_m = treat(rows, [baro, place], context).rows.collect()["water_m"][0]
    own = submergence_m(142.35, water_density_kg_m3(11.0), normal_gravity_m_s2(50, 300), 98.21)
    assert water_m == pytest.approx(own, abs=1e-12)
    assert water_m == pytest.approx(4.50136, abs=1e-4)


def test_density_follows_the_loggers_own_temperature_row_by_row() -> None:
    temps = np.array([0.0, 10.0, 30.0])
    rows = frame(START_S + np.arange(3) * HOUR_S, gauge_kpa=np.full(3, 100.0), temp_c=temps)
    water_m = treat(rows, [], SeriesContext()).rows.collect()["water_m"].to_numpy()
    assert water_m == pytest.approx(submergence_m(100.0, water_density_kg_m3(temps)), abs=1e-12)


@pytest.mark.parametrize(("column", "logged"), [
    ("logged_water_m", [3.0, 3.5, 2.0]), ("logged_elevation_m", [103.0, 103.5, 102.0]),
    ("logged_depth_m", [7.0, 6.5, 8.0]),
])  # fmt: skip
def test_whatever_a_logger_shows_more_water_is_less_depth(column: str, logged: list[float]) -> None:
    """Read 6.00 m by tape at the first row; the water then rises by 0.5 m and falls by 1.5 m."""
    at_s = START_S + np.arange(3) * HOUR_S
    context = SeriesContext(Settings("m"), (TapeCheck(float(at_s[0]), 6.0, 0.003),))
    rows = treat(frame(at_s, **{column: np.array(logged)}), [tape()], context).rows.collect()
    assert rows["depth_m"].to_list() == pytest.approx([6.0, 5.5, 7.0])


def test_a_place_without_an_altitude_lies_at_the_sea() -> None:
    """Normal gravity at 45 degrees: GRS 80's 9.8061992 m/s2, less the 0.0000014 by which WGS 84 is weaker at the
    equator (from memory).
    """
    assert gravity_m_s2(treatment("water", latitude="45")) == pytest.approx(9.8061978, abs=1e-7)  # type: ignore[arg-type]


def test_a_first_look_counts_what_is_out_of_order() -> None:
    """Steps of 60, 60, -120, 180, 0 and 60 s; the commonest is three of six."""
    told = survey(frame(START_S + np.array([0.0, 60, 120, 0, 180, 180, 240]), logged_depth_m=np.zeros(7)))
    assert (told.rows, told.interval_s, told.regular_share) == (7, 60.0, 0.5)
    assert (told.first_s, told.last_s) == (START_S, START_S + 240)
    assert (told.backwards, told.repeated, told.in_order) == (1, 1, False)


def test_a_drift_shared_in_time_is_the_constructed_one() -> None:
    """Constructed: offsets 0.00 and 0.02 m on days 0 and 100; on day 50 a logged depth of 12.50 m becomes 12.51 m."""
    at_s = START_S + np.array([0, 50, 100]) * DAY_S
    rows = frame(at_s, logged_depth_m=np.array([12.0, 12.5, 13.0]))
    checks = (TapeCheck(at_s[0], 12.0, 0.001), TapeCheck(at_s[2], 13.02, 0.001))
    found = treat(rows, [tape()], SeriesContext(Settings("m"), checks)).rows.collect()["depth_m"]
    assert found.to_list() == pytest.approx([12.0, 12.51, 13.02], abs=1e-9)


def test_a_deep_well_with_its_barometer_at_the_top_is_given_the_weight_of_the_air() -> None:
    """Constructed (TR-10): water 100 m down, 1201 Pa more air, 0.1225 m of water; ours at 15 degC within 1 mm."""
    deep = Barometer("baro", None, treatment("barometer", series="b", above_water="100 m").above_water, None, None)  # type: ignore[union-attr]
    extra_kpa = 101.325 * (air_factor(deep) - 1)
    assert extra_kpa * 1000 / (999.7 * 9.80665) == pytest.approx(0.12254, abs=1e-3)


def test_a_pressure_reduced_to_sea_level_is_reduced_back() -> None:
    station = 95.0
    reported = station * float(air_column_factor(550.0, 15.0))
    rows = frame(np.array([START_S]), pressure_kpa=np.array([120.0]))
    context = SeriesContext(barometers={"b": PointSeries(np.array([START_S]), np.array([reported]))})
    back = treatment("barometer", series="b", sea_level_altitude="550 m", air_temp="15 degC")
    assert treat(rows, [back], context).rows.collect()["air_kpa"][0] == pytest.approx(station, abs=1e-9)


def test_a_gap_in_the_barometer_is_not_bridged_beyond_the_rule() -> None:
    series = PointSeries(np.array([0.0, 3600, 7200, 36000]), np.array([100.0, 101, 102, 110]))
    found = bridged(series, np.array([1800.0, 7200, 20000, 36000, 40000]), 3 * HOUR_S)
    assert found[:2].tolist() == [100.5, 102.0]
    assert np.isnan(found[2])
    assert found[3] == 110.0
    assert np.isnan(found[4])


def test_the_best_barometer_is_the_nearest_of_those_that_cover_the_series() -> None:
    at_s = np.arange(0, 100 * HOUR_S, HOUR_S)
    whole, half = PointSeries(at_s, np.full(100, 101.0)), PointSeries(at_s[:50], np.full(50, 101.0))
    choice = choose_barometer(
        [
            BarometerChoice("near", 500.0, 0.0, half),
            BarometerChoice("middle", 9000.0, 10.0, whole),
            BarometerChoice("far", 40000.0, 0.0, whole),
        ],
        at_s,
        3 * HOUR_S,
    )
    assert choice.name == "middle"
    assert "9.0 km" in choice.reason
    assert "near (50%)" in choice.reason


def test_air_pressures_that_are_none_are_named() -> None:
    odd = barometer_account(PointSeries(np.arange(3.0), np.array([101.0, 78.3, 101.0])), "baro")
    assert [f.check for f in odd] == ["barometer-odd"]
    assert barometer_account(PointSeries(np.arange(2.0), np.array([101.0, 99.0])), "baro") == ()


def test_successive_loggers_make_one_series_in_order() -> None:
    first = frame(START_S + np.arange(5) * HOUR_S, logged_depth_m=np.arange(5.0))
    later = frame(START_S + np.arange(5, 9) * HOUR_S, logged_depth_m=np.arange(5, 9.0))
    made = combined([("later", later), ("first", first)], "logged_depth_m")
    rows = made.rows.collect()
    assert rows["logged_depth_m"].to_list() == list(np.arange(9.0))
    assert rows["file"].to_list() == [1] * 5 + [0] * 4
    assert made.findings == ()
    assert made.look == survey(made.rows)


def test_overlapping_downloads_give_each_moment_once_and_say_whether_they_agree() -> None:
    first = frame(START_S + np.arange(6) * HOUR_S, logged_depth_m=np.arange(6.0))
    same = frame(START_S + np.arange(4, 9) * HOUR_S, logged_depth_m=np.arange(4, 9.0))
    made = combined([("a", first), ("b", same)], "logged_depth_m")
    assert made.rows.collect()["logged_depth_m"].to_list() == list(np.arange(9.0))
    assert [f.check for f in made.findings] == ["logger-downloads-overlap", "logger-same-moment"]
    assert "different" not in made.findings[1].message
    other = frame(START_S + np.arange(4, 9) * HOUR_S, logged_depth_m=np.arange(4, 9.0) + 0.5)
    unlike = combined([("a", first), ("b", other)], "logged_depth_m")
    assert unlike.rows.collect()["logged_depth_m"].to_list()[:7] == [0, 1, 2, 3, 4, 5, 6.5]
    assert "2 of them with different values" in unlike.findings[1].message


def test_rows_out_of_order_are_put_in_order() -> None:
    at_s = START_S + np.array([2, 0, 1]) * HOUR_S
    made = combined([("a", frame(at_s, logged_depth_m=np.array([2.0, 0.0, 1.0])))], "logged_depth_m")
    assert made.rows.collect()["logged_depth_m"].to_list() == [0, 1, 2]
    assert made.rows.collect()["line"].to_list() == [3, 4, 2]


def days(zone: str, hours: int = 72, share_min: float = 0.8) -> pl.DataFrame:
    rows = frame(START_S + np.arange(hours) * HOUR_S, logged_depth_m=np.arange(hours, dtype=float))
    quiet = treatment("quality tests", spike_suspect="100", spike_fail="100", rate_deviations="1000")
    return daily_values(treat(rows, [quiet], SeriesContext()).rows, zone, HOUR_S, share_min).collect()


def test_daily_values_are_those_of_the_day_people_lived_through() -> None:
    utc, east = days("UTC"), days("+02:00")
    assert utc["mean_depth_m"].to_list() == [11.5, 35.5, 59.5]
    assert utc["shallowest_m"].to_list() == [0, 24, 48]
    assert utc["deepest_m"].to_list() == [23, 47, 71]
    assert east["day"].to_list() == [date(2026, 1, 1), date(2026, 1, 2), date(2026, 1, 3), date(2026, 1, 4)]
    assert east["mean_depth_m"].to_list()[1:3] == [33.5, 57.5]
    assert days("Europe/Amsterdam")["mean_depth_m"][1] == 34.5


@pytest.mark.parametrize(
    ("zone", "clock"),
    [
        ("-05:00", timezone(timedelta(hours=-5))),
        ("-03:30", timezone(timedelta(hours=-3, minutes=-30))),
        ("+05:45", timezone(timedelta(hours=5, minutes=45))),
        ("+10:30", timezone(timedelta(hours=10, minutes=30))),
        ("America/New_York", ZoneInfo("America/New_York")),
    ],
)
def test_days_are_cut_west_and_east_of_greenwich_as_the_clock_there_cuts_them(zone: str, clock: tzinfo) -> None:
    """The peer is the standard library's clock, row by row: 2026-01-01 00:00 UTC is 2025-12-31 19:00 at -05:00."""
    lived: dict[date, list[int]] = {}
    for hour in range(72):
        moment = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=hour)
        lived.setdefault(moment.astimezone(clock).date(), []).append(hour)
    found = days(zone, share_min=0.0)
    assert dict(zip(found["day"], found["mean_depth_m"])) == {day: fmean(hours) for day, hours in lived.items()}
    assert found["rows"].to_list() == [len(hours) for hours in lived.values()]


def test_a_day_has_no_more_than_all_of_its_rows() -> None:
    """The share of the rows it should have: 22, 24, 24 and 2 of 24; 48 and 24 of 24 where it was logged faster."""
    assert days("+02:00")["share"].to_list() == pytest.approx([22 / 24, 1, 1, 2 / 24])
    at_s = START_S + np.concatenate([np.arange(48) * HOUR_S / 2, DAY_S + np.arange(24) * HOUR_S])
    quick = treat(frame(at_s, logged_depth_m=np.ones(72)), [], SeriesContext()).rows
    assert daily_values(quick, "UTC", HOUR_S, 0.8).collect().select("rows", "share").rows() == [(48, 1.0), (24, 1.0)]


def test_a_day_with_too_few_rows_has_no_value_but_its_count() -> None:
    east = days("+02:00")
    assert east["rows"].to_list() == [22, 24, 24, 2]
    assert east["mean_depth_m"][3] is None
    assert days("+02:00", share_min=0.05)["mean_depth_m"][3] == 70.5


def test_the_account_names_gaps_spikes_and_dry_sensors_with_their_times() -> None:
    truth = drifting(3, days=40, interval_s=HOUR_S)
    pressure = truth.raw.collect()["pressure_kpa"].to_numpy().copy()
    pressure[200] += 20.0
    pressure[700:720] = truth.context.barometers["baro"].value[700:720] - 3.0
    raw = truth.raw.with_columns(pl.Series("pressure_kpa", pressure)).filter(~pl.col("line").is_between(402, 430))
    found = corrected_account(treat(raw, [treatment("barometer", series="baro"), tape()], truth.context), Settings("m"))
    told = {f.check: f.message for f in found}
    assert {"series-gap", "series-spike", "logger-out-of-water"} <= set(told)
    assert "one gap: 30.0 h" in told["series-gap"]
    assert "20 rows" in told["logger-out-of-water"]


@pytest.mark.parametrize(("apart_h", "told"), [(2.0, False), (2.5, True)])
def test_a_gap_is_longer_than_two_usual_steps(apart_h: float, told: bool) -> None:
    at_s = START_S + np.concatenate([np.arange(50), 49 + apart_h + np.arange(50)]) * HOUR_S
    found = corrected_account(treat(frame(at_s, logged_depth_m=np.ones(100)), [], SeriesContext()), Settings("m"))
    assert ("series-gap" in {f.check for f in found}) == told


def test_of_many_rows_that_speak_those_that_fail_are_named_first() -> None:
    values = np.zeros(200)
    values[np.arange(10, 190, 20)] = 2.0
    values[150] = 9.0
    ranges = treatment("quality tests", deepest="1", sensor_deepest="5")
    found = corrected_account(
        treat(frame(START_S + np.arange(200) * HOUR_S, logged_depth_m=values), [ranges], SeriesContext()), Settings("m")
    )
    (told,) = (f.message for f in found if f.check == "series-out-of-range")
    assert told.index("line 152)") < told.index("line 12)")
    assert "9 rows, 1 of them failing" in told


def test_points_drop_blanks_and_keep_the_first_of_equal_times() -> None:
    rows = pl.DataFrame({"time": [2, 1, 1, 3], "x": [20.0, 10.0, 11.0, None]}).with_columns(
        pl.col("time").cast(pl.Datetime("us"))
    )
    assert points(rows, "x").value.tolist() == [10.0, 20.0]
