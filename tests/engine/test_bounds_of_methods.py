"""Where a method begins to warn, just on either side; the limits are those of the handbooks named, or ours."""

from __future__ import annotations

from typing import Any

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.air_line import air_weight_m
from tapedown.engine.methods.flowing_well import middle_third
from tapedown.engine.methods.logger_check import check_limit_m, drift_correction
from tapedown.engine.physics.water import air_column_factor, head_m
from tapedown.values.results import Reduction
from tapedown.values.settings import Settings
from tests.engine.at_the_well import (
    FOOT_M,
    below_point_ft,
    construction,
    gear,
    names,
    point,
    reduced,
    seen,
)


def told(found: Reduction, check: str) -> list[str]:
    return [one.message for one in found.findings if one.check == check]


@pytest.mark.parametrize(
    ("share", "inside"), [(0.3332, False), (1 / 3, True), (0.5, True), (2 / 3, True), (0.6668, False)]
)
def test_a_gauge_is_read_in_the_middle_third_of_its_range(share: float, inside: bool) -> None:
    assert middle_third(share * 60.0, 60.0) is inside
    found = reduced("flowing gauge", {"readings": [f"{share * 60:.5f}"], "gauge_range": "60", "shut_in": "2 h"})
    words = [] if inside else [f"the gauge was read at {round(share * 100)}% of its range 60 psi"]
    assert told(found, "gauge-outside-middle") == words
    assert "gauge-outside-middle" not in names(reduced("flowing gauge", {"readings": ["6.5"]}).findings)


@pytest.mark.parametrize(
    ("level", "words"),
    [("3.60", []), ("3.61", ["the tube stands 6.01 ft above land surface; 5 to 6 ft is the usual limit"])],
)
def test_a_tube_is_held_up_to_six_feet_above_land_surface(level: str, words: list[str]) -> None:
    context = ReadingContext(point=point("2.40"))
    assert told(reduced("standpipe", {"readings": [level], "shut_in": "2 h"}, context), "standpipe-too-high") == words
    assert "standpipe-too-high" not in names(reduced("standpipe", {"readings": ["6.00"]}).findings)
    assert "standpipe-too-high" in names(reduced("standpipe", {"readings": ["6.01"]}).findings)


def test_an_unnoted_shut_in_time_is_told_of_gauge_and_standpipe_alike() -> None:
    for method in ("flowing gauge", "standpipe"):
        assert len(told(reduced(method, {"readings": ["3.0"]}), "shut-in-not-noted")) == 1
        assert told(reduced(method, {"readings": ["3.0"], "shut_in": "0 h"}), "shut-in-not-noted") == []


@pytest.mark.parametrize(
    ("depth_ft", "range_ft", "limit_ft", "rule"),
    [(99.0, 9.0, 0.01, "0.01 ft"), (101.0, 9.0, 0.0101, "0.01 % of depth"), (99.0, 11.0, 0.011, "0.1 % of the range"),
     (250.0, 30.0, 0.03, "0.1 % of the range"), (500.0, 30.0, 0.05, "0.01 % of depth")],
)  # fmt: skip
def test_a_logger_may_lie_off_the_tape_by_the_greatest_of_three(
    depth_ft: float, range_ft: float, limit_ft: float, rule: str
) -> None:
    """USGS TM 1-A1 GWPD 16: 0.01 ft, 0.1 % of the range, 0.01 % of depth."""
    limit_m, found = check_limit_m(depth_ft * FOOT_M, range_ft * FOOT_M)
    assert limit_m == pytest.approx(limit_ft * FOOT_M)
    assert found == rule


def test_a_logger_off_its_tape_is_told_with_both_depths_and_the_limit() -> None:
    given = {"readings": ["4.000"], "type": "vented", "hanging_depth": "60.00", "water_density": "1000 kg/m3"}
    by_logger = 60.0 - 4 * 6.894757293 / 9.80665 / FOOT_M
    found = reduced("logger check", {**given, "taped_depth": "50.90", "record_range": "12.0"})
    assert below_point_ft(found) == pytest.approx(by_logger)
    off = 50.90 - by_logger
    assert told(found, "logger-off-tape") == [
        f"tape 50.90 ft, logger {by_logger:.2f} ft: {off:.3f} ft apart, more than 0.012 ft (0.1 % of the range)"
    ]
    above = reduced("logger check", {**given, "taped_depth": f"{by_logger - 0.0105:.4f}"})
    assert told(above, "logger-off-tape")
    assert not told(reduced("logger check", {**given, "taped_depth": f"{by_logger - 0.0095:.4f}"}), "logger-off-tape")


def test_an_offset_is_shared_in_time_between_two_checks_and_goes_on_beyond_them() -> None:
    shared = [drift_correction(t, 10.0, 30.0, 0.01, 0.05) for t in (10.0, 15.0, 30.0, 40.0)]
    assert shared == pytest.approx([0.01, 0.02, 0.05, 0.07])


def test_repeats_of_a_logger_agree_within_a_thousandth_of_the_water_above_it() -> None:
    def agrees(first_kpa: float, second_kpa: float) -> bool:
        given = {"readings": [f"{first_kpa:.4f} kPa", f"{second_kpa:.4f} kPa"], "type": "vented",
                 "hanging_depth": "60 m", "water_density": "1000 kg/m3"}  # fmt: skip
        return "repeats-disagree" not in names(reduced("logger check", given, unit="m").findings)

    # 20 m of water: 0.02 m, which is 0.196133 kPa; 2 m of water: 0.02 ft, which is 0.05978 kPa
    assert agrees(196.133, 196.133 - 0.1960)
    assert not agrees(196.133, 196.133 - 0.1966)
    assert agrees(19.6133, 19.6133 - 0.0597)
    assert not agrees(19.6133, 19.6133 - 0.0600)


@pytest.mark.parametrize(
    ("surface", "words"),
    [("8.11", []), ("8.08", ["1.02 ft of oil: an error of 0.05 in relative density moves the level by 0.051 ft"])],
)
def test_oil_thicker_than_a_foot_is_told_of(surface: str, words: list[str]) -> None:
    given = {"readings": [{"oil": surface, "water": "9.10"}] * 2, "relative_density": "0.83"}
    assert told(reduced("oil on water", given), "thick-oil") == words


@pytest.mark.parametrize(
    ("temp", "words"),
    [("0 degC", []), ("40 degC", []), ("-0.5 degC", ["water at -0.5 degC is outside 0 to 40 degC"]),
     ("40.5 degC", ["water at 40.5 degC is outside 0 to 40 degC"])],
)  # fmt: skip
def test_water_is_between_freezing_and_forty_degrees(temp: str, words: list[str]) -> None:
    assert told(reduced("flowing gauge", {"readings": ["6.5"], "water_temp": temp}), "density-out-of-range") == words


def test_water_whose_temperature_was_not_measured_is_told_of_where_it_matters() -> None:
    line = {"readings": ["18"], "constant_depth": "85.85", "constant_gauge": "28"}
    assert told(reduced("air line", line), "water-temperature-unknown") == ["water temperature taken as 12 degC"]
    as_water = {"constant_depth": "25.86", "constant_gauge_as_water": "75.5", "readings_as_water": ["50.0"]}
    assert told(reduced("air line", as_water), "water-temperature-unknown") == []
    assert (
        len(
            told(
                reduced("air line", {**as_water, "readings_as_water": [], "readings": ["21.7"]}),
                "water-temperature-unknown",
            )
        )
        == 1
    )
    mixed = {"constant_depth": "25.86", "constant_gauge": "32.7", "readings_as_water": ["50.0"]}
    assert len(told(reduced("air line", mixed), "water-temperature-unknown")) == 1
    dense = {"readings": ["50.00 kPa"], "type": "vented", "hanging_depth": "20.00", "water_density": "999 kg/m3"}
    assert told(reduced("logger check", dense), "water-temperature-unknown") == []


def air_line(**more: str) -> float:
    given: dict[str, Any] = {"readings": ["100", "100"], "water_temp": "59", **more}
    return below_point_ft(reduced("air line", given))


def test_the_weight_of_the_air_lifts_the_water_by_what_the_columns_weigh() -> None:
    """The head h solves (p + p_air) F(line) - p_air F(line - h) = rho g h: the rest of that balance is nothing."""
    weight = air_weight_m(150.0, 600.0, 12.0, 999.5, 9.81)
    head = float(head_m(600.0, 999.5, 9.81)) + weight
    pressed = (600.0 + 101.325) * air_column_factor(150.0, 12.0, 9.81) - 101.325 * air_column_factor(
        150.0 - head, 12.0, 9.81
    )
    assert float(head_m(pressed, 999.5, 9.81)) == pytest.approx(head, abs=1e-8)
    density = 999.1026  # water at 15 degC
    by_length = air_line(line_length="500.0", weight_of_air="yes") - air_line(line_length="500.0")
    assert by_length * FOOT_M == pytest.approx(-air_weight_m(500 * FOOT_M, 689.4757, 15.0, density, 9.80665), abs=1e-6)
    cold = air_line(line_length="500.0", weight_of_air="yes", air_temp="32") - air_line(line_length="500.0")
    assert cold * FOOT_M == pytest.approx(-air_weight_m(500 * FOOT_M, 689.4757, 0.0, density, 9.80665), abs=1e-6)


def test_with_a_line_known_by_a_tape_only_the_change_of_the_airs_weight_counts() -> None:
    known = {"constant_depth": "269.00", "constant_gauge": "60"}
    line_m = 269.00 * FOOT_M + float(head_m(60 * 6.894757293, 999.1026))
    change = air_line(**known, weight_of_air="yes") - air_line(**known)
    then, now = (air_weight_m(line_m, psi * 6.894757293, 15.0, 999.1026, 9.80665) for psi in (60, 100))
    assert change * FOOT_M == pytest.approx(then - now, abs=1e-6)
    given = {**known, "readings": ["100", "100"], "water_temp": "59", "weight_of_air": "yes"}
    step = next(s for s in reduced("air line", given).stages[0].steps if s.what == "weight of the air")
    assert (step.source, step.note) == ("USGS TM 1-A1 GWPD 13; isothermal columns", "air at 15.0 degC")
    (part,) = step.parts
    assert (part.what, part.source) == ("temperature of the air", "15 degC either way, ours")
    assert part.u_m == pytest.approx(abs(then - now) * 0.05 / 3**0.5, abs=1e-7)


@pytest.mark.parametrize(("known", "differs"), [("1.205", False), ("1.206", True), ("1.194", True)])
def test_an_interval_differs_from_the_weights_own_beyond_half_a_hundredth(known: str, differs: bool) -> None:
    """0.0016 m, 0.00525 ft; ours."""
    weight = gear("W-3", type="weight", weight_interval=f"{known} ft")
    given = {"readings": ["84.30", "84.30"], "weight_interval": "1.200", "weight": "W-3"}
    found = reduced("weighted tape", given, ReadingContext(gear=weight))
    words = f"weight interval 1.200 ft was used; weight W-3 is known by {known} ft"
    assert told(found, "weight-interval-differs") == ([words] if differs else [])
    assert below_point_ft(found) == pytest.approx(85.50)


@pytest.mark.parametrize(("hold", "cut", "swapped"), [("14.99", "14.99", False), ("14.99", "15.00", True)])
def test_a_cut_above_its_hold_is_told_with_its_number(hold: str, cut: str, swapped: bool) -> None:
    pairs = [{"hold": "14.99", "cut": "1.28"}, {"hold": hold, "cut": cut}]
    found = reduced("chalked tape", {"readings": pairs})
    words = "reading 2: cut 15.00 ft is greater than hold 14.99 ft, the water would stand above the point"
    assert told(found, "cut-above-hold") == ([words] if swapped else [])


def test_longer_than_its_tape_is_told_at_the_greater_of_hold_and_cut() -> None:
    tape = gear("ST-014", length="500 ft")
    for pair, words in (
        ({"hold": "500.00", "cut": "1.00"}, []),
        ({"hold": "500.01", "cut": "1.00"}, ["500.01 ft was read on tape ST-014, which is 500.00 ft long"]),
    ):
        found = reduced("chalked tape", {"readings": [pair], "tape": "ST-014"}, ReadingContext(gear=tape))
        assert told(found, "longer-than-tape") == words


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("200.00", []),
        ("200.01", ["200.01 ft of tape is more than 200.00 ft: heat and stretch matter and are not corrected"]),
    ],
)
def test_a_tape_longer_than_two_hundred_feet_is_to_be_corrected(reading: str, words: list[str]) -> None:
    assert told(reduced("electric tape", {"readings": [reading]}), "tape-not-corrected") == words


def test_a_lean_that_is_not_surveyed_can_only_shorten_the_depth_by_its_cosine() -> None:
    found = reduced(
        "electric tape", {"readings": ["500.00"]}, ReadingContext(Settings("ft", {"plumb_angle_max": "3 deg"}))
    )
    (effect,) = found.one_sided
    assert effect.low_m / FOOT_M == pytest.approx(-500 * (1 - 0.9986295347545738), rel=1e-9)  # cos 3 deg
    assert (effect.high_m, effect.source) == (0.0, "set here")
    assert effect.what == "hole not surveyed: it may lean by up to 3 deg, the tape path is then too long"
    flowing = reduced("standpipe", {"readings": ["3.60"]}, ReadingContext(seen=seen(water=["runs over"])))
    assert flowing.one_sided == ()
    leaning = ReadingContext(construction=construction(lean="5"))
    assert reduced("electric tape", {"readings": ["500.00"]}, leaning).one_sided == ()
