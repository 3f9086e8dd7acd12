from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapedown.engine.methods.air_line import line_constant_m
from tapedown.engine.methods.chalked_tape import hold_minus_cut_m
from tapedown.engine.methods.electric_tape import splice_m
from tapedown.engine.methods.logger_check import air_column_kpa, drift_correction, submergence_m
from tapedown.engine.methods.oil_on_water import depression_m
from tapedown.engine.methods.total_depth import sounding_steps
from tapedown.engine.physics.stretch import hanging_load
from tapedown.engine.physics.water import (
    air_column_factor,
    density_slope_kg_m3_per_c,
    head_m,
    normal_gravity_m_s2,
    water_density_kell_kg_m3,
    water_density_kg_m3,
)
from tapedown.values.results import Part

ONE = np.array([0.5, 12.0, 31.0])
OTHER = np.array([101.0, 95.5, 260.0])

FORMULAS: dict[str, Callable[..., Any]] = {
    "water_density_kg_m3": lambda a, _: water_density_kg_m3(a),
    "water_density_kell_kg_m3": lambda a, _: water_density_kell_kg_m3(a),
    "head_m": lambda a, b: head_m(b, water_density_kg_m3(a)),
    "air_column_factor": lambda a, b: air_column_factor(b, a),
    "hold_minus_cut_m": lambda a, b: hold_minus_cut_m(b, a),
    "splice_m": lambda a, b: splice_m(b, a),
    "line_constant_m": line_constant_m,
    "submergence_m": lambda a, b: submergence_m(b, water_density_kg_m3(a), barometer_kpa=a),
    "air_column_kpa": lambda a, _: air_column_kpa(a),
    "drift_correction": lambda a, b: drift_correction(a, 0.0, 40.0, 0.01, 0.02) + b * 0,
    "depression_m": lambda a, b: depression_m(a, b),
    "hanging_load": lambda a, b: sum(hanging_load(a, b)),
    "sounding_steps": lambda a, b: sum(
        step.amount_m
        for step in sounding_steps(
            b, a, resolution_m=0.01, u_interval_m=0.001, u_feel_m=0.006, repeat=Part("", "", 0.002)
        )
    ),
}


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS)
def test_a_column_gets_what_each_reading_would_get_alone(formula: Callable[..., Any]) -> None:
    together = formula(ONE, OTHER)
    assert together.shape == ONE.shape
    assert list(together) == pytest.approx([formula(float(a), float(b)) for a, b in zip(ONE, OTHER)], rel=1e-14)


@given(st.floats(0.0, 40.0))
def test_two_density_formulas_agree_within_six_millionths(temp_c: float) -> None:
    assert water_density_kg_m3(temp_c) == pytest.approx(water_density_kell_kg_m3(temp_c), rel=6e-6)


@given(st.floats(5.0, 39.9))
def test_warm_water_is_lighter(temp_c: float) -> None:
    assert density_slope_kg_m3_per_c(temp_c) < 0
    assert density_slope_kg_m3_per_c(temp_c) == pytest.approx(
        float(np.gradient(water_density_kg_m3(np.array([temp_c - 1e-3, temp_c, temp_c + 1e-3])), 1e-3)[1]), rel=1e-3
    )


@given(st.floats(-90.0, 90.0), st.floats(0.0, 4000.0))
def test_gravity_is_the_same_north_and_south_and_less_higher_up(latitude: float, height: float) -> None:
    here = normal_gravity_m_s2(latitude, height)
    assert here == pytest.approx(normal_gravity_m_s2(-latitude, height), rel=1e-14)
    assert normal_gravity_m_s2(latitude, height + 100.0) == pytest.approx(here - 3.086e-4, abs=2e-6)


def test_an_air_column_follows_the_barometric_formula() -> None:
    heights = np.linspace(0.0, 300.0, 30001)
    pressure = [101.325]
    for _ in heights[1:]:
        pressure.append(pressure[-1] * (1 + 9.80665 * 0.01 / (287.05 * 288.15)))
    assert air_column_factor(300.0, 15.0) == pytest.approx(pressure[-1] / 101.325, rel=1e-6)


@given(st.floats(0.0, 1000.0), st.floats(990.0, 1030.0))
def test_head_and_pressure_are_the_inverse_of_each_other(head: float, density: float) -> None:
    assert head_m(head * density * 9.80665 / 1000, density) == pytest.approx(head, abs=1e-9)


@pytest.mark.parametrize("temp_c", [2.0, 12.0, 25.0])
def test_the_slope_of_density_is_that_of_the_formula_at_that_temperature(temp_c: float) -> None:
    """By a five-point stencil, whose error is of the fourth order."""
    h = 0.5
    two, one, back, far = (float(water_density_kg_m3(temp_c + k * h)) for k in (2, 1, -1, -2))
    assert density_slope_kg_m3_per_c(temp_c) == pytest.approx((-two + 8 * one - 8 * back + far) / (12 * h), abs=2e-6)
