"""Worked examples for weighted, chalked and electric tapes, and for oil on water."""

from __future__ import annotations

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.electric_tape import splice_m
from tapedown.engine.methods.oil_on_water import depression_m
from tapedown.engine.repeats.agreement import agree, tolerance_m
from tapedown.engine.tape.calibration import electric_limit_m, fit_line, true_length_m
from tapedown.engine.uncertainty.digits import reporting_digits
from tapedown.values.settings import Settings
from tests.engine.at_the_well import (
    FOOT_M,
    below_land_ft,
    below_point_ft,
    calibrated,
    elevation_ft,
    gear,
    names,
    point,
    position,
    reduced,
)
from tests.published.case import A4, TM, Case, cases


@cases(
    Case("GWPD 11", ("84.30", "1.20", "3.40"), (85.50, 82.10), 0.001, f"{TM} GWPD 11 p. 96", "read"),
    Case("2006 edition", ("84.3", "1.2", "3.5"), (85.5, 82.0), 0.001, f"{A4} A4-B-2 p. APP.B6", "read"),
)
def test_total_depth_is_tape_plus_weight_interval_less_the_points_height(case: Case) -> None:
    tape, interval, height = case.given
    found = reduced(
        "weighted tape", {"readings": [tape], "weight_interval": interval}, ReadingContext(point=point(height))
    )
    assert (below_point_ft(found), below_land_ft(found)) == pytest.approx(case.expected, abs=case.tolerance)


def test_trap_a_printed_correction_of_minus_3_40_is_a_point_above_land_surface() -> None:
    """GWPD 11 prints "MP correction -3.40" and sums it; GWPD 3 writes the same point as height +3.40 and subtracts it.

    Taken as a height of -3.40, below land surface, the depth would come out 88.90.
    """
    given = {"readings": ["84.30"], "weight_interval": "1.20"}
    assert below_land_ft(reduced("weighted tape", given, ReadingContext(point=point("3.40")))) == pytest.approx(82.10)
    assert below_land_ft(
        reduced("weighted tape", given, ReadingContext(point=point("3.40", "below")))
    ) == pytest.approx(88.90)


@cases(
    Case("2011 edition", ("14.99", "1.28", "0.85"), (13.71, 12.86), 0.001, f"{TM} GWPD 1 fig. 1", "read"),
    Case("2006 edition", ("15.00", "1.29", "0.85"), (13.71, 12.86), 0.001, f"{A4} fig. B2", "read"),
)
def test_depth_to_water_is_hold_less_cut_less_the_points_height(case: Case) -> None:
    hold, cut, height = case.given
    found = reduced("chalked tape", {"readings": [{"hold": hold, "cut": cut}]}, ReadingContext(point=point(height)))
    assert (below_point_ft(found), below_land_ft(found)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("added below the point", 0.03, (117.56, 115.41), 0.001, f"{TM} GWPD 1 step 7: the order", "constructed"),
)
def test_the_calibration_is_added_before_the_measuring_point(case: Case) -> None:
    context = ReadingContext(
        point=point("2.15"),
        gear=gear("ST-014"),
        calibrations=calibrated("ST-014", [("2.47", "2.47"), ("120.00", "120.03")], "between marks"),
    )
    given = {"readings": [{"hold": "120.00", "cut": "2.47"}], "tape": "ST-014"}
    found = reduced("chalked tape", given, context)
    assert (below_point_ft(found), below_land_ft(found)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("point above land surface", ("5.50", "1.50", "above"), 4.0, 0.001, f"{TM} GWPD 3 fig. 1A p. 20", "read"),
    Case("point below land surface", ("5.20", "1.20", "below"), 6.4, 0.001, f"{TM} GWPD 3 fig. 1B p. 20", "read"),
)
def test_the_points_height_is_subtracted_with_its_sign(case: Case) -> None:
    depth, height, side = case.given
    found = reduced("electric tape", {"readings": [depth]}, ReadingContext(point=point(height, side)))
    assert below_land_ft(found) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("elevation of the point 253.47", ("251.47", "2.00", "13.71"), 239.76, 0.001, "point less depth", "constructed")
)
def test_water_elevation_is_the_points_elevation_less_the_depth(case: Case) -> None:
    land, height, depth = case.given
    context = ReadingContext(point=point(height), position=position(land_surface=land, vertical_datum="NAVD88"))
    assert elevation_ft(reduced("electric tape", {"readings": [depth]}, context)) == pytest.approx(
        case.expected, abs=1e-3
    )


@cases(
    Case(
        "standpipe, 0.15 ft apart", ((-4.20, -4.05), 0.2), (True, 0.15), 1e-6, f"{TM} GWPD 12: 0.1-0.2", "constructed"
    ),
    Case(
        "standpipe, 0.25 ft apart", ((-4.20, -3.95), 0.2), (False, 0.25), 1e-6, f"{TM} GWPD 12: 0.1-0.2", "constructed"
    ),
)
def test_two_readings_agree_when_they_differ_by_no_more_than_the_limit(case: Case) -> None:
    (first, second), limit = case.given
    found = agree([first * FOOT_M, second * FOOT_M], limit * FOOT_M, Settings())
    agreed, apart = case.expected
    assert found.agreed is agreed
    assert abs(second - first) == pytest.approx(apart, abs=case.tolerance)
    said = found.sentence if agreed else found.findings[0].message
    assert f"{apart:.2f} ft" in said


@cases(
    Case("three, none within", ((13.71, 13.75, 13.72), 0.02), 13.7267, 1e-4, f"{A4} A4-B-3(a) step 7", "constructed")
)
def test_readings_that_never_agree_are_averaged_and_flagged(case: Case) -> None:
    given = {"readings": [f"{reading:.2f}" for reading in case.given[0]]}
    found = reduced("electric tape", given)
    assert below_point_ft(found) == pytest.approx(case.expected, abs=case.tolerance)
    assert "repeats-disagree" in names(found.findings)
    assert not agree([r * FOOT_M for r in case.given[0][:2]], case.given[1] * FOOT_M, Settings()).agreed


@cases(Case("150 ft to water", 150.0, (0.01, 0.02), 1e-9, f"{A4} p. 126 step 2a", "read"))
def test_shallower_than_200_ft_hundredths_are_kept_and_repeats_agree_within_two(case: Case) -> None:
    depth_m = case.given * FOOT_M
    digits = reporting_digits(depth_m, 0.02 * FOOT_M, 0.01 * FOOT_M, Settings(), corrected=False)
    limit_ft = tolerance_m(depth_m, Settings()) / FOOT_M
    assert (digits.step, limit_ft) == pytest.approx(case.expected, abs=case.tolerance)


@cases(Case("marker at 20 ft", (20.0, 0.85), 19.15, 0.001, f"{TM} GWPD 4 p. 35; {A4} A4-B-3(b) step 6", "read"))
def test_a_splice_takes_off_what_was_cut_out(case: Case) -> None:
    assert splice_m(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("hold 97.40", ("97.40", "20", "0.85", "1.50"), (78.25, 76.75), 0.001, f"{TM} GWPD 4 step 4-5", "constructed")
)
def test_trap_a_spliced_reading_is_below_the_measuring_point_not_below_land_surface(case: Case) -> None:
    """The 2006 edition (step 6d) writes the corrected hold as depth from land surface: a slip."""
    hold, marker, sensor, height = case.given
    given = {"readings": [hold], "marker_above_splice": marker, "marker_to_sensor": sensor}
    found = reduced("electric tape", given, ReadingContext(point=point(height)))
    assert (below_point_ft(found), below_land_ft(found)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "largest difference 0.02 ft",
        (("45.13", "45.12"), ("120.42", "120.40"), ("185.35", "185.33")),
        True,
        1e-6,
        f"{TM} GWPD 4 p. 35: 0.02 ft",
        "constructed",
    ),
    Case(
        "largest difference 0.03 ft",
        (("45.13", "45.12"), ("120.43", "120.40"), ("185.35", "185.33")),
        False,
        1e-6,
        f"{TM} GWPD 4 p. 35: 0.02 ft",
        "constructed",
    ),
)
def test_an_electric_tape_may_differ_from_steel_by_0_02_ft(case: Case) -> None:
    context = ReadingContext(
        gear=gear("ET-021", type="electric tape"), calibrations=calibrated("ET-021", case.given, "checked")
    )
    found = reduced("electric tape", {"readings": ["90.00", "90.00"], "tape": "ET-021"}, context)
    assert ("calibration-outside-limit" not in names(found.findings)) is case.expected


@cases(
    Case("650 ft, 0.60 ft off", (650.0, 0.60), (0.65, True), 1e-6, f"{A4} A4-B-3(b) step 1c: 1 in 1000", "constructed"),
    Case("480 ft, 0.02 ft off", (480.0, 0.02), (0.01, False), 1e-6, f"{A4} A4-B-3(b) step 1c: 0.01 ft", "constructed"),
)
def test_the_2006_edition_allows_less_above_500_ft_and_more_below(case: Case) -> None:
    depth, difference = case.given
    limit, within = case.expected
    allowed = electric_limit_m(depth * FOOT_M, "2006") / FOOT_M
    assert allowed == pytest.approx(limit, abs=case.tolerance)
    assert (difference <= allowed) is within


@cases(
    Case(
        "four wells",
        ((50.01, 150.06, 250.09, 350.14), (50.0, 150.0, 250.0, 350.0), 300.0),
        (0.99958017, 0.008997, 299.883),
        2e-4,
        f"{TM} GWPD 4 p. 35 calls for a regression",
        "constructed",
    ),
)
def test_a_regression_of_steel_on_electric_corrects_a_reading(case: Case) -> None:
    electric, steel, reading = case.given
    line = fit_line(electric, steel)
    slope, intercept, corrected = case.expected
    assert line.slope == pytest.approx(slope, abs=1e-8)
    assert line.offset_m == pytest.approx(intercept, abs=1e-6)
    assert line.at(reading)[0] == pytest.approx(corrected, abs=case.tolerance)
    marks = [(f"{shown:.2f}", f"{true:.2f}") for shown, true in zip(electric, steel)]
    context = ReadingContext(calibrations=calibrated("ET-021", marks, "straight line"))
    found = reduced("electric tape", {"readings": [f"{reading:.2f}"], "tape": "ET-021"}, context)
    assert below_point_ft(found) == pytest.approx(corrected, abs=case.tolerance)


@cases(
    Case("100 ft mark at 98 ft", (80.0, 100.0, 98.0), 78.4, 1e-3, "San Joaquin Co. doc 600170 p. 90", "constructed"),
    Case(
        "trap: 100 ft mark at 102 ft is 1.02",
        (80.0, 100.0, 102.0),
        81.6,
        1e-3,
        "the same document multiplies by 0.98, which fits only if a true 100 ft reads 102",
        "constructed",
    ),
)
def test_a_stretched_cable_is_scaled_by_true_over_marked(case: Case) -> None:
    assert true_length_m(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("0.32 ft of oil", ("9.28", "9.60"), (0.27, 9.33), 0.006, "San Joaquin Co. doc 471143 p. 11", "read"),
    Case("0.33 ft of oil", ("8.75", "9.08"), (0.27, 8.81), 0.006, "San Joaquin Co. doc 471029 p. 11", "read"),
)
def test_oil_presses_the_interface_down_by_thickness_times_relative_density(case: Case) -> None:
    oil, water = case.given
    found = reduced("oil on water", {"readings": [{"oil": oil, "water": water}], "relative_density": "0.83"})
    depression, level = case.expected
    assert depression_m(float(water) - float(oil), 0.83) == pytest.approx(depression, abs=case.tolerance)
    assert below_point_ft(found) == pytest.approx(level, abs=case.tolerance)


@cases(
    Case("39.14 ft uncorrected", ("48.22", "8.75", "9.08"), 39.41, 0.006, "San Joaquin Co. doc 471029 p. 11", "read"),
)
def test_oil_raises_the_elevation_that_the_interface_alone_would_give(case: Case) -> None:
    land, oil, water = case.given
    context = ReadingContext(point=point("0", "level"), position=position(land_surface=land, vertical_datum="NAVD88"))
    found = reduced("oil on water", {"readings": [{"oil": oil, "water": water}], "relative_density": "0.83"}, context)
    assert float(land) - float(water) == pytest.approx(39.14)
    assert elevation_ft(found) == pytest.approx(case.expected, abs=case.tolerance)
