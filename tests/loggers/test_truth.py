"""Series whose truth is known: what the treatment gives back lies where its uncertainty says it does."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from tapedown.engine.uncertainty.student import coverage_factor
from tapedown.loggers.clock import clocks_apart
from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.diagnostics import raw_account
from tapedown.loggers.epoch import naive
from tapedown.loggers.survey import survey
from tapedown.loggers.treat import Treated, treat
from tapedown.values.series.treatments import Treatment
from tapedown.values.settings import Settings
from tapedown.values.times import seconds
from tests.loggers.truth import BARO, START_S, Truth, drifting, frame, tape, treatment

SERIES = 60


def iso(at_s: float) -> str:
    return naive(at_s).isoformat() + "+00:00"


def depths(treated: Treated) -> pl.DataFrame:
    return treated.rows.select("depth_m", "u_depth_m").collect()


def scores(truth: Truth, treated: Treated) -> np.ndarray:
    """How many standard uncertainties each depth lies off the truth."""
    found = depths(treated)
    return np.asarray((found["depth_m"].to_numpy() - truth.depth_m) / found["u_depth_m"].to_numpy(), np.float64)


@pytest.mark.slow
@pytest.mark.parametrize("checks", [2, 3, 5, 9])
def test_depths_lie_within_their_uncertainty_as_often_as_it_says(checks: int) -> None:
    inside = []
    for seed in range(SERIES):
        truth = drifting(seed, checks=checks)
        treated = treat(truth.raw, [BARO, tape(walk="0.03", u_point="0.003")], truth.context)
        inside.append(np.mean(abs(scores(truth, treated)) < coverage_factor(1e9, 0.95)))
    assert 0.93 <= np.mean(inside) <= 0.97


def learnt(wander_m: float, checks: int) -> tuple[float, float]:
    """Share of depths within 1.96 of their uncertainty where the wander is learnt, and the mean of its size; 0.03 m is
    stated beforehand."""
    stated = Settings("m", {"drift_walk": "0.03 m"})
    inside, walks = [], []
    for seed in range(2 * SERIES):
        truth = drifting(seed, checks=checks, walk_m=wander_m, interval_s=43200.0)
        treated = treat(
            truth.raw, [BARO, tape(u_point="0.003", drift_share_max="100")], truth.context._replace(settings=stated)
        )
        assert treated.pull is not None
        walks.append(treated.pull.walk.size_m)
        inside.append(np.mean(abs(scores(truth, treated)) < coverage_factor(1e9, 0.95)))
    return float(np.mean(inside)), float(np.mean(walks))


@pytest.mark.slow
def test_the_size_of_the_wandering_is_learnt_from_the_checks() -> None:
    for wander_m in (0.03, 0.09):
        assert learnt(wander_m, 10)[1] == pytest.approx(wander_m, rel=0.2)


@pytest.mark.slow
@pytest.mark.parametrize("checks", [3, 10, 30])
def test_where_the_wander_is_learnt_the_interval_holds_as_often_as_it_says(checks: int) -> None:
    """Over a third, once and three times what is stated beforehand, taken together; and each by itself from ten on."""
    held = [learnt(wander_m, checks)[0] for wander_m in (0.01, 0.03, 0.09)]
    assert 0.93 <= np.mean(held) <= 0.97
    if checks >= 10:
        assert min(held) >= 0.92
        assert max(held) <= 0.985


def test_a_drift_shared_in_time_is_taken_out_where_without_it_the_end_would_be_far_off() -> None:
    truth = drifting(1, trend_m=0.5, walk_m=0.001)
    assert (
        np.abs(depths(treat(truth.raw, [BARO, tape()], truth.context))["depth_m"].to_numpy() - truth.depth_m).max()
        < 0.03
    )
    one = depths(treat(truth.raw, [BARO, tape("one offset")], truth.context))
    off = one["depth_m"].to_numpy() - truth.depth_m
    assert np.abs(off).max() > 0.2
    assert np.mean(np.abs(off) < 2 * one["u_depth_m"].to_numpy()) > 0.9


@pytest.mark.slow
def test_a_logger_that_was_handled_is_put_right_by_a_step_at_the_time_of_handling() -> None:
    inside = []
    for seed in range(SERIES):
        truth = drifting(seed, trend_m=0.0, checks=5, steps=[(0.4, 0.30)])
        handled = [iso(at_s) for at_s in truth.handled_s]
        steps = tape("by steps", handled=handled, walk="0.03", u_point="0.003")
        treated = treat(truth.raw, [BARO, steps], truth.context)
        inside.append(np.mean(abs(scores(truth, treated)) < 1.96))
        in_time = tape(walk="0.03", u_point="0.003", drift_share_max="0.99")
        shared = treat(truth.raw, [BARO, in_time], truth.context)
        assert np.nanmax(np.abs(scores(truth, shared))) > np.abs(scores(truth, treated)).max()
    assert 0.93 <= np.mean(inside) <= 0.97


def test_uncertainty_grows_away_from_the_checks_and_without_end_beyond_them() -> None:
    truth = drifting(3, checks=3)
    inner = truth.context._replace(checks=truth.context.checks[:2])
    u = depths(treat(truth.raw, [BARO, tape(walk="0.03")], inner))["u_depth_m"].to_numpy()
    half = len(u) // 2
    assert u[half // 2] > u[0]
    assert u[half // 2] > u[half]
    assert (np.diff(u[half + 1 :]) >= 0).all()
    assert u[-1] > u[half // 2]


def test_depths_beyond_the_checks_are_unchecked_and_between_them_good() -> None:
    truth = drifting(3, checks=3)
    inner = truth.context._replace(checks=truth.context.checks[:2])
    quiet = treatment("quality tests", rate_deviations="1000")
    words = treat(truth.raw, [BARO, tape(), quiet], inner).rows.select("quality").collect()["quality"]
    assert set(words[2 : len(words) // 2]) == {"good"}
    assert set(words[len(words) // 2 + 2 :]) == {"unchecked"}


@pytest.mark.parametrize("fast_min", [-17.0, 12.0])
def test_a_clock_that_ran_off_is_put_right_to_a_second(fast_min: float) -> None:
    truth = drifting(2, days=100)
    span = truth.at_s[-1] - truth.at_s[0]
    shown = truth.at_s + fast_min * 60 * (truth.at_s - truth.at_s[0]) / span
    raw = frame(shown, pressure_kpa=truth.raw.collect()["pressure_kpa"].to_numpy())
    drift = treatment("clock drift", set_at=iso(shown[0]), read_at=iso(shown[-1]), fast_by=f"{fast_min} min")
    put_right = treat(raw, [drift, BARO], truth.context).rows.select("time").collect()["time"]
    assert np.max(np.abs(put_right.dt.timestamp("us").to_numpy() / 1e6 - truth.at_s)) < 1.0


def test_a_clock_error_shared_out_is_the_constructed_one() -> None:
    """Constructed: ahead by 300 s after 90 days, so by 100 s at a showing of 30 days."""
    raw = frame(np.array([START_S + 30 * 86400.0]), logged_depth_m=np.array([1.0]))
    drift = treatment("clock drift", set_at=iso(START_S), read_at=iso(START_S + 90 * 86400), fast_by="300 s")
    time = treat(raw, [drift], SeriesContext()).rows.collect()["time"][0]
    assert (time - naive(START_S)).total_seconds() == pytest.approx(30 * 86400 - 100, abs=1e-3)


def test_rows_from_before_the_clock_was_set_keep_their_time() -> None:
    """Constructed: set on day 10, ahead by 300 s on day 100; a line through both would move day 0 by 33 s."""
    at_s = START_S + np.array([0.0, 10.0, 100.0]) * 86400
    drift = treatment("clock drift", set_at=iso(at_s[1]), read_at=iso(at_s[2]), fast_by="300 s")
    rows = treat(frame(at_s, logged_depth_m=np.ones(3)), [drift], SeriesContext()).rows.collect()
    assert rows["time"].to_list() == [naive(at_s[0]), naive(at_s[1]), naive(at_s[2] - 300)]


def test_two_loggers_minutes_apart_are_laid_over_one_another() -> None:
    rng = np.random.default_rng(4)
    at_s = START_S + np.arange(0, 30 * 86400, 300.0)
    level = np.cumsum(rng.normal(0, 0.01, len(at_s)))
    second = np.interp(at_s + 420, at_s, level) + rng.normal(0, 0.0005, len(at_s))
    apart = clocks_apart(PointSeries(at_s, level), PointSeries(at_s, second), most_s=3600, step_s=60)
    assert apart.add_s == pytest.approx(420, abs=60)
    assert apart.correlation > 0.9


def test_an_hour_of_summer_time_is_added_only_to_its_stretch() -> None:
    at_s = START_S + np.arange(4) * 3600.0
    shift = treatment("clock shift", add="-60 min", start=iso(at_s[2]), end="")
    rows = treat(frame(at_s, logged_depth_m=np.ones(4)), [shift], SeriesContext()).rows.collect()
    assert rows["time"].to_list() == [naive(at_s[0]), naive(at_s[1]), naive(at_s[2])]


@pytest.mark.parametrize("ahead_s", [-3600, -432, 0, 77, 3600])
def test_two_clocks_are_laid_over_one_another_whichever_is_ahead(ahead_s: float) -> None:
    """Constructed: a smooth level, so that the parabola finds the shift to a few seconds of a step of 60 s."""
    at_s = START_S + np.arange(0, 10 * 86400, 300.0)
    level = np.sum([np.sin((at_s - START_S) / period_s) for period_s in (3000.0, 7000.0, 17000.0)], axis=0)
    first, second = PointSeries(at_s, level), PointSeries(at_s + ahead_s, level)
    apart = clocks_apart(first, second, most_s=3660, step_s=60)
    assert apart.add_s == pytest.approx(-ahead_s, abs=3)
    assert apart.correlation == pytest.approx(1, abs=1e-3)


def test_an_hour_is_added_up_to_the_end_of_its_stretch() -> None:
    at_s = START_S + np.arange(0, 20, 5) * 3600.0
    shift = treatment("clock shift", add="60 min", start=iso(at_s[1]), end=iso(at_s[2]))
    rows = treat(frame(at_s, logged_depth_m=np.ones(4)), [shift], SeriesContext()).rows.collect()
    assert rows["time"].to_list() == [naive(at_s[k] + 3600 * (k in (1, 2))) for k in range(4)]


def spiked(truth: Truth, places: list[int], size_m: float) -> pl.LazyFrame:
    pressure = truth.raw.collect()["pressure_kpa"].to_numpy().copy()
    pressure[places] += size_m * 9.8
    return truth.raw.with_columns(pl.Series("pressure_kpa", pressure))


def test_spikes_that_were_put_in_are_found_and_nothing_else_fails() -> None:
    truth = drifting(5, days=60)
    places = [100, 333, 600]
    rows = treat(spiked(truth, places, 1.0), [BARO, tape()], truth.context).rows.collect()
    failed = [k for k, flag in enumerate(rows["flag_spike"]) if flag == 4]
    assert set(places) <= set(failed)
    assert set(failed) <= {k + d for k in places for d in (-1, 0, 1)}  # QARTOD: the neighbours of a spike speak too


def test_time_in_the_air_is_found_at_its_two_ends_and_set_aside() -> None:
    truth = drifting(6, days=60)
    pressure = truth.raw.collect()["pressure_kpa"].to_numpy().copy()
    air = truth.context.barometers["baro"].value
    pressure[300:304] = air[300:304]
    raw = truth.raw.with_columns(pl.Series("pressure_kpa", pressure))
    found = raw_account(raw, survey(raw), truth.context.settings)
    assert [f.check for f in found] == ["logger-handled"]
    assert "in air" in found[0].message
    lifted = treatment("set aside", start=iso(truth.at_s[300]), end=iso(truth.at_s[303]), because="in air")
    rows = treat(raw, [BARO, tape(), lifted], truth.context).rows.collect()
    assert rows["depth_m"].null_count() == 4
    assert set(rows["quality"][300:304]) == {"missing"}
    assert rows["pressure_kpa"].null_count() == 0  # the row stays, with what was logged


@pytest.mark.parametrize(("written", "factor"), [("bar", 0.01), ("psi", 1 / 6.894757293168), ("cm of water", 10.19716)])
def test_a_stretch_in_another_unit_is_questioned_and_mended(written: str, factor: float) -> None:
    truth = drifting(7, days=60)
    pressure = truth.raw.collect()["pressure_kpa"].to_numpy().copy()
    pressure[400:] *= factor
    raw = truth.raw.with_columns(pl.Series("pressure_kpa", pressure))
    found = raw_account(raw, survey(raw), truth.context.settings)
    assert "logger-units-mixed" in {f.check for f in found}
    mended = treatment("unit mended", start=iso(truth.at_s[400]), end="", taken_as="kPa", really=written)
    depth = treat(raw, [mended, BARO, tape()], truth.context).rows.collect()["depth_m"].to_numpy()
    assert np.max(np.abs(depth - truth.depth_m)) < 0.1


def test_a_segment_that_drifts_by_half_of_what_the_level_does_is_refused() -> None:
    """The refused record: a drift of 1.8 ft in a range of 3.4 ft (Colorado CWCB doc 123788 p. 12, read)."""
    at_s = START_S + np.arange(0, 90 * 86400, 3600.0)
    share = (at_s - START_S) / (90 * 86400)
    logged = 10.0 + 3.4 * 0.3048 / 2 * np.sin(8 * share)
    depth = logged + 1.8 * 0.3048 * share
    raw = frame(at_s, logged_depth_m=logged)
    checks = tuple(TapeCheck(float(at_s[k]), float(depth[k]), 0.003) for k in (0, -1))
    treated = treat(raw, [tape()], SeriesContext(Settings("ft"), checks))
    assert [f.check for f in treated.findings] == ["logger-drift-refused"]
    assert treated.rows.collect()["depth_m"][1:-1].null_count() == len(at_s) - 2
    kept = treat(raw, [tape(drift_share_max="0.9")], SeriesContext(Settings("ft"), checks))
    assert kept.findings == ()
    assert np.max(np.abs(kept.rows.collect()["depth_m"].to_numpy() - depth)) < 0.01


def test_a_series_without_a_tape_has_no_depth_and_says_so() -> None:
    truth = drifting(8, days=30)
    bare = truth.context._replace(checks=())
    treated = treat(truth.raw, [BARO, tape()], bare)
    assert [f.check for f in treated.findings] == ["logger-no-check"]
    assert treated.rows.collect()["depth_m"].null_count() == len(truth.at_s)


def test_an_absolute_logger_without_a_barometer_is_stopped() -> None:
    truth = drifting(8, days=30)
    treated = treat(truth.raw, [tape()], truth.context)
    assert treated.findings[0].check == "absolute-without-barometer"
    assert treated.findings[0].weight == "stop"


def test_the_order_in_which_treatments_were_written_down_changes_nothing() -> None:
    truth = drifting(9, days=60, efficiency=0.5)
    steps: list[Treatment] = [
        BARO,
        tape(),
        treatment("set aside", start=iso(truth.at_s[10]), end=iso(truth.at_s[20]), because="handling"),
        treatment("barometric efficiency", efficiency="0.5", method="known", series="baro"),
        treatment("quality tests", hampel="yes"),
    ]
    one, other = (treat(truth.raw, order, truth.context).rows.collect() for order in (steps, steps[::-1]))
    assert one.equals(other)


def test_a_treatment_struck_leaves_the_series_as_if_it_had_never_been() -> None:
    truth = drifting(9, days=60)
    aside = treatment("set aside", start=iso(truth.at_s[10]), end=iso(truth.at_s[20]), because="handling")
    before = treat(truth.raw, [BARO, tape()], truth.context).rows.collect()
    assert not treat(truth.raw, [BARO, tape(), aside], truth.context).rows.collect().equals(before)
    assert treat(truth.raw, [BARO, tape()], truth.context).rows.collect().equals(before)


def test_seconds_need_an_offset() -> None:
    with pytest.raises(ValueError, match="does not say its offset"):
        seconds("2026-05-14T10:20")


def test_efficiency_taken_out_leaves_a_level_without_the_air_in_it() -> None:
    truth = drifting(11, days=120, efficiency=0.6, walk_m=0.001, trend_m=0.0)
    air = truth.context.barometers["baro"].value
    removed = treatment("barometric efficiency", efficiency="0.6", method="known", series="baro")
    with_it = treat(truth.raw, [BARO, tape("one offset")], truth.context).rows.collect()["depth_m"].to_numpy()
    without = treat(truth.raw, [BARO, removed, tape("one offset")], truth.context).rows.collect()["depth_m"].to_numpy()
    slope = [np.polyfit(np.diff(air), np.diff(depth), 1)[0] * 9.80665 for depth in (with_it, without)]
    assert slope[0] == pytest.approx(0.6, abs=0.05)
    assert slope[1] == pytest.approx(0.0, abs=0.05)


def test_a_long_series_written_in_pieces_is_the_series_written_at_once() -> None:
    truth = drifting(12, days=300, interval_s=3600.0, checks=4)
    treated = treat(
        spiked(truth, [1999, 2000, 4001], 1.0), [BARO, tape(), treatment("quality tests", hampel="yes")], truth.context
    )
    whole, pieces = treated.rows.collect(), [piece.collect() for piece in treated.pieces(2000)]
    assert [piece.height for piece in pieces] == [2000, 2000, 2000, 1200]
    joined = pl.concat(pieces)
    assert joined.drop("depth_m", "water_m").equals(whole.drop("depth_m", "water_m"))
    assert np.allclose(joined["depth_m"], whole["depth_m"], atol=1e-12)
