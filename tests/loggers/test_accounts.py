"""What the accounts of a series say, with their numbers, and from where on; constructed hour by hour."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import polars as pl
import pytest

from tapedown.loggers.context import PointSeries, SeriesContext, TapeCheck
from tapedown.loggers.diagnostics import barometer_account, corrected_account, raw_account
from tapedown.loggers.stretches import MOST_STEPS, Jump, handled_stretches, jumps, stretch_findings, unit_findings
from tapedown.loggers.survey import survey
from tapedown.loggers.treat import treat
from tapedown.values.results import Finding
from tapedown.values.settings import Settings
from tests.loggers.truth import START_S, frame, tape, treatment

HOUR_S = 3600.0
G = 9.80665
METRES = Settings("m")
QUIET = treatment("quality tests", spike_suspect="100", spike_fail="100", rate_deviations="1000")


def messages(found: Iterable[Finding]) -> dict[str, list[str]]:
    told: dict[str, list[str]] = {}
    for finding in found:
        told.setdefault(finding.check, []).append(finding.message)
    return told


def raw(column: str, values: Any, at_h: Any = None) -> dict[str, list[str]]:
    hours = np.arange(len(values)) if at_h is None else np.asarray(at_h, float)
    rows = frame(START_S + hours * HOUR_S, **{column: np.asarray(values, float)})
    return messages(raw_account(rows, survey(rows), METRES))


@pytest.mark.parametrize(("column", "under", "aired"), [
    ("pressure_kpa", 112.0, (85.0, 108.5)), ("gauge_kpa", 20.0, (-1.0, 1.0)), ("logged_water_m", 2.0, (-0.1, 0.1)),
])  # fmt: skip
def test_a_stretch_is_in_air_within_what_that_column_shows_in_air(
    column: str, under: float, aired: tuple[float, float]
) -> None:
    """112 kPa or 20 kPa or 2 m under water; both ends of the range are air, a hundredth beyond is handling."""
    for value, looks in (
        (aired[0], "in air"),
        (aired[1], "in air"),
        (aired[0] - 0.01, "handling"),
        (aired[1] + 0.01, "handling"),
    ):
        (told,) = raw(column, [under] * 20 + [value] * 2 + [under] * 20)["logger-handled"]
        assert told == f"from 2026-01-01 20:00 UTC to 2026-01-01 21:00 UTC the rows look like {looks}"


@pytest.mark.parametrize(
    ("column", "step"), [("logged_depth_m", 0.3), ("pressure_kpa", 0.3 * G), ("gauge_kpa", 0.3 * G)]
)
def test_a_step_of_the_networks_size_is_handling_in_metres_and_in_kilopascals_alike(column: str, step: float) -> None:
    base = 130.0
    for size, told in ((step * 1.001, True), (step * 0.999, False)):
        assert ("logger-handled" in raw(column, [base] * 20 + [base + size] + [base] * 20)) == told


def test_handling_lasts_a_day_or_two_usual_steps_at_most() -> None:
    for hours, told in ((25, True), (26, False)):  # from the first to the last row of the stretch: 24 and 25 hours
        assert ("logger-handled" in raw("logged_depth_m", [10.0] * 60 + [5.0] * hours + [10.0] * 60)) == told
    for rows, told in ((3, True), (4, False)):  # rows every 20 hours: 40 and 60 hours
        values = [10.0] * 9 + [5.0] * rows + [10.0] * 9
        assert ("logger-handled" in raw("logged_depth_m", values, np.arange(len(values)) * 20)) == told


def test_mixed_units_are_told_three_times_at_most_and_no_handling_beside_them() -> None:
    values = ([3.0] * 5 + [3.0 / 0.3048] * 5) * 4
    told = raw("logged_depth_m", values)
    assert len(told["logger-units-mixed"]) == 3
    assert "by a factor of 3.28, within 0% of that from m to ft" in told["logger-units-mixed"][0]
    assert "logger-handled" not in told


def test_an_atmosphere_put_on_and_off_is_told_once_with_how_often() -> None:
    told = raw("pressure_kpa", [120.0] * 5 + [18.7] * 5 + [120.0] * 5 + [18.7] * 5)
    first = [one for one in told["logger-units-mixed"] if "one atmosphere" in one]
    assert len(first) == 1
    assert first[0].startswith("at 2026-01-01 05:00 UTC the pressure goes from 120.0 to 18.7 kPa, and 2 times more")


@pytest.mark.parametrize(
    ("usual", "others", "told"), [(10, 1, None), (9, 1, "90%"), (8, 1, "89%"), (1, 1, "50%"), (1, 0, None)]
)
def test_a_series_is_ragged_where_no_more_than_nine_rows_in_ten_follow_by_the_usual_step(
    usual: int, others: int, told: str | None
) -> None:
    at_h = np.cumsum([0.0, *[0.5] * usual, *[0.7] * others])
    found = raw("logged_depth_m", np.ones(len(at_h)), at_h).get("series-ragged")
    expected = told and [f"only {told} of the rows follow the one before by the usual 30.0 min"]
    assert found == (expected or None)


def corrected(column: str, values: Any, *treatments: Any, air: Any = None, at_h: Any = None) -> dict[str, list[str]]:
    hours = np.arange(len(values)) if at_h is None else np.asarray(at_h, float)
    rows = frame(START_S + hours * HOUR_S, **{column: np.asarray(values, float)})
    context = SeriesContext(METRES, barometers={"air": air} if air else {})
    return messages(corrected_account(treat(rows, [*treatments], context), METRES))


def test_less_water_than_five_centimetres_below_none_is_out_of_water() -> None:
    """kPa above air: -0.049 and -0.051 m of water of 999.5 kg/m3."""
    for least, told in ((-0.049, False), (-0.051, True)):
        kpa = np.array([20.0, 20.0, least * 9.8017, -0.03, 20.0])
        found = corrected("gauge_kpa", kpa, QUIET)
        assert ("logger-out-of-water" in found) == told
    kpa = np.array([20.0, -0.1 * 9.8017, -0.3 * 9.8017, 20.0])
    (said,) = corrected("gauge_kpa", kpa, QUIET)["logger-out-of-water"]
    assert said == "2 rows, the first at 2026-01-01 01:00 UTC, show down to -0.3 m of water"
    assert "logger-out-of-water" not in corrected("logged_water_m", [2.0, -0.3, 2.0], QUIET)


def test_rows_in_a_hole_of_the_barometer_are_counted_with_their_first_and_last() -> None:
    at_h = np.array([0.0, 1, 2, 3, 9, 10])
    air = PointSeries(np.asarray(START_S + at_h * HOUR_S, np.float64), np.full(6, 100.0))
    (said,) = corrected("pressure_kpa", [120.0] * 11, treatment("barometer", series="air"), QUIET, air=air)[
        "barometer-gap"
    ]
    assert said == "5 rows between 2026-01-01 04:00 and 2026-01-01 08:00 UTC have no air pressure"


def test_of_many_gaps_the_three_longest_are_told_first() -> None:
    at_h = np.cumsum([0.0, *[1.0] * 20, 5.0, *[1.0] * 5, 9.0, *[1.0] * 5, 7.0, *[1.0] * 5, 3.0, 1.0])
    (said,) = corrected("logged_depth_m", np.ones(len(at_h)), QUIET, at_h=at_h)["series-gap"]
    assert said == (
        "4 gaps: 9.0 h after 2026-01-02 06:00 UTC; 7.0 h after 2026-01-02 20:00 UTC; 5.0 h after 2026-01-01 20:00 UTC"
    )


@pytest.mark.parametrize(("kpa", "told"), [(85.0, False), (84.99, True), (108.5, False), (108.51, True)])
def test_air_is_odd_below_85_and_above_108_and_a_half_kilopascals(kpa: float, told: bool) -> None:
    found = messages(
        barometer_account(
            PointSeries(START_S + np.arange(4, dtype=np.float64) * HOUR_S, np.array([101, kpa, kpa, 101])), "air"
        )
    )
    if not told:
        assert found == {}
        return
    expected = f"2 of 4 values of air lie outside 85 to 108.5 kPa, the first, {kpa:.1f} kPa, at 2026-01-01 01:00 UTC"
    assert found["barometer-odd"] == [expected]


def test_rows_that_speak_are_named_with_time_depth_and_line_three_of_them() -> None:
    tests = treatment("quality tests", deepest="5", spike_suspect="100", spike_fail="100", rate_deviations="1000")
    values = [1.0, 6.0, 1.0, 6.5, 7.0, 8.0]
    (said,) = corrected("logged_depth_m", values, tests)["series-out-of-range"]
    assert said.startswith("4 rows, 0 of them failing, lie outside what is usual: 2026-01-01 0")
    told = {f"2026-01-01 0{k}:00 UTC ({values[k]:.2f} m, line {k + 2})" for k in (1, 3, 4, 5)}
    named = set(said.partition("usual: ")[2].split("; "))
    assert len(named) == 3
    assert named < told


def test_steps_are_gathered_from_their_least_size_on_and_no_more_than_a_thousand() -> None:
    rows = frame(START_S + np.arange(4) * HOUR_S, x=np.array([1.0, 1.5, 1.0, 1.25]))
    assert jumps(rows, "x", 0.5) == [
        Jump(START_S, START_S + HOUR_S, 1.0, 1.5), Jump(START_S + HOUR_S, START_S + 2 * HOUR_S, 1.5, 1.0)
    ]  # fmt: skip
    assert MOST_STEPS == 1000
    many = frame(START_S + np.arange(1500) * HOUR_S, x=np.arange(1500) % 2.0)
    assert len(jumps(many, "x", 1.0)) == 1000


def steps(*values_at: tuple[float, float, float]) -> list[Jump]:
    """Steps at a time from one value to another, the rows a minute apart."""
    return [Jump(at_s, at_s + 60, before, after) for at_s, before, after in values_at]


def test_two_handlings_hours_apart_are_two_stretches() -> None:
    found = handled_stretches(steps((600, 5, 0), (1200, 0, 5), (9000, 5, 0), (9600, 0, 5)), -9e9, 9e9, 3600.0)
    assert [(one.first_s, one.last_s) for one in found] == [(660.0, 1200.0), (9060.0, 9600.0)]


def test_a_stretch_at_the_beginning_and_one_at_the_end_are_both_told() -> None:
    found = handled_stretches(steps((600, 0, 5), (90000, 5, 0)), 0.0, 90600.0, 3600.0)
    assert [(one.first_s, one.last_s) for one in found] == [(0.0, 600.0), (90060.0, 90600.0)]
    assert handled_stretches([], 0.0, 9e9, 3600.0) == []


@pytest.mark.parametrize("value", [-0.2, 0.2])
def test_both_ends_of_what_is_shown_in_air_are_air(value: float) -> None:
    air = (-0.2, 0.2)
    assert handled_stretches(steps((600, value, 5)), 0.0, 9e9, 3600.0, air)[0].looks_like == "in air"
    assert handled_stretches(steps((600, 5, value)), -9e9, 1260.0, 3600.0, air)[0].looks_like == "in air"
    beyond = value * 1.01
    assert handled_stretches(steps((600, beyond, 5)), 0.0, 9e9, 3600.0, air) == []
    assert handled_stretches(steps((600, 5, beyond)), -9e9, 1260.0, 3600.0, air) == []


@pytest.mark.parametrize(("off", "told"), [(1.019, 1), (1.021, 0), (0.981, 1), (0.979, 0)])
def test_a_ratio_within_two_in_a_hundred_of_two_units_is_theirs(off: float, told: int) -> None:
    found = unit_findings(steps((0, 10.0, 10.0 / 0.3048 * off)), "length")
    assert len(found) == told
    if told:
        assert found[0].message.startswith("at 1970-01-01 00:01 UTC the numbers change by a factor of 3.")
        assert "within 2% of that from m to" in found[0].message


def test_a_stretch_is_told_with_its_times() -> None:
    (found,) = stretch_findings(handled_stretches(steps((600, 0, 5)), 0.0, 9e9, 3600.0))
    assert found.message == "from 1970-01-01 00:00 UTC to 1970-01-01 00:10 UTC the rows look like handling"


def test_what_is_set_aside_loses_its_depth_and_keeps_its_reason() -> None:
    rows = frame(START_S + np.arange(4) * HOUR_S, logged_depth_m=np.arange(4.0))
    aside = treatment("set aside", start="2026-01-01T01:00+00:00", end="2026-01-01T02:00+00:00", because="ice")
    found = treat(rows, [aside], SeriesContext(METRES)).rows.collect()
    assert found["aside"].to_list() == [None, "ice", "ice", None]
    assert found["depth_m"].to_list() == [0.0, None, None, 3.0]


@pytest.mark.parametrize(
    ("column", "depth"), [("logged_depth_m", 2.0), ("logged_elevation_m", None), ("logged_water_m", None)]
)
def test_without_a_tape_only_a_logged_depth_is_a_depth(column: str, depth: float | None) -> None:
    rows = frame(START_S + np.arange(2) * HOUR_S, **{column: np.array([2.0, 2.0])})
    found = treat(rows, [], SeriesContext(METRES)).rows.collect()
    assert found["depth_m"].to_list() == [depth, depth]
    assert found["offset_m"].null_count() == found["u_depth_m"].null_count() == 2


def test_of_treatments_that_can_hold_only_once_the_last_given_holds() -> None:
    rows = frame(START_S + np.arange(3) * HOUR_S, logged_depth_m=np.array([1.0, 6.0, 1.0]))
    strict, mild = (treatment("quality tests", deepest=deepest) for deepest in ("5", "7"))
    for order, flag in (([strict, mild], 1), ([mild, strict], 3)):
        assert treat(rows, order, SeriesContext(METRES)).rows.collect()["flag_range"][1] == flag


def test_two_stretches_set_aside_are_both_left_out() -> None:
    rows = frame(START_S + np.arange(4) * HOUR_S, logged_depth_m=np.arange(4.0))
    asides = [
        treatment("set aside", start=f"2026-01-01T0{h}:00+00:00", end=f"2026-01-01T0{h}:00+00:00", because="ice")
        for h in (0, 3)
    ]
    assert treat(rows, asides, SeriesContext(METRES)).rows.collect()["depth_m"].to_list() == [None, 1.0, 2.0, None]


def test_rows_out_of_order_are_treated_in_order_and_a_moment_once() -> None:
    rows = frame(START_S + np.array([2, 0, 1, 1]) * HOUR_S, logged_depth_m=np.array([2.0, 0.0, 1.0, 9.0]))
    treated = treat(rows, [], SeriesContext(METRES))
    assert treated.rows.collect()["depth_m"].to_list() == [0.0, 1.0, 2.0]
    assert (treated.look.rows, treated.look.in_order) == (3, True)


def test_a_clock_put_right_is_looked_at_anew() -> None:
    rows = frame(START_S + np.arange(3) * HOUR_S, logged_depth_m=np.arange(3.0))
    shift = treatment("clock shift", add="-30 min", start="", end="")
    treated = treat(rows, [shift], SeriesContext(METRES), survey(rows))
    assert treated.look.first_s == START_S - 1800


def test_a_series_that_cannot_be_cut_is_written_at_once() -> None:
    at_s = START_S + np.cumsum(np.arange(1, 40) % 7 + 1.0) * HOUR_S
    treated = treat(frame(at_s, logged_depth_m=np.ones(39)), [], SeriesContext(METRES))
    assert treated.reach == 0
    assert [piece.collect().height for piece in treated.pieces(10)] == [39]
    regular = treat(frame(START_S + np.arange(39) * HOUR_S, logged_depth_m=np.ones(39)), [], SeriesContext(METRES))
    assert [piece.collect().height for piece in regular.pieces(39)] == [39]
    assert [piece.collect().height for piece in regular.pieces(38)] == [38, 1]


def test_a_piece_sees_as_many_rows_beside_it_as_its_flags_depend_on() -> None:
    """Values that stand still just long enough to fail do so too where a piece begins or ends among them."""
    still = treatment(
        "quality tests", flat_suspect="30", flat_fail="40", rate_window="3 h", spike_suspect="1", spike_fail="2"
    )
    values = np.concatenate([np.arange(20.0), np.full(41, 50.0), np.arange(60.0, 80.0)])
    treated = treat(frame(START_S + np.arange(81) * HOUR_S, logged_depth_m=values), [still], SeriesContext(METRES))
    whole = treated.rows.collect()
    assert whole["flag_flat"].to_list().count(4) == 2
    for rows_each in (7, 60, 61):
        assert pl.concat([piece.collect() for piece in treated.pieces(rows_each)]).equals(whole)


def test_the_plan_tells_of_the_tape_and_of_tests_in_order_of_weight() -> None:
    rows = frame(START_S + np.arange(30) * HOUR_S, pressure_kpa=np.full(30, 120.0))
    late = TapeCheck(START_S + 99 * HOUR_S, 3.0, 0.003)
    found = treat(rows, [tape()], SeriesContext(METRES, (late,))).findings
    assert [finding.check for finding in found] == ["absolute-without-barometer", "logger-no-check"]
