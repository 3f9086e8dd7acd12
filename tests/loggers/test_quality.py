"""Flags of the tests: the open manual's examples, and a public implementation of the same manual as a second opinion.

US IOOS, Manual for real-time quality control of water level data (QARTOD), read; the cases are constructed after its
text. The second opinion is the package ioos-qc.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest
from ioos_qc import qartod

from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.epoch import Array
from tapedown.loggers.survey import survey
from tapedown.loggers.treat import treat
from tapedown.values.settings import Settings
from tests.loggers.truth import START_S, frame, tape, treatment

MANUAL: dict[str, Any] = {"flat_suspect": "3", "flat_fail": "5"}


def flags(values: list[float] | Array, name: str, *, interval_s: float = 3600.0, **tests: Any) -> list[int]:
    at_s: Array = START_S + np.arange(len(values), dtype=np.float64) * interval_s
    rows = frame(at_s, logged_depth_m=np.array(values, float))
    context = SeriesContext(Settings("m"), neighbours={"other": PointSeries(at_s, np.zeros(len(values)))})
    treated = treat(rows, [treatment("quality tests", **tests)], context)
    found: list[int] = treated.rows.collect()[name].to_list()
    return found


def test_spikes_are_flagged_as_the_manual_says() -> None:
    assert flags([1.0, 1.02, 1.35, 1.04, 1.05, 1.2, 1.08], "flag_spike") == [2, 3, 4, 3, 1, 3, 2]


def test_values_that_stand_still_are_flagged_only_when_enough_of_them_are_seen() -> None:
    assert flags([1.0, 1.0, 1.0, 1.0, 1.0, 1.1], "flag_flat", **MANUAL) == [1, 1, 3, 3, 4, 1]


def test_values_outside_the_sensor_fail_and_outside_the_usual_are_of_interest() -> None:
    tests: dict[str, Any] = {"sensor_shallowest": "-0.5", "sensor_deepest": "10", "shallowest": "-0.5", "deepest": "5"}
    assert flags([-0.6, -0.5, 0, 5.0, 5.1, 10.1], "flag_range", **tests) == [4, 1, 1, 1, 3, 4]


def test_the_words_of_quality_follow_the_flags() -> None:
    """OGC WaterML 2.0 Part 1, table 5: fail is poor, of interest suspect, no value missing."""
    at_s = START_S + np.arange(4) * 3600.0
    rows = frame(at_s, logged_depth_m=np.array([1.0, 6.0, 11.0, np.nan])).with_columns(
        pl.col("logged_depth_m").fill_nan(None)
    )
    quiet: dict[str, Any] = {"spike_suspect": "100", "spike_fail": "100", "rate_deviations": "1000"}
    tests = treatment("quality tests", deepest="5", sensor_deepest="10", **quiet)
    context = SeriesContext(
        Settings("m"), (TapeCheck(float(at_s[0]), 1.0, 0.003), TapeCheck(float(at_s[2]), 11.0, 0.003))
    )
    words = treat(rows, [tape(), tests], context).rows.collect()["quality"].to_list()
    assert words == ["good", "suspect", "poor", "missing"]


def test_a_neighbour_is_compared_by_the_limits_of_the_manual() -> None:
    found = flags([0.02, 0.03 - 1e-9, 0.035, 0.05 - 1e-9, 0.055], "flag_neighbour", neighbour="other")
    assert found == [1, 1, 3, 3, 4]


def test_the_hampel_identifier_finds_the_one_that_stands_out() -> None:
    """Constructed; by the algorithm as a public description gives it: index 4 alone."""
    found = flags([10.0, 10.1, 10.0, 10.2, 15.0, 10.1, 10.3, 10.2, 10.1], "flag_hampel", hampel="yes")
    assert [place for place, flag in enumerate(found) if flag == 3] == [4]


def test_the_hampel_identifier_is_the_textbooks_over_seven_values() -> None:
    """Worked out by numpy window by window: off the median of the seven about it by more than 3 * 1.4826 MAD."""
    values = np.random.default_rng(8).standard_t(2, 300).round(3)
    about = np.lib.stride_tricks.sliding_window_view(values, 7)
    middle = np.median(about, axis=1)
    off = abs(values[3:-3] - middle) > 3 * 1.4826 * np.median(abs(about - middle[:, None]), axis=1)
    assert 10 < off.sum() < 100
    found = flags(values, "flag_hampel", hampel="yes")
    assert [flag == 3 for flag in found[3:-3]] == off.tolist()


def test_a_step_is_held_against_the_spread_of_the_time_before_it() -> None:
    rng = np.random.default_rng(1)
    values = rng.normal(0, 0.02, 100)
    values[60] = values[59] + 0.2
    found = flags(values, "flag_rate")
    assert found[60] == 3
    assert found[0] == 2
    assert set(found) <= {1, 2, 3}
    spread = np.std(values[35:60], ddof=1)
    step = abs(np.diff(values))[59]
    assert (step > 3 * spread) == (found[60] == 3)


def test_the_usual_of_a_month_speaks_only_in_that_month() -> None:
    usual = [{"month": "1", "shallowest": "0", "deepest": "1"}]
    found = flags([0.5, 1.5, 0.5, 1.5], "flag_season", interval_s=20 * 86400.0, usual=usual)
    assert found == [1, 3, 2, 2]


def test_a_gap_is_told_at_the_row_after_it_and_spoils_no_row() -> None:
    at_s = START_S + np.array([0, 3600, 7200, 36000, 39600.0])
    rows = treat(frame(at_s, logged_depth_m=np.linspace(1, 1.2, 5)), [], SeriesContext(Settings("m"))).rows.collect()
    assert rows["flag_gap"].to_list() == [2, 1, 1, 4, 1]
    assert 4 not in rows["flag"].to_list()


def test_the_flags_are_gathered_fail_first_and_no_test_rewrites_another() -> None:
    tests = {"sensor_deepest": "10", "deepest": "1.3"}
    values = [1.0, 1.02, 1.35, 1.04, 11.0, 1.2, 1.08]
    at_s = START_S + np.arange(7) * 3600.0
    rows = treat(
        frame(at_s, logged_depth_m=np.array(values)), [treatment("quality tests", **tests)], SeriesContext()
    ).rows
    found = rows.collect()
    assert found["flag_range"].to_list() == [1, 1, 3, 1, 4, 1, 1]
    assert found["flag_spike"].to_list() == flags(values, "flag_spike")
    assert found["flag"][4] == 4
    assert found["quality"].to_list()[4] == "poor"


@pytest.fixture(scope="module")
def rough() -> Array:
    """A level with noise, spikes, still stretches and holes."""
    rng = np.random.default_rng(7)
    values = np.cumsum(rng.normal(0, 0.02, 2000)).round(3)
    values[rng.integers(1, 1999, 30)] += rng.choice([-0.3, 0.15, 0.3], 30)
    values[500:520] = values[500]
    values[900:903] = values[900]
    return values


def test_spikes_agree_with_the_public_implementation(rough: Array) -> None:
    theirs = qartod.spike_test(rough, 0.1, 0.2)
    assert flags(rough, "flag_spike") == list(theirs)


def test_ranges_agree_with_the_public_implementation(rough: Array) -> None:
    theirs = qartod.gross_range_test(rough, (-0.8, 0.8), (-0.5, 0.5))
    limits: dict[str, Any] = {
        "sensor_shallowest": "-0.8",
        "sensor_deepest": "0.8",
        "shallowest": "-0.5",
        "deepest": "0.5",
    }
    assert flags(rough, "flag_range", **limits) == list(theirs)


def test_still_values_agree_with_the_public_implementation(rough: Array) -> None:
    """It counts intervals where the manual's words count values, so 3 and 5 values are 2 and 4 intervals there."""
    times = np.datetime64("2026-01-01") + np.arange(len(rough)) * np.timedelta64(3600, "s")
    theirs = np.array(qartod.flat_line_test(rough, times, 2 * 3600, 4 * 3600, tolerance=0.0010001))
    ours = np.array(flags(rough, "flag_flat", **MANUAL))
    assert (ours == 4).sum() > 10
    assert list(ours) == list(theirs)


def test_a_season_agrees_with_the_public_implementation(rough: Array) -> None:
    times = np.datetime64("2026-01-01") + np.arange(len(rough)) * np.timedelta64(3600, "s")
    config = qartod.ClimatologyConfig()
    spans = {"1": (-0.3, 0.3), "2": (-0.5, 0.2), "3": (0.0, 1.0)}
    for month, span in spans.items():
        config.add(tspan=(int(month), int(month)), vspan=span, period="month")
    theirs = qartod.climatology_test(config, rough, times, np.zeros(len(rough)))
    usual = [{"month": m, "shallowest": str(a), "deepest": str(b)} for m, (a, b) in spans.items()]
    assert flags(rough, "flag_season", usual=usual) == list(theirs)


def test_an_irregular_series_is_tested_by_time_not_by_rows() -> None:
    rng = np.random.default_rng(3)
    at_s = START_S + np.cumsum(rng.uniform(600, 7200, 500))
    rows = frame(at_s, logged_depth_m=np.cumsum(rng.normal(0, 0.02, 500)))
    assert survey(rows).regular_share < 0.5
    found = treat(rows, [], SeriesContext(Settings("m"))).rows.collect()["flag_rate"]
    assert isinstance(found, pl.Series)
    assert set(found) <= {1, 2, 3}
