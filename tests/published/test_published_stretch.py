"""Worked examples for heat, pull, own weight and sag of a tape, for holes that lean, and for feet and datums."""

from __future__ import annotations

import math

import pytest

from tapedown.engine.context import ReadingContext
from tapedown.engine.physics.hole import (
    Direction,
    arc_m,
    dogleg_rad,
    leaning_vertical_m,
    ratio_factor,
    surveyed_vertical_m,
)
from tapedown.engine.physics.stretch import HangingLoad, elastic_m, hanging_load, mean_temp_c, sag_m, thermal_m
from tapedown.engine.tape.calibration import true_length_m
from tapedown.values.units import POUND_FORCE_N, POUND_KG, to_si
from tests.engine.at_the_well import FOOT_M, below_point_ft, construction, elevation_m, names, point, position, reduced
from tests.published.case import TM, Case, cases

TAPING = "worked taping example on a public teaching page (100.010 ft tape, 529.81 ft, 95 degF, 20 lb against 68, 12)"
STEEL_PA = to_si(29e6, "psi", "modulus")
SECTION_M2 = to_si(0.006, "in2", "area")


def end_pull(newton: float) -> HangingLoad:
    """A pull at the end of a weightless tape."""
    return HangingLoad(newton, newton, 0.0, 0.0)


@cases(Case("100.010 ft tape", (529.81, 100.0, 100.010), 0.053, 5e-4, TAPING, "read"))
def test_a_tape_longer_than_marked_adds_its_share(case: Case) -> None:
    measured, marked, true = case.given
    assert true_length_m(measured, marked, true) - measured == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("95 degF", (529.81, 6.45e-6, 95.0, 68.0), 0.092, 5e-4, TAPING, "read"),
    Case("150 m at 10 degC", (150.0, 1.16e-5, 10.0, 20.0), -0.0174, 1e-6, "alpha dT L", "constructed"),
)
def test_a_warm_tape_adds_and_a_cold_one_takes_off(case: Case) -> None:
    assert thermal_m(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "55 degF and 0.0137 degF/ft",
        (2000.0, 6.45e-6, 55.0, 0.0137, 68.0),
        (68.7, 0.00903),
        1e-4,
        "mean of a linear profile",
        "constructed",
    ),
)
def test_a_temperature_that_changes_with_depth_counts_by_its_mean(case: Case) -> None:
    length, alpha, surface, gradient, standard = case.given
    mean = mean_temp_c(surface, gradient, length)
    assert mean == pytest.approx(case.expected[0], abs=1e-9)
    assert thermal_m(length, alpha, mean, standard) == pytest.approx(case.expected[1], abs=case.tolerance)


@cases(
    Case(
        "20 lb against 12",
        (529.81 * FOOT_M, 20 * POUND_FORCE_N, 12 * POUND_FORCE_N, to_si(0.0075, "in2", "area") * STEEL_PA),
        0.0195 * FOOT_M,
        0.0002 * FOOT_M,
        TAPING,
        "read",
    ),
    Case(
        "40 kgf against 30",
        (30.0, 40.0, 30.0, 0.15 * 2.2e6),
        0.000909,
        2e-6,
        "worked taping example, page 66828",
        "read",
    ),
    Case(
        "8 kgf against 5.5", (458.65, 8.0, 5.5, 0.04 * 2.1e6), 0.014, 5e-4, "worked taping example, page 232885", "read"
    ),
)
def test_a_pull_beyond_the_certificates_lengthens_the_tape(case: Case) -> None:
    length, pull, standard_pull, stiffness = case.given
    found = elastic_m(length, end_pull(pull), standard_pull, stiffness)
    assert found == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "five spans",
        {"marked": 100.0, "true": 99.995, "measured": 678.46, "spans": (50, 50, 100, 100, 78.46)},
        (-0.0339, 0.0529, 0.0528, -0.0693, 678.4625),
        6e-4,
        "inputs of a self-study problem; results worked out by us",
        "constructed",
    ),
)
def test_a_line_taped_above_ground_with_every_correction(case: Case) -> None:
    given, measured = case.given, case.given["measured"]
    pull, standard_pull, weight_per_ft = 25.0, 18.0, 0.0195
    terms = (
        true_length_m(measured, given["marked"], given["true"]) - measured,
        thermal_m(measured, 6.5e-6, 80.0, 68.0),
        elastic_m(measured, end_pull(pull), standard_pull, 0.003 * 30e6),
        -sum(sag_m(span, weight_per_ft, pull) for span in given["spans"]),
    )
    assert terms == pytest.approx(case.expected[:4], abs=case.tolerance)
    assert measured + sum(terms) == pytest.approx(case.expected[4], abs=case.tolerance)


def hung_ft(length_ft: float, end_lb: float, tape_lb_per_100ft: float, pull_lb: float) -> float:
    load = hanging_load(end_lb * POUND_KG, to_si(tape_lb_per_100ft, "lb/100 ft", "mass per length"))
    dry = load._replace(end_wet_n=load.end_n, tape_wet_n_m=load.tape_n_m)
    return float(elastic_m(length_ft * FOOT_M, dry, pull_lb * POUND_FORCE_N, SECTION_M2 * STEEL_PA)) / FOOT_M


OWN_LB_PER_100FT = 490 * 0.006 / 144 * 100
"""Steel of 490 lb/ft3 and 0.006 in2."""


@cases(
    *(
        Case(f"{length:g} ft", length, stretch, 1e-4, "gamma L^2 / (2 E)", "constructed")
        for length, stretch in ((100, 0.00059), (200, 0.00235), (500, 0.01467), (1000, 0.05867), (2000, 0.23467))
    )
)
def test_a_hanging_tape_stretches_under_its_own_weight_whatever_its_section(case: Case) -> None:
    assert hung_ft(case.given, 0.0, OWN_LB_PER_100FT, 0.0) == pytest.approx(case.expected, abs=case.tolerance)
    load = hanging_load(0.0, to_si(2 * OWN_LB_PER_100FT, "lb/100 ft", "mass per length"))
    twice_the_section = elastic_m(case.given * FOOT_M, load, 0.0, 2 * SECTION_M2 * STEEL_PA) / FOOT_M
    assert twice_the_section == pytest.approx(case.expected, abs=case.tolerance)


@cases(Case("2 lb on 1000 ft", (1000.0, 2.0), 0.01149, 1e-4, "W L / (A E)", "constructed"))
def test_a_hanging_weight_stretches_the_tape(case: Case) -> None:
    length, weight = case.given
    assert hung_ft(length, weight, 0.0, 0.0) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    *(
        Case(f"{length} ft", length, terms, 1e-4, "E 29e6 psi, 0.006 in2, 2 lb weight, 10 lb pull", "constructed")
        for length, terms in (
            (100, (0.0006, 0.0011, -0.0057, -0.0040)),
            (200, (0.0023, 0.0023, -0.0115, -0.0068)),
            (500, (0.0147, 0.0057, -0.0287, -0.0083)),
            (1000, (0.0587, 0.0115, -0.0575, 0.0127)),
            (2000, (0.2347, 0.0230, -0.1149, 0.1427)),
        )
    )
)
def test_trap_own_weight_and_the_certificates_pull_nearly_cancel(case: Case) -> None:
    """Correcting one without the other makes a reading worse, up to about 1000 ft."""
    found = (
        hung_ft(case.given, 0.0, OWN_LB_PER_100FT, 0.0),
        hung_ft(case.given, 2.0, 0.0, 0.0),
        hung_ft(case.given, 0.0, 0.0, 10.0),
        hung_ft(case.given, 2.0, OWN_LB_PER_100FT, 10.0),
    )
    assert found == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case(
        "200 ft of 500 in water",
        (500.0, 200.0),
        0.018475,
        2e-5,
        "tension by effective weights, in pieces",
        "constructed",
    )
)
def test_a_tape_partly_in_water_stretches_less(case: Case) -> None:
    length, wet = case.given
    load = hanging_load(2 * POUND_KG, to_si(2.04, "lb/100 ft", "mass per length"), water_density_kg_m3=1000.0)
    found = elastic_m(length * FOOT_M, load, 0.0, SECTION_M2 * STEEL_PA, wet_m=wet * FOOT_M)
    assert found / FOOT_M == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("1 ft in 100", (100.0, 1.0), 100.005, 1e-4, "USGS Pacific Islands, possible errors in water levels", "read")
)
def test_a_tape_one_foot_out_of_plumb_in_100_ft_reads_0_005_too_much(case: Case) -> None:
    vertical, aside = case.given
    lean = math.degrees(math.atan2(aside, vertical))
    assert leaning_vertical_m(case.expected, lean) == pytest.approx(vertical, abs=case.tolerance)


@cases(
    Case("200 ft at 5 degrees", (200.0, 5.0), 199.2389, 1e-3, "L cos(theta)", "constructed"),
    *(
        Case(f"1000 ft at {lean:g} degrees", (1000.0, lean), 1000 - short, tolerance, "L cos(theta)", "constructed")
        for lean, short, tolerance in (
            (0.5, 0.04, 0.005),
            (1, 0.15, 0.005),
            (2, 0.61, 0.005),
            (3, 1.37, 0.005),
            (5, 3.8, 0.05),
            (10, 15.2, 0.05),
        )
    ),
)
def test_a_leaning_hole_is_less_deep_than_the_tape_is_long(case: Case) -> None:
    path, lean = case.given
    assert leaning_vertical_m(path, lean) == pytest.approx(case.expected, abs=case.tolerance)
    context = ReadingContext(construction=construction(lean=str(lean)))
    assert below_point_ft(reduced("electric tape", {"readings": [f"{path:.2f}"]}, context)) == pytest.approx(
        case.expected, abs=case.tolerance
    )


CURVE = (Direction(3500.0, 15.0, 20.0), Direction(3600.0, 25.0, 45.0))


@cases(
    Case("3500/15/20 to 3600/25/45", CURVE, (27.22, 19.45, 94.01), 0.005, "public minimum-curvature example", "read"),
)
def test_minimum_curvature_gives_the_published_displacements(case: Case) -> None:
    assert dogleg_rad(*case.given) == pytest.approx(0.22605, abs=1e-5)
    assert arc_m(*case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(
    Case("the example's own angle", 0.22604895, 1.00428, 1e-5, "(2 / beta) tan(beta / 2)", "constructed"),
    Case("straight", 0.0, 1.0, 1e-12, "limit of the same", "constructed"),
)
def test_ratio_factor(case: Case) -> None:
    assert ratio_factor(case.given) == pytest.approx(case.expected, abs=case.tolerance)


def test_trap_the_page_prints_1_00408_but_its_own_results_need_1_00428() -> None:
    down = 50 * (math.cos(math.radians(15)) + math.cos(math.radians(25)))
    assert ratio_factor(dogleg_rad(*CURVE)) != pytest.approx(1.00408, abs=1e-4)
    assert down * ratio_factor(dogleg_rad(*CURVE)) == pytest.approx(94.01, abs=0.005)
    assert down * 1.00408 != pytest.approx(94.01, abs=0.005)


@cases(
    Case("100 straight down", (Direction(0, 0, 0), Direction(100, 0, 0)), 100.0, 1e-9, "degenerate case", "constructed")
)
def test_a_straight_survey_leaves_the_depth_alone(case: Case) -> None:
    assert surveyed_vertical_m(100.0, case.given) == pytest.approx(case.expected, abs=case.tolerance)


@cases(Case("1000 ft", 1000.0, (304.80061, 0.002), 1e-6, "1200/3937 m against 0.3048 m", "memory"))
def test_trap_the_us_survey_foot_is_two_parts_in_a_million_longer(case: Case) -> None:
    metres = to_si(case.given, "US survey ft", "length")
    assert metres == pytest.approx(case.expected[0], abs=1e-5)
    assert metres / FOOT_M - case.given == pytest.approx(case.expected[1], abs=case.tolerance)


@cases(
    Case(
        "247.47 m",
        ("247.47 m", "0.1288 m"),
        247.599,
        5e-4,
        "EPSG example of the VERTCON method, inputs read, offset worked out from its nodes; printed result cut off",
        "constructed",
    ),
)
def test_an_offset_somebody_vouches_for_carries_an_elevation_to_the_other_datum(case: Case) -> None:
    land, offset = case.given
    shift = {"to": "NAVD88", "offset": offset, "u": "0.02 m", "source": "EPSG example"}
    where = position(land_surface=land, vertical_datum="NGVD29", datum_shift=shift)
    context = ReadingContext(point=point("0", "level"), position=where, vertical_datum="NAVD88")
    found = reduced("electric tape", {"readings": ["0.00 m", "0.00 m"]}, context)
    assert elevation_m(found) == pytest.approx(case.expected, abs=case.tolerance)
    assert found.datum == "NAVD88"
    assert "datum-not-shifted" not in names(found.findings)


@cases(
    Case("1 degree", "1.0", 0.0152, 1e-4, f"{TM} GWPD 3 p. 20-22: the path, not the rise", "constructed"),
    Case("10 degrees", "10.0", 1.5192, 1e-4, f"{TM} GWPD 3 p. 20-22: the path, not the rise", "constructed"),
)
def test_a_stick_up_taped_along_a_leaning_casing_counts_as_path(case: Case) -> None:
    """100 ft of tape less 0 ft of stick-up: a leaning stick-up shortens as the hole does."""
    leaning = construction(lean=case.given)
    path = reduced(
        "electric tape",
        {"readings": ["102.00"]},
        ReadingContext(point=point("2.00", along_casing="yes"), construction=leaning),
    )
    below = path.main
    assert below is not None
    assert 100.0 - below.value_m / FOOT_M == pytest.approx(case.expected, abs=case.tolerance)
