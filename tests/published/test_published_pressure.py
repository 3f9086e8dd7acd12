"""Worked examples for air lines, flowing wells and loggers, and for the water and gravity behind them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from tapedown.engine.context import ReadingContext
from tapedown.engine.methods.air_line import air_weight_m, line_constant_m
from tapedown.engine.methods.flowing_well import middle_third, standpipe_practical
from tapedown.engine.methods.logger_check import air_column_kpa, check_limit_m, drift_correction, submergence_m
from tapedown.engine.physics.water import head_m, normal_gravity_m_s2, water_density_kell_kg_m3, water_density_kg_m3
from tapedown.values.units import PSI_KPA, STANDARD_GRAVITY_M_S2
from tests.engine.at_the_well import (
    FOOT_M,
    below_land_ft,
    below_point_ft,
    below_point_m,
    point,
    position,
    reduced,
    seen,
)
from tests.published.case import A4, TM, Case, cases

AT_2_307 = "8.0 degC"
"""Water temperature at which the handbooks' 2.307 ft/psi is exact."""
AT_2_31 = "18.2 degC"
"""And 2.31 ft/psi."""


@cases(
    Case("altitude gauge", (25.86, 75.5), 101.4, 0.05, f"{TM} GWPD 13 example 1 p. 112", "read"),
    Case("28 psi at 2.307", (85.85, 28 * 2.307), 150.446, 1e-3, "GWPD 13 example 2, not rounded", "constructed"),
    Case(
        "trap: the same as printed",
        (85.85, 28 * 2.307),
        150.0,
        0.6,
        f"{TM} GWPD 13 p. 112 writes 64, not 64.596",
        "read",
    ),
)
def test_the_constant_of_an_air_line_is_tape_depth_plus_gauge(case: Case) -> None:
    assert line_constant_m(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "altitude gauge, example 1",
        ({"constant_depth": "25.86", "constant_gauge_as_water": "75.5", "readings_as_water": ["50.0"]}),
        51.4,
        0.05,
        f"{TM} GWPD 13 example 1 p. 112",
        "read",
    ),
    Case(
        "trap: example 2 rounds on the way",
        ({"constant_depth": "85.85", "constant_gauge": "28", "readings": ["18"], "water_temp": AT_2_307}),
        109.0,
        0.6,
        f"{TM} GWPD 13 example 2 p. 113 (writes 41, not 41.526)",
        "read",
    ),
    Case(
        "example 2 not rounded",
        ({"constant_depth": "85.85", "constant_gauge": "28", "readings": ["18"], "water_temp": AT_2_307}),
        108.92,
        0.005,
        "GWPD 13 example 2, unrounded",
        "constructed",
    ),
    Case(
        "line of known length, static",
        ({"line_length": "150", "readings": ["25"], "water_temp": AT_2_31}),
        92.25,
        0.06,
        "MIL-HDBK-1164 appendix A (prints 57.7 and 92.3)",
        "read",
    ),
    Case(
        "line of known length, pumping",
        ({"line_length": "150", "readings": ["18"], "water_temp": AT_2_31}),
        108.4,
        0.06,
        "MIL-HDBK-1164 appendix A",
        "read",
    ),
)
def test_depth_by_air_line_is_its_constant_less_the_gauge(case: Case) -> None:
    assert below_point_ft(reduced("air line", case.given)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(Case("1 psi at 2.31", 1.0, 2.31, 0.001, "Colorado CWCB doc 123770 p. 4", "read"))
def test_a_gauge_error_of_1_psi_is_2_31_ft(case: Case) -> None:
    given = {"line_length": "150", "readings": ["25"], "gauge_error": f"{case.given} psi", "water_temp": AT_2_31}
    gauge = next(part for part in reduced("air line", given).parts if part.what == "gauge")
    assert abs(gauge.u_m) * 3**0.5 / FOOT_M == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "100 psi on 500 ft at 15 degC",
        (500.0, 100.0, 15.0),
        (230.873, 235.369),
        0.01,
        "isothermal columns in line and casing; the need is named in GWPD 13",
        "constructed",
    ),
)
def test_the_weight_of_the_air_adds_to_the_head_of_a_deep_line(case: Case) -> None:
    line_ft, psi, temp_c = case.given
    density = float(water_density_kg_m3(temp_c))
    plain_m = float(head_m(psi * PSI_KPA, density))
    with_air_m = plain_m + air_weight_m(line_ft * FOOT_M, psi * PSI_KPA, temp_c, density, STANDARD_GRAVITY_M_S2)
    assert (plain_m / FOOT_M, with_air_m / FOOT_M) == pytest.approx(case.expected, abs=case.tolerance)
    given = {"line_length": "500", "readings": ["100"], "water_temp": "15 degC", "air_temp": "15 degC"}
    bare, counted = reduced("air line", given), reduced("air line", {**given, "weight_of_air": "yes"})
    assert below_point_ft(bare) == pytest.approx(500 - case.expected[0], abs=case.tolerance)
    assert below_point_ft(counted) == pytest.approx(500 - case.expected[1], abs=case.tolerance)


@cases(
    Case(
        "6.5 psi", ("6.5", "2.40"), (-14.9955, -17.3955), 0.002, f"{TM} GWPD 12 steps h-j: 2.307 ft/psi", "constructed"
    )
)
def test_a_gauge_on_a_flowing_well_gives_a_negative_depth(case: Case) -> None:
    psi, height = case.given
    context = ReadingContext(point=point(height), seen=seen(water=["runs over"]))
    found = reduced("flowing gauge", {"readings": [psi], "water_temp": AT_2_307, "shut_in": "2 h"}, context)
    assert (below_point_ft(found), below_land_ft(found)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(Case("tube 3.62 ft", ("3.62", "1.75"), -5.37, 0.001, f"{TM} GWPD 12 steps d-e", "constructed"))
def test_a_standpipe_gives_a_negative_depth(case: Case) -> None:
    level, height = case.given
    context = ReadingContext(point=point(height), seen=seen(water=["runs over"]))
    found = reduced("standpipe", {"readings": [level], "shut_in": "2 h"}, context)
    assert below_land_ft(found) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "20 psi expected",
        (20.0, (15.0, 30.0, 60.0, 100.0)),
        [30.0, 60.0],
        0.0,
        f"{TM} GWPD 12: middle third",
        "constructed",
    )
)
def test_a_gauge_is_chosen_to_read_in_its_middle_third(case: Case) -> None:
    expected_psi, ranges = case.given
    assert [full for full in ranges if middle_third(expected_psi, full)] == case.expected


@cases(
    Case("7.5 ft of head", 7.5, False, 0.0, f"{TM} GWPD 12 and {A4} A4-B-5: below 5 to 6 ft", "read"),
    Case("5.0 ft of head", 5.0, True, 0.0, f"{TM} GWPD 12 and {A4} A4-B-5: below 5 to 6 ft", "read"),
)
def test_a_standpipe_is_practical_below_6_ft(case: Case) -> None:
    assert standpipe_practical(case.given * FOOT_M) is case.expected


LOGGER = {"readings": ["142.35 kPa"], "type": "absolute", "barometer": "98.21 kPa", "water_temp": "11 degC",
          "hanging_depth": "20.00 m"}  # fmt: skip


@cases(
    Case("standard gravity", {}, 4.50279, 1e-4, "(p - p_air) / (rho g)", "constructed"),
    Case(
        "50 degrees north, 300 m up",
        {"latitude": "50", "land_surface": "300 m"},
        4.50136,
        1e-4,
        "the same with WGS 84 normal gravity",
        "constructed",
    ),
)
def test_an_absolute_logger_less_the_barometer_gives_its_submergence(case: Case) -> None:
    context = ReadingContext(position=position(**case.given))
    assert 20.0 - below_point_m(reduced("logger check", LOGGER, context)) == pytest.approx(
        case.expected, abs=case.tolerance
    )


@cases(
    Case(
        "halfway",
        (50.0, 0.0, 100.0, 0.0, 0.02),
        0.01,
        1e-9,
        "offset tape less logger, 1 January to 11 April, asked for 20 February",
        "constructed",
    ),
)
def test_drift_is_shared_linearly_between_two_checks(case: Case) -> None:
    correction = drift_correction(*case.given)
    assert correction == pytest.approx(case.expected, abs=case.tolerance)
    assert 12.50 + correction == pytest.approx(12.51, abs=1e-6)


@cases(
    Case("wide range", (250.0, 30.0), (0.03, "0.1 % of the range"), 1e-9, f"{TM} GWPD 16 p. 139", "constructed"),
    Case("neither", (60.0, 5.0), (0.01, "0.01 ft"), 1e-9, f"{TM} GWPD 16 p. 139", "constructed"),
    Case("deep", (900.0, 8.0), (0.09, "0.01 % of depth"), 1e-9, f"{TM} GWPD 16 p. 139", "constructed"),
)
def test_the_least_restrictive_of_three_rules_limits_logger_against_tape(case: Case) -> None:
    depth, swing = case.given
    limit, rule = check_limit_m(depth * FOOT_M, swing * FOOT_M)
    assert limit / FOOT_M == pytest.approx(case.expected[0], abs=case.tolerance)
    assert rule == case.expected[1]


@cases(Case("50 mbar at 10 degC", (5.0, 10.0), 0.51001, 1e-4, "p / (rho g)", "constructed"))
def test_a_change_of_the_barometer_is_a_change_of_level(case: Case) -> None:
    kpa, temp_c = case.given
    assert head_m(kpa, water_density_kg_m3(temp_c)) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("water 100 m down", 100.0, (1201.31, 0.12254), 1e-3, "rho_air g d with 1.225 kg/m3", "constructed"),
)
def test_trap_a_barometer_at_land_surface_misses_the_air_down_to_the_water(case: Case) -> None:
    pascal, level_m = case.expected
    column_kpa = float(air_column_kpa(case.given))
    assert column_kpa * 1000 == pytest.approx(pascal, abs=0.01)
    assert head_m(column_kpa, water_density_kg_m3(10.0)) == pytest.approx(level_m, abs=case.tolerance)
    given = {**LOGGER, "hanging_depth": "104.50 m", "taped_depth": "100.00 m", "water_temp": "10 degC"}
    context = ReadingContext(point=point("0", "level"))
    bias = below_point_m(
        reduced("logger check", {**given, "barometer_at_land_surface": "yes"}, context)
    ) - below_point_m(reduced("logger check", given, context))
    assert bias == pytest.approx(level_m, abs=case.tolerance)


@cases(
    Case(
        "50 m of sea water",
        (50.0, 1025.973, 999.1026),
        51.3447,
        1e-3,
        "ratio of densities, sea water S 35 at 15 degC",
        "constructed",
    ),
)
def test_trap_salt_water_taken_as_fresh_reads_too_high(case: Case) -> None:
    head, salt, fresh = case.given
    kpa = head * salt * STANDARD_GRAVITY_M_S2 / 1000
    assert submergence_m(kpa, fresh) == pytest.approx(case.expected, abs=case.tolerance)
    measured = {"readings": [f"{kpa:.4f} kPa"], "type": "vented", "water_density": str(salt), "hanging_depth": "60 m"}
    assert below_point_m(reduced("logger check", measured)) == pytest.approx(10.0, abs=1e-3)


@cases(
    *(
        Case(f"{temp:g} degC", temp, density, 1e-4, "Tanaka 2001, values as published; constants from memory", "read")
        for temp, density in ((0.0, 999.8428), (10.0, 999.7027), (15.0, 999.1026), (20.0, 998.2067), (30.0, 995.6488))
    )
)
def test_density_of_water_after_tanaka(case: Case) -> None:
    assert water_density_kg_m3(case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    *(
        Case(
            f"{temp:g} degC", temp, density, 1e-4, "Kell 1975, coefficients as quoted by Jones & Harris", "constructed"
        )
        for temp, density in ((4.0, 999.97199), (20.0, 998.20413), (25.0, 997.0449))
    )
)
def test_density_of_water_after_kell(case: Case) -> None:
    assert water_density_kell_kg_m3(case.given) == pytest.approx(case.expected, abs=case.tolerance)


def test_trap_one_copy_of_kell_prints_a_denominator_with_two_digits_swapped() -> None:
    """16.897850e-3 instead of 16.879850e-3 gives 999.9046 at 4 degC: below the density at 10 degC, so it cannot be."""
    right = water_density_kell_kg_m3(4.0)
    misprinted = right * (1 + 16.879850e-3 * 4) / (1 + 16.897850e-3 * 4)
    assert misprinted == pytest.approx(999.9046, abs=1e-4)
    assert right - misprinted == pytest.approx(0.067, abs=1e-3)
    temps = np.linspace(0.0, 40.0, 81)
    assert np.max(np.abs(water_density_kell_kg_m3(temps) - water_density_kg_m3(temps))) < 0.006


@cases(
    Case("equator", (0.0, 0.0), 9.7803253359, 2e-9, "WGS 84 normal gravity", "read"),
    Case("pole", (90.0, 0.0), 9.8321849378, 2e-9, "WGS 84 normal gravity", "read"),
    Case("45 degrees", (45.0, 0.0), 9.80619777, 1e-8, "WGS 84 normal gravity, computed", "constructed"),
    Case("45 degrees, 1000 m up", (45.0, 1000.0), 9.80311294, 1e-8, "WGS 84, height terms from memory", "memory"),
    Case("50 degrees, 300 m up", (50.0, 300.0), 9.809777, 1e-6, "WGS 84 normal gravity, computed", "constructed"),
)
def test_gravity_by_latitude_and_height(case: Case) -> None:
    assert normal_gravity_m_s2(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    *(
        Case(f"{temp:g} degC", temp, feet, tolerance, "6894.757293168 Pa over rho g", "constructed")
        for temp, feet, tolerance in (
            (4.0, 2.30672, 1e-5),
            (10.0, 2.3073, 1e-4),
            (15.0, 2.3087, 1e-4),
            (15.5556, 2.30893, 1e-5),
            (20.0, 2.3108, 1e-5),
            (25.0, 2.3135, 1e-4),
            (30.0, 2.3167, 1e-4),
        )
    )
)
def test_feet_of_water_per_psi_by_temperature(case: Case) -> None:
    assert head_m(PSI_KPA, water_density_kg_m3(case.given)) / FOOT_M == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("2.307", 2.307, 7.99, 0.02, "temperature at which the handbooks' factor is exact", "constructed"),
    Case("2.31", 2.31, 18.24, 0.02, "temperature at which the handbooks' factor is exact", "constructed"),
)
def test_trap_the_handbook_factors_are_exact_at_one_temperature_each(case: Case) -> None:
    exact_at = brentq(lambda t: head_m(PSI_KPA, water_density_kg_m3(t)) / FOOT_M - case.given, 5.0, 35.0)
    assert exact_at == pytest.approx(case.expected, abs=case.tolerance)
