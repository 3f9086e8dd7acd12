"""The tests of a series at their very limits, and windows against numpy; constructed."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest

from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.epoch import Array, naive
from tapedown.loggers.quality import quality_word, reach
from tapedown.loggers.survey import Survey, survey
from tapedown.loggers.treat import treat
from tapedown.values.results import QUALITIES
from tapedown.values.series.treatments import QualityTests
from tapedown.values.settings import Settings
from tests.loggers.truth import START_S, frame, tape, treatment

HOUR_S = 3600.0
METRES = Settings("m")
PLAIN = SeriesContext(METRES)
QUIET: dict[str, Any] = {"spike_suspect": "100", "spike_fail": "100", "rate_deviations": "1000"}


def flagged(values: Any, *, at_h: Any = None, context: SeriesContext = PLAIN, **tests: Any) -> pl.DataFrame:
    """The rows of a level logged every hour, or at these hours, after its tests."""
    hours = np.arange(len(values)) if at_h is None else np.asarray(at_h, float)
    rows = frame(START_S + hours * HOUR_S, logged_depth_m=np.asarray(values, float))
    rows = rows.with_columns(pl.col("logged_depth_m").fill_nan(None))
    return treat(rows, [treatment("quality tests", **tests)], context).rows.collect()


def quality_tests(**given: Any) -> QualityTests:
    found = treatment("quality tests", **given)
    assert isinstance(found, QualityTests)
    return found


@pytest.mark.parametrize(("apart_h", "flag"), [(2.0, 1), (2.0 + 1 / 3600, 4)])
def test_a_gap_begins_beyond_the_longest_time_between_rows(apart_h: float, flag: int) -> None:
    assert flagged([1, 1], at_h=[0, apart_h], gap="2 h")["flag_gap"].to_list() == [2, flag]


def test_without_a_limit_of_its_own_a_series_has_the_networks() -> None:
    for settings, flag in ((METRES, 4), (Settings("m", {"series_gap": "3 h"}), 1)):
        assert flagged([1, 1], at_h=[0, 3], context=SeriesContext(settings))["flag_gap"].to_list() == [2, flag]


def test_where_only_one_limit_of_the_range_is_said_the_other_speaks_of_nothing() -> None:
    assert flagged([0, 5, 9], sensor_deepest="8")["flag_range"].to_list() == [1, 1, 4]
    assert flagged([0, 5, 9], sensor_shallowest="1")["flag_range"].to_list() == [4, 1, 1]
    assert flagged([0, 5, 9], shallowest="1")["flag_range"].to_list() == [3, 1, 1]
    assert flagged([0, 5, 9])["flag_range"].to_list() == [2, 2, 2]


def test_a_row_without_a_value_is_missing_in_every_test() -> None:
    other = {"neighbours": {"other": PointSeries(START_S + np.arange(9, dtype=np.float64) * HOUR_S, np.ones(9))}}
    found = flagged(
        [1, 1, 1, 1, np.nan, 1, 1, 1, 1],
        context=SeriesContext(METRES, **other),  # type: ignore[arg-type]
        hampel="yes", neighbour="other", deepest="5", usual=[{"month": "1", "shallowest": "0", "deepest": "2"}],
    )  # fmt: skip
    for name in ("range", "season", "spike", "rate", "flat", "neighbour", "hampel"):
        assert found[f"flag_{name}"][4] == 9, name
        assert found[f"flag_{name}"][0] != 9, name
    assert found["flag"].to_list() == [1, 1, 1, 1, 9, 1, 1, 1, 1]
    assert found["quality"][4] == "missing"


def test_spikes_are_told_beyond_their_limits_and_not_at_them() -> None:
    """A point a binary eighth or quarter off the mean of its neighbours, so that no rounding decides."""
    limits: dict[str, Any] = {"spike_suspect": "0.125", "spike_fail": "0.25"}
    for off, flag in ((0.125, 1), (0.126, 3), (0.25, 3), (0.251, 4), (-0.126, 3), (-0.251, 4)):
        assert flagged([1, 1 + off, 1], **limits)["flag_spike"][1] == flag


def window_before(values: Array, at_h: Array, place: int, window_h: float) -> Array:
    """The values in the window that ends with the row before this one."""
    before = at_h[place - 1]
    return np.asarray(values[(at_h > before - window_h) & (at_h <= before)])


@pytest.mark.parametrize("window_h", [5, 12])
@pytest.mark.parametrize("regular", [True, False])
def test_a_step_is_held_against_the_standard_deviation_of_the_window_before_it(regular: bool, window_h: int) -> None:
    """By numpy, row by row; a step of the last digit passes, another is not
    evaluated while the window holds too few rows (half of it, three at least).
    """
    rng = np.random.default_rng(18)
    at_h = np.arange(300.0) if regular else np.cumsum(rng.uniform(0.2, 1.8, 300))
    values = (10 + np.cumsum(rng.standard_t(3, 300)) * 0.02).round(4)
    found = flagged(values, at_h=at_h, rate_window=f"{window_h} h", rate_deviations="1.5")["flag_rate"]
    fewest = max(window_h // 2, 3) if regular else 3
    expected = []
    for place in range(300):
        seen = window_before(values, at_h, place, window_h) if place else np.empty(0)
        step = abs(values[place] - values[place - 1])
        if place and step <= 0.001:
            expected.append(1)
        elif len(seen) < fewest:
            expected.append(2)
        else:
            expected.append(3 if step > 1.5 * np.std(seen, ddof=1) else 1)
    assert found.to_list() == expected
    assert expected.count(3) > 20
    assert expected.count(2) >= 3


def test_a_step_of_the_last_digit_after_still_water_is_no_step() -> None:
    values = [10.0] * 30 + [10.001] * 30 + [10.003] * 30
    found = flagged(values, flat_within="0.001")["flag_rate"].to_list()
    assert [place for place, flag in enumerate(found) if flag == 3] == [60]


@pytest.mark.parametrize(("suspect", "fail", "flags"), [
    ("2", "4", [1, 3, 3, 4, 4, 1]), ("4", "2", [1, 4, 4, 4, 4, 1]), ("9", "12", [1] * 6),
    ("3", "9", [1, 1, 3, 3, 3, 1]),
])  # fmt: skip
def test_still_values_are_counted_with_the_present_one(suspect: str, fail: str, flags: list[int]) -> None:
    found = flagged([1.0, 1.001, 1.0, 1.001, 1.0, 1.002], flat_suspect=suspect, flat_fail=fail, flat_within="0.001")
    assert found["flag_flat"].to_list() == flags


@pytest.mark.parametrize(("interval_h", "bridged_h"), [(0.25, 1.0), (2.0, 6.0)])
def test_a_neighbour_is_laid_between_its_rows_up_to_three_steps_and_an_hour_at_least(
    interval_h: float, bridged_h: float
) -> None:
    at_h = np.arange(9) * interval_h
    for apart_h, flag in ((bridged_h, 4), (bridged_h * 1.01, 2)):
        other = PointSeries(np.array([START_S - 0.1 * HOUR_S, START_S + (apart_h - 0.1) * HOUR_S]), np.zeros(2))
        context = SeriesContext(METRES, neighbours={"other": other})
        found = flagged(np.ones(9), at_h=at_h, context=context, neighbour="other")["flag_neighbour"]
        assert found[0] == flag


def test_a_neighbour_that_is_not_there_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="no neighbour 'other'"):
        flagged([1, 1], neighbour="other")


def test_the_hampel_identifier_at_the_ends_sees_the_values_that_are_there() -> None:
    """By numpy over windows cut off at the ends; the change of a last digit in still water is no outlier."""
    values = np.array([9.0, 1.0, 1.01, 1.02, 1.0, 1.03, 1.01, 1.0, 1.02, 7.0])
    found = flagged(values, hampel="yes", flat_within="0.001")["flag_hampel"].to_list()
    for place in range(10):
        about = values[max(0, place - 3) : place + 4]
        middle = np.median(about)
        off = abs(values[place] - middle) > 3 * 1.4826 * np.median(abs(about - middle))
        assert found[place] == (3 if off else 1)
    assert [found[0], found[-1]] == [3, 3]
    still = [1.0] * 5 + [1.001] + [1.0] * 5
    assert 3 not in flagged(still, hampel="yes", flat_within="0.002")["flag_hampel"].to_list()
    assert flagged(still, hampel="yes", flat_within="0.0005")["flag_hampel"][5] == 3
    just = [1.0] * 5 + [1.5] + [1.0] * 5  # a binary half off, so that no rounding decides
    assert 3 not in flagged(just, hampel="yes", flat_within="0.5")["flag_hampel"].to_list()


def look(interval_s: float, share: float = 1.0) -> Survey:
    return Survey(1000, 0.0, 1e6, interval_s, share, 0, 0)


def test_flags_reach_as_far_as_the_longest_window_in_rows() -> None:
    """The window of 25 h is 25 rows of an hour, 100 of a quarter; one more for the step; the still values 480."""
    context = SeriesContext(METRES)
    assert reach(quality_tests(), context, look(HOUR_S)) == 480
    few = quality_tests(flat_suspect="2", flat_fail="3")
    assert reach(few, context, look(HOUR_S)) == 26
    assert reach(few, context, look(HOUR_S / 4)) == 101
    assert reach(quality_tests(flat_fail="3", rate_window="1 h"), context, look(HOUR_S)) == 7
    assert reach(few, context, look(HOUR_S, 0.951)) == 26
    assert reach(few, context, look(HOUR_S, 0.95)) == 0
    assert reach(few, context, look(0.0)) == 0


def test_a_good_value_is_good_from_the_first_check_to_the_last_both_included() -> None:
    at_s = START_S + np.arange(5) * HOUR_S
    checks = tuple(TapeCheck(float(at_s[k]), 1.0, 0.003) for k in (1, 3))
    rows = frame(at_s, logged_depth_m=np.array([1, 1.01, 1, 1.01, 1]))
    tests = treatment("quality tests", **QUIET)
    words = treat(rows, [tape(), tests], SeriesContext(METRES, checks)).rows.collect()["quality"].to_list()
    assert words == ["unchecked", "good", "good", "good", "unchecked"]


def test_rows_before_the_tests_can_tell_are_passed_by_those_that_could() -> None:
    """A first row has no spike and no rate; still water and range speak of it. One row has no neighbours at all."""
    found = flagged([1, 1.01, 1.02])
    assert found["flag_spike"].to_list() == [2, 1, 2]
    assert found["flag"].to_list() == [1, 1, 1]


def test_each_flag_has_its_word_and_only_a_good_one_depends_on_the_checks() -> None:
    rows = pl.DataFrame({"time": [naive(60.0)] * 5, "flag": [1, 2, 3, 4, 9]})
    for checked_s, passed in (((0.0, 90.0), "good"), ((70.0, 90.0), "unchecked"), (None, "unchecked")):
        words = rows.select(quality_word(pl.col("flag"), checked_s))["quality"].to_list()
        assert words == [passed, "unchecked", "suspect", "poor", "missing"]


def test_columns_of_flags_take_a_byte_a_row_and_quality_is_one_of_the_words() -> None:
    """What is written as Parquet for years of rows; readers of it rely on the types."""
    schema = flagged([1, 1.01, 1.02], hampel="yes", usual=[{"month": "1", "shallowest": "0", "deepest": "2"}]).schema
    flags = {name: kind for name, kind in schema.items() if name.startswith("flag")}
    assert len(flags) == 8
    assert set(flags.values()) == {pl.UInt8()}
    assert schema["quality"] == pl.Enum(QUALITIES)
    assert {schema[name] for name in ("water_m", "offset_m", "depth_m", "u_depth_m")} == {pl.Float64()}


def test_a_first_look_counts_steps_as_numpy_does() -> None:
    rng = np.random.default_rng(2)
    at_s = START_S + np.cumsum(rng.choice([-60.0, 0.0, 60.0, 90.0], 400, p=[0.1, 0.1, 0.3, 0.5]))
    steps = np.diff(at_s)
    told = survey(frame(at_s, logged_depth_m=np.zeros(400)))
    assert told.interval_s == 90.0
    assert told.regular_share == pytest.approx(np.sum(steps == 90) / 399)
    assert (told.backwards, told.repeated) == (int(np.sum(steps < 0)), int(np.sum(steps == 0)))
    assert (told.rows, told.first_s, told.last_s) == (400, at_s.min(), at_s.max())


def test_of_steps_as_common_the_shortest_is_the_usual_and_one_row_has_none() -> None:
    assert survey(frame(START_S + np.array([0, 60, 150.0]), logged_depth_m=np.zeros(3))).interval_s == 60
    one = survey(frame(np.array([START_S]), logged_depth_m=np.zeros(1)))
    assert one == Survey(1, START_S, START_S, 0.0, 0.0, 0, 0)
    assert survey(frame(np.empty(0), logged_depth_m=np.empty(0))) == Survey(0, 0.0, 0.0, 0.0, 1.0, 0, 0)
    assert survey(frame(START_S + np.array([60, 0.0]), logged_depth_m=np.zeros(2))).in_order is False
